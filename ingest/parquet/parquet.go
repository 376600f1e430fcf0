// Package parquet reads the flat columns of Parquet files: those that are neither nested
// nor repeated. The input is the bytes of a file. The output is the pages of a column, one
// after the other, unpacked and decoded.
//
// The package trusts no content. It holds each count and size against the bytes there, the
// rows of the file or the size a page states, before it makes room for anything; it reads
// no more than the limit allows, and reports each fault with its place. The encodings of
// single pages are decoded by github.com/parquet-go/parquet-go, which believes the counts
// in a page, so they are walked first (walk.go). Its own reading of files is not used: it
// believes the counts of a footer, and some of its codecs make room without end.
//
// It does not read encrypted files, columns in other files, nor the deprecated codecs LZ4
// and LZO, and it writes nothing.
//
// Source of the layouts: the Apache Parquet format, README.md, Encodings.md,
// Compression.md and parquet.thrift.
package parquet

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/parquet-go/parquet-go/deprecated"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// maxPageBytes bounds one page after unpacking: writers make pages of about a megabyte.
const maxPageBytes = 128 << 20

// maxDepth bounds how deep the columns of a file may nest: exports are flat.
const maxDepth = 64

// Column is a flat column.
type Column struct {
	Name     string
	Kind     format.Type
	Logical  format.LogicalTypeValue // nil for none
	optional bool
	place    int // among the chunks of a row group
}

// Type is the type for people.
func (c *Column) Type() string {
	if c.Logical != nil {
		return fmt.Sprint(c.Logical)
	}
	return c.Kind.String()
}

// File is a Parquet file in memory.
type File struct {
	Columns []Column

	content []byte
	about   format.FileMetaData
	limit   int64
	sizes   map[int]int64 // bytes unpacked so far, by the place of a column
	total   int64         // of all columns
	page    decoder
}

// ErrTooLarge says that the pages of the file unpack to more than the limit.
var ErrTooLarge = errors.New("its pages unpack to more than the limit")

// Open reads the footer. The content must not change while the file is in use; the pages
// of all columns together may unpack to limit bytes.
func Open(content []byte, limit int64) (*File, error) {
	footer, err := footerOf(content)
	if err != nil {
		return nil, err
	}
	if _, err := checkThrift(footer); err != nil {
		return nil, fmt.Errorf("its footer is damaged: %w", err)
	}
	f := &File{content: content, limit: limit, sizes: map[int]int64{}}
	reader := (&thrift.CompactProtocol{}).NewReaderFromBytes(footer)
	if err := thrift.NewDecoder(reader).Decode(&f.about); err != nil {
		return nil, fmt.Errorf("its footer is damaged: %w", err)
	}
	if f.about.EncryptionAlgorithm.Value != nil {
		return nil, errors.New("it is encrypted")
	}
	leaves, err := f.listColumns()
	if err != nil {
		return nil, err
	}
	return f, f.checkGroups(leaves)
}

// footerOf holds the length of the footer, in front of the last four bytes, against the
// size of the file.
func footerOf(content []byte) ([]byte, error) {
	const head, tail = 4, 4 + 4 // PAR1 at both ends, and the length
	if len(content) < head+tail || !bytes.HasPrefix(content, []byte("PAR1")) || !bytes.HasSuffix(content, []byte("PAR1")) {
		return nil, errors.New("its end is missing")
	}
	end := len(content) - tail
	n := binary.LittleEndian.Uint32(content[end:])
	if int64(n) > int64(end-head) {
		return nil, fmt.Errorf("its footer claims %d bytes", n)
	}
	return content[end-int(n) : end], nil
}

