package ingest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

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
	Sheet   string // of a workbook, where one was named
	Time    RawTime
	Columns []RawColumn // those that are no time; of a long export its parameters, complete after Walk
	Notes   []string    // complete after Walk
	Epoch   time.Time   // UTC at time 0, zero where the export has no date; set by Walk

	file   string   // as the user named it
	header []string // notes on the names of columns
	reopen func() (in io.ReadCloser, size int64, err error)
	walk   func(visit RawVisitor) error
}

// RawColumn is one column: its name and the unit the export states, "" for none.
type RawColumn struct{ Name, Unit string }

// RawTime names the columns that hold the time of a row, as a profile does, and
// says how they were found.
type RawTime struct {
	schemas.TimeColumns
	Long     schemas.LongColumns // empty for a wide export
	Form     string              // "seconds", "clock", "date and time" or "rate of each parameter"
	Evidence []string
	Doubt    string // what the user should check, "" for nothing
	// DateFormats are the formats the dates can be read by where the data do not decide
	// it; Undated is their column, which is not used then.
	DateFormats []string
	Undated     string
}

// RawCell is one cell that is not blank. Text is the text there without
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

// OpenRaw reads an export and finds its columns and its time. A fault the user can
// mend comes back as *schemas.Problem, other errors are the file system's. A CSV
// file is read again, in pieces, by each Walk; of other files the content is
// kept.
//
// Each format sets Columns, Time and a walk of its own: see open. A sheet that is named is the
// one of a workbook that is read.
func OpenRaw(path string, sheet ...string) (*Raw, error) {
	return openRaw(path, sheet, func() (io.ReadCloser, int64, error) { return openExport(path, maxContentBytes) })
}

// OpenRawBytes is OpenRaw for a file already in memory. The bytes are kept until
// the last Walk and not changed.
func OpenRawBytes(path string, data []byte, sheet ...string) (*Raw, error) {
	return openRaw(path, sheet, func() (io.ReadCloser, int64, error) {
		return io.NopCloser(bytes.NewReader(data)), int64(len(data)), nil
	})
}

func openRaw(path string, sheet []string, reopen func() (io.ReadCloser, int64, error)) (*Raw, error) {
	raw := &Raw{Name: filepath.Base(path), file: path, reopen: reopen}
	raw.Sheet = strings.Join(sheet, "")
	sum := sha256.New()
	size, packing, err := raw.unpacked(sum, raw.open)
	if err != nil {
		return nil, err
	}
	raw.SHA256, raw.Bytes = hex.EncodeToString(sum.Sum(nil)), size
	if packing != "" {
		raw.Format += ", " + packing
	}
	return raw, nil
}

// unpacked opens the file, hands its content to use, and reads the rest
// into sum.
func (raw *Raw) unpacked(sum hash.Hash, use func(*reading, *content) error) (size int64, packing string, err error) {
	in, expected, err := raw.reopen()
	if err != nil {
		return 0, "", err
	}
	defer in.Close()
	r, err := raw.reading()
	if err != nil {
		return 0, "", err
	}
	r.raw = openStream(in, expected, sum)
	defer r.raw.close()
	c, err := unpack(raw.file, r.raw, maxContentBytes)
	if err != nil {
		return 0, "", err
	}
	defer c.close()
	if err := use(r, c); err != nil {
		return 0, "", err
	}
	size, err = r.raw.finish()
	return size, c.packing, err
}

// open finds the columns and the time of the content, whatever its format.
func (raw *Raw) open(r *reading, c *content) error {
	utf16, err := r.openContent(c, formats{
		columnar: func(file columnar, kind string) error { return raw.openColumnar(r, file, kind) },
		mat:      func(content []byte) error { return raw.openMAT(r, content) },
		csv:      func(in io.Reader, _ int64) error { return raw.openCSV(r, in) },
	})
	if c.workbook != nil {
		raw.Format = strings.Replace(raw.Format, "CSV", "XLSX", 1)
	} else {
		raw.Sheet = ""
	}
	if utf16 {
		raw.Format += ", UTF-16"
	}
	return err
}

// Walk hands every row and cell to the visitor, reading the export once more
// each time it is called.
func (raw *Raw) Walk(visit RawVisitor) error { return raw.walk(visit) }

// reading makes a reader that knows the time columns and maps nothing.
func (raw *Raw) reading() (*reading, error) {
	return newReading(raw.file, &schemas.Profile{Sheet: raw.Sheet, Time: raw.Time.TimeColumns, Long: raw.Time.Long})
}

// finish takes over the findings of a walk.
func (raw *Raw) finish(r *reading) {
	raw.Notes = slices.Concat(raw.header, r.notes, r.tallies())
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
