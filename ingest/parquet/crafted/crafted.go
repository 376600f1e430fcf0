// Package crafted makes Parquet files for tests: small ones in any codec, encoding and version
// of pages, without checksums, and with any part changed on the way. Values and pages are
// encoded by github.com/parquet-go/parquet-go. The input is columns, the output the bytes of
// a file; nothing is read.
package crafted

import (
	"encoding/binary"
	"fmt"

	library "github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding/rle"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// Column is a column. One of the lists of values has a value for each row, or if the column is
// optional for each row that is present.
type Column struct {
	Name     string
	Encoding format.Encoding // with RLEDictionary, the values are those of a dictionary
	Places   []int32         // of the rows in the dictionary
	Optional bool
	Present  []bool // of the rows; nil for all

	Doubles []float64
	Floats  []float32
	Int32s  []int32
	Int64s  []int64
	Bools   []bool
	Texts   []string
}

// File is a file to make. The functions change a part of it, and may be nil.
type File struct {
	Codec   format.CompressionCodec
	Second  bool // version of the pages
	Rows    int
	PerPage int // rows; 0 for all
	Columns []Column

	Levels func([]byte) []byte // encoded, before they are packed
	Values func([]byte) []byte // encoded, before they are packed; of a dictionary, too
	Packed func([]byte) []byte
	Header func(*format.PageHeader)
	Footer func(*format.FileMetaData)
	Raw    func([]byte) []byte // the footer's bytes
}

// Bytes makes the file.
func (f *File) Bytes() ([]byte, error) {
	out := []byte("PAR1")
	about := format.FileMetaData{Version: 1, NumRows: int64(f.Rows), CreatedBy: "crafted",
		Schema: []format.SchemaElement{{Name: "recording", NumChildren: thrift.New(int32(len(f.Columns)))}}}
	group := format.RowGroup{NumRows: int64(f.Rows)}
	for i := range f.Columns {
		c := &f.Columns[i]
		about.Schema = append(about.Schema, c.element())
		start := int64(len(out))
		pages, dictionary, err := f.pages(c)
		if err != nil {
			return nil, fmt.Errorf("column %q: %w", c.Name, err)
		}
		out = append(out, pages...)
		chunk := format.ColumnMetaData{Type: c.kind(), Encoding: []format.Encoding{c.Encoding, format.RLE}, PathInSchema: []string{c.Name}, Codec: f.Codec,
			NumValues: int64(f.Rows), TotalUncompressedSize: int64(len(pages)), TotalCompressedSize: int64(len(pages)), DataPageOffset: start + int64(dictionary)}
		if dictionary > 0 {
			chunk.DictionaryPageOffset = start
		}
		group.Columns = append(group.Columns, format.ColumnChunk{FileOffset: start, MetaData: chunk})
		group.TotalByteSize += int64(len(pages))
	}
	about.RowGroups = []format.RowGroup{group}
	if f.Footer != nil {
		f.Footer(&about)
	}
	footer, err := thrift.Marshal(&thrift.CompactProtocol{}, &about)
	if err != nil {
		return nil, err
	}
	footer = changed(f.Raw, footer)
	out = append(out, footer...)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(footer)))
	return append(out, "PAR1"...), nil
}

func changed(change func([]byte) []byte, data []byte) []byte {
	if change == nil {
		return data
	}
	return change(data)
}

func (c *Column) kind() format.Type {
	switch {
	case c.Doubles != nil:
		return format.Double
	case c.Floats != nil:
		return format.Float
	case c.Int32s != nil:
		return format.Int32
	case c.Int64s != nil:
		return format.Int64
	case c.Bools != nil:
		return format.Boolean
	}
	return format.ByteArray
}

func (c *Column) element() format.SchemaElement {
	e := format.SchemaElement{Name: c.Name, Type: thrift.New(c.kind()), RepetitionType: thrift.New(format.Required)}
	if c.Optional {
		e.RepetitionType = thrift.New(format.Optional)
	}
	if c.kind() == format.ByteArray {
		e.LogicalType = format.LogicalType{Value: &format.StringType{}}
	}
	return e
}