// listColumns finds the flat columns in the schema, a tree written depth first, and counts
// all that have values.
func (f *File) listColumns() (leaves int, err error) {
	elements := f.about.Schema
	if len(elements) == 0 {
		return 0, errors.New("its footer is damaged: it has no schema")
	}
	open := []int{int(elements[0].NumChildren.V)} // children still to come, by depth
	for i := 1; i < len(elements); i++ {
		e := &elements[i]
		for len(open) > 0 && open[len(open)-1] == 0 {
			open = open[:len(open)-1]
		}
		if len(open) == 0 {
			break
		}
		open[len(open)-1]--
		if e.Type.Valid {
			if repetition := e.RepetitionType.V; len(open) == 1 && repetition != format.Repeated {
				f.Columns = append(f.Columns, Column{Name: e.Name, Kind: e.Type.V, Logical: logicalOf(e), optional: repetition == format.Optional, place: leaves})
			}
			leaves++
			continue
		}
		if children := int(e.NumChildren.V); children > 0 {
			open = append(open, children)
		}
		if len(open) > maxDepth {
			return 0, fmt.Errorf("its columns nest deeper than %d", maxDepth)
		}
	}
	for _, n := range open {
		if n != 0 {
			return 0, fmt.Errorf("its footer is damaged: its schema of %d entries lacks some", len(elements))
		}
	}
	return leaves, nil
}

// checkGroups wants a chunk of every column in each row group, and the rows to add up.
func (f *File) checkGroups(leaves int) error {
	rows := int64(0)
	for i := range f.about.RowGroups {
		group := &f.about.RowGroups[i]
		if len(group.Columns) != leaves || group.NumRows < 0 || group.NumRows > f.about.NumRows-rows {
			return fmt.Errorf("its footer is damaged: row group %d has %d columns of %d, and %d rows of %d", i+1, len(group.Columns), leaves, group.NumRows, f.about.NumRows)
		}
		rows += group.NumRows
	}
	if rows != f.about.NumRows {
		return fmt.Errorf("its footer is damaged: it claims %d rows, its row groups have %d", f.about.NumRows, rows)
	}
	return nil
}

// Rows is how many rows the file says it has, at least 0.
func (f *File) Rows() int64 { return f.about.NumRows }

// Groups is how many row groups the file has.
func (f *File) Groups() int { return len(f.about.RowGroups) }

// GroupRows is how many rows a row group says it has.
func (f *File) GroupRows(group int) int64 { return f.about.RowGroups[group].NumRows }

// Metadata returns what the file says of itself under a key, "" for nothing.
func (f *File) Metadata(key string) string {
	for _, entry := range f.about.KeyValueMetadata {
		if entry.Key == key {
			return entry.Value
		}
	}
	return ""
}

// logicalOf is the logical type of a column. Older writers state it in another field.
func logicalOf(e *format.SchemaElement) format.LogicalTypeValue {
	if e.LogicalType.Value != nil || !e.ConvertedType.Valid {
		return e.LogicalType.Value
	}
	milliseconds, microseconds := format.TimeUnit{Value: &format.MilliSeconds{}}, format.TimeUnit{Value: &format.MicroSeconds{}}
	switch e.ConvertedType.V {
	case deprecated.UTF8, deprecated.Enum, deprecated.Json:
		return &format.StringType{}
	case deprecated.Decimal:
		return &format.DecimalType{Scale: e.Scale.V, Precision: cmp.Or(e.Precision.V, 1)}
	case deprecated.Date:
		return &format.DateType{}
	case deprecated.TimeMillis:
		return &format.TimeType{IsAdjustedToUTC: true, Unit: milliseconds}
	case deprecated.TimeMicros:
		return &format.TimeType{IsAdjustedToUTC: true, Unit: microseconds}
	case deprecated.TimestampMillis:
		return &format.TimestampType{IsAdjustedToUTC: true, Unit: milliseconds}
	case deprecated.TimestampMicros:
		return &format.TimestampType{IsAdjustedToUTC: true, Unit: microseconds}
	case deprecated.Uint8, deprecated.Uint16, deprecated.Uint32:
		return &format.IntType{BitWidth: 32}
	case deprecated.Uint64:
		return &format.IntType{BitWidth: 64}
	}
	return nil
}
