package ingest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path/filepath"
	"time"

	"downlock/ingest/matlab"
	"downlock/schemas"
)

// Raw is one export as it is written, before any profile: named columns of
// cells, and what by their content must be the time of a row. A survey walks
// it cell by cell; nothing is mapped or converted.
type Raw struct {
	Name    string // base name of the file
	SHA256  string // hex, of the file's bytes as they are on disk
	Bytes   int64  // size on disk
	Format  string // for people: "wide CSV, gzip"
	Time    RawTime
	Columns []RawColumn // those that are no time; of a long export its parameters, complete after Walk
	Notes   []string    // complete after Walk
	Epoch   time.Time   // UTC at time 0, zero where the export has no date; set by Walk

	compression string
	walk        func(visit RawVisitor) error
}

// RawColumn is one column: its name and the unit the export states, "" for none.
type RawColumn struct{ Name, Unit string }

// RawTime names the columns that hold the time of a row, as a profile does, and
// says what they were found by.
type RawTime struct {
	schemas.TimeColumns
	Long     schemas.LongColumns // empty for a wide export
	Form     string              // "seconds", "clock", "date and time" or "rate of each parameter"
	Evidence []string
	Doubt    string // what the user should check, "" for nothing
}

// RawCell is one cell that is not blank. Text is what stands there without
// blanks around it, valid until the visit ends; nil where the file holds a
// number as such.
type RawCell struct {
	Column  int     // index into Raw.Columns
	Time    float64 // s
	Text    []byte
	Number  float64
	Numeric bool // Number is what the cell says
	Invalid bool // the cell says that there is no valid value
}

// RawVisitor takes the rows and cells of an export in the order of the file:
// row by row, or column by column with all rows first.
type RawVisitor interface {
	Row(at float64) // the time of a row, s
	Cell(cell *RawCell)
}

// OpenRaw reads an export and finds its columns and its time. What the user can
// mend comes back as *schemas.Problem, other errors are the file system's.
//
// A format plugs in by giving Columns, Time and a walk of its own: see open.
func OpenRaw(path string) (*Raw, error) {
	data, err := readExport(path)
	if err != nil {
		return nil, err
	}
	return OpenRawBytes(path, data)
}

// OpenRawBytes is OpenRaw for a file already in memory. The bytes are kept until
// the last Walk and not changed.
func OpenRawBytes(path string, data []byte) (*Raw, error) {
	content, compression, err := decompress(path, data, maxContentBytes)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	raw := &Raw{Name: filepath.Base(path), SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data)), compression: compression}
	if err := raw.open(path, content); err != nil {
		return nil, err
	}
	if raw.compression != "" {
		raw.Format += ", " + raw.compression
	}
	return raw, nil
}

// open chooses the format by content.
func (raw *Raw) open(path string, content []byte) error {
	r, err := newReading(path, &schemas.Profile{})
	if err != nil {
		return err
	}
	switch {
	case len(content) == 0:
		return r.problem("is empty", "the readout may have failed; export the recording again")
	case bytes.HasPrefix(content, []byte("PAR1")):
		return guarded(r, "Parquet", func() error {
			file, err := r.openParquet(content)
			if err != nil {
				return err
			}
			return raw.openColumnar(r, file, "Parquet")
		})
	case bytes.HasPrefix(content, []byte("ARROW1")):
		return guarded(r, "Arrow", func() error {
			file, err := r.openArrow(content)
			if err != nil {
				return err
			}
			return raw.openColumnar(r, file, "Arrow")
		})
	}
	if matlab.Is(content[:min(len(content), peekBytes)]) {
		return guarded(r, "MATLAB", func() error { return raw.openMAT(r, content) })
	}
	return raw.openCSV(r, content)
}

// Walk gives every row and cell to the visitor, reading the export once more
// each time it is called.
func (raw *Raw) Walk(visit RawVisitor) error { return raw.walk(visit) }

// reading makes a reader that knows the time columns and maps nothing.
func (raw *Raw) reading(file string) (*reading, error) {
	return newReading(file, &schemas.Profile{Time: raw.Time.TimeColumns, Long: raw.Time.Long})
}

// finish takes over what a walk has found out.
func (raw *Raw) finish(r *reading) {
	raw.Notes = append(r.notes, r.tallies()...)
	raw.Epoch = r.axis.epoch
}

// index finds a parameter of a long export among the columns, adding it when it
// is new; -1 when there are too many.
func (raw *Raw) index(known map[string]int, name string) int {
	i, ok := known[name]
	if ok {
		return i
	}
	if len(raw.Columns) >= maxNames {
		return -1
	}
	i = len(raw.Columns)
	known[name] = i
	raw.Columns = append(raw.Columns, RawColumn{Name: name})
	return i
}

// unnamed is how a column without a name is called.
func unnamedColumn(i int) string { return fmt.Sprintf("(column %d)", i+1) }