// pages makes the pages of a column; the first of them is a dictionary of so many bytes.
func (f *File) pages(c *Column) (out []byte, dictionary int, err error) {
	indexed := c.Encoding == format.RLEDictionary
	if indexed {
		values, err := c.encode(format.Plain, 0, c.count())
		if err != nil {
			return nil, 0, err
		}
		out, err = f.page(format.PageHeader{Type: format.DictionaryPage,
			DictionaryPageHeader: thrift.New(format.DictionaryPageHeader{NumValues: int32(c.count()), Encoding: format.Plain})}, nil, changed(f.Values, values))
		if err != nil {
			return nil, 0, err
		}
		dictionary = len(out)
	}
	per := f.PerPage
	if per == 0 {
		per = max(f.Rows, 1)
	}
	next := 0 // of the values
	for from := 0; from < f.Rows; from += per {
		rows := min(per, f.Rows-from)
		levels, present := make([]uint8, rows), 0
		for i := range levels {
			if c.Present == nil || c.Present[from+i] {
				levels[i] = 1
				present++
			}
		}
		var values []byte
		if indexed {
			values, err = (&rle.DictionaryEncoding{}).EncodeInt32(nil, c.Places[next:next+present])
		} else {
			values, err = c.encode(c.Encoding, next, next+present)
		}
		if err != nil {
			return nil, 0, err
		}
		next += present
		var encoded []byte
		if c.Optional {
			if encoded, err = (&rle.Encoding{BitWidth: 1}).EncodeLevels(nil, levels); err != nil {
				return nil, 0, err
			}
			encoded = changed(f.Levels, encoded)
		}
		page, err := f.dataPage(c, rows, present, encoded, changed(f.Values, values))
		if err != nil {
			return nil, 0, err
		}
		out = append(out, page...)
	}
	return out, dictionary, nil
}

func (f *File) dataPage(c *Column, rows, present int, levels, values []byte) ([]byte, error) {
	if f.Second {
		return f.page(format.PageHeader{Type: format.DataPageV2, DataPageHeaderV2: thrift.New(format.DataPageHeaderV2{
			NumValues: int32(rows), NumNulls: int32(rows - present), NumRows: int32(rows), Encoding: c.Encoding, DefinitionLevelsByteLength: int32(len(levels))})}, levels, values)
	}
	if c.Optional {
		values = append(append(binary.LittleEndian.AppendUint32(nil, uint32(len(levels))), levels...), values...)
	}
	return f.page(format.PageHeader{Type: format.DataPage, DataPageHeader: thrift.New(format.DataPageHeader{
		NumValues: int32(rows), Encoding: c.Encoding, DefinitionLevelEncoding: format.RLE, RepetitionLevelEncoding: format.RLE})}, nil, values)
}

// page packs a page and puts its header in front; what is before is not packed.
func (f *File) page(header format.PageHeader, before, data []byte) ([]byte, error) {
	packed := data
	if f.Codec != format.Uncompressed {
		var err error
		if packed, err = library.LookupCompressionCodec(f.Codec).Encode(nil, data); err != nil {
			return nil, err
		}
	}
	packed = changed(f.Packed, packed)
	header.UncompressedPageSize, header.CompressedPageSize = int32(len(before)+len(data)), int32(len(before)+len(packed))
	if f.Header != nil {
		f.Header(&header)
	}
	out, err := thrift.Marshal(&thrift.CompactProtocol{}, &header)
	return append(append(out, before...), packed...), err
}

// count is how many values there are.
func (c *Column) count() int {
	return max(len(c.Doubles), len(c.Floats), len(c.Int32s), len(c.Int64s), len(c.Bools), len(c.Texts))
}

// encode encodes values from one up to another.
func (c *Column) encode(by format.Encoding, from, to int) ([]byte, error) {
	e := library.LookupEncoding(by)
	switch c.kind() {
	case format.Double:
		return e.EncodeDouble(nil, c.Doubles[from:to])
	case format.Float:
		return e.EncodeFloat(nil, c.Floats[from:to])
	case format.Int32:
		return e.EncodeInt32(nil, c.Int32s[from:to])
	case format.Int64:
		return e.EncodeInt64(nil, c.Int64s[from:to])
	case format.Boolean:
		bits := make([]byte, (to-from+7)/8)
		for i, b := range c.Bools[from:to] {
			if b {
				bits[i/8] |= 1 << (i % 8)
			}
		}
		return e.EncodeBoolean(nil, bits)
	}
	var text []byte
	offsets := []uint32{0}
	for _, t := range c.Texts[from:to] {
		text = append(text, t...)
		offsets = append(offsets, uint32(len(text)))
	}
	return e.EncodeByteArray(nil, text, offsets)
}
