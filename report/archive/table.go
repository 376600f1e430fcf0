package archive

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"

	"github.com/parquet-go/parquet-go"

	pages "downlock/ingest/parquet"
	"downlock/schemas"
)

// table is one of the five: its form, and the rows a flight has in it.
type table struct {
	name   string
	schema *parquet.Schema
	rows   func(*flightRows) []parquet.Row
	// nameColumn is the column of the recording's name, -1 in a table without it.
	nameColumn int
}

// recordingColumn is the first column of every table: the SHA-256 of the recording's content,
// by which rows are in order.
const recordingColumn = 0

var tables = []table{
	newTable(schemas.FlightsTable, func(f *flightRows) []schemas.FlightRow { return []schemas.FlightRow{f.Flight} }),
	newTable(schemas.EventsTable, func(f *flightRows) []schemas.EventRow { return f.Events }),
	newTable(schemas.EvaluationsTable, func(f *flightRows) []schemas.EvaluationRow { return f.Evaluations }),
	newTable(schemas.MeasurementsTable, func(f *flightRows) []schemas.MeasurementRow { return f.Measurements }),
	newTable(schemas.AuditsTable, func(f *flightRows) []schemas.AuditRow { return f.Audits }),
}

func newTable[T any](name string, of func(*flightRows) []T) table {
	schema := parquet.SchemaOf(new(T))
	return table{name, schema, func(f *flightRows) []parquet.Row {
		list := of(f)
		out := make([]parquet.Row, len(list))
		for i := range list {
			out[i] = schema.Deconstruct(nil, &list[i])
		}
		return out
	}, columnOf(schema, "recording_name")}
}

// columnOf returns the place of a column of a schema, -1 where there is none of the
// name.
func columnOf(schema *parquet.Schema, name string) int {
	if leaf, ok := schema.Lookup(name); ok {
		return leaf.ColumnIndex
	}
	return -1
}

// versionKey is where a part says which form of its table it has.
const versionKey = "downlock.table_version"

// newWriter writes parts of the table. Everything that has a say in the bytes
// is fixed here; rows are written one by one, since the library ends pages
// between writes and pages must end in the same place whatever came before.
func (t *table) newWriter(w io.Writer) *parquet.GenericWriter[any] {
	return parquet.NewGenericWriter[any](w, t.schema,
		parquet.CreatedBy("downlock", "", ""),
		parquet.KeyValueMetadata(versionKey, strconv.Itoa(schemas.TableVersions[t.name])),
		parquet.KeyValueMetadata(schemas.CautionKey, schemas.Caution),
		parquet.Compression(pages.Zstd),
		parquet.DataPageVersion(2),
		parquet.PageBufferSize(256<<10),
		parquet.MaxRowsPerRowGroup(32_768), // bounds the memory of a merge: dictionaries and pages of one group,
	)
}

// part reads the rows of a part in order; a part that is not there has none.
type part struct {
	path   string
	file   *os.File
	opened *parquet.File
	reader *parquet.GenericReader[any]
	rows   []parquet.Row // read ahead
	next   int
	last   string // key of the row before
}

func (t *table) openPart(path string) (*part, error) {
	p := &part{path: path}
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return p, nil
	}
	if err != nil {
		return nil, damaged(path, err)
	}
	p.file = file
	if err := p.open(t); err != nil {
		p.close()
		return nil, err
	}
	return p, nil
}

func (p *part) open(t *table) (err error) {
	defer func() { err = p.damage(recover(), err) }()
	info, err := p.file.Stat()
	if err != nil {
		return err
	}
	opened, err := parquet.OpenFile(p.file, info.Size())
	if err != nil {
		return err
	}
	written, _ := opened.Lookup(versionKey)
	n, err := strconv.Atoi(written)
	if err != nil {
		return fmt.Errorf("it does not say which version of the table %s it has", t.name)
	}
	if newest := schemas.TableVersions[t.name]; n > newest {
		return &schemas.Problem{File: p.path, Cause: fmt.Sprintf("has version %d of the table %s; this downlock knows up to %d", n, t.name, newest),
			Hint: "it was written by a newer downlock: go on with that one"}
	}
	p.opened, p.reader = opened, parquet.NewGenericReader[any](opened, t.schema)
	// One more than there are, to come to the end: the library asks every column again for each row
	// that is not there.
	p.rows = make([]parquet.Row, 0, max(1, min(128, opened.NumRows()+1)))
	return nil
}

// peek returns the next row and its recording, nil at the end. The row is good
// until the next peek.
func (p *part) peek() (row parquet.Row, key string, err error) {
	if p.next == len(p.rows) {
		if err := p.read(); err != nil || len(p.rows) == 0 {
			return nil, "", err
		}
	}
	row = p.rows[p.next]
	if key = string(row[recordingColumn].ByteArray()); key < p.last {
		return nil, "", damaged(p.path, errors.New("its rows are out of order"))
	}
	p.last = key
	return row, key, nil
}

func (p *part) read() (err error) {
	p.next, p.rows = 0, p.rows[:cap(p.rows)]
	if p.reader == nil {
		return nil
	}
	defer func() { err = p.damage(recover(), err) }()
	n, err := p.reader.ReadRows(p.rows)
	p.rows = p.rows[:n]
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return err
}

// damage words what went wrong in a part. The library panics on some damage.
func (p *part) damage(panicked any, err error) error {
	var problem *schemas.Problem
	switch {
	case panicked != nil:
		return damaged(p.path, fmt.Errorf("%v", panicked))
	case err == nil || errors.As(err, &problem):
		return err
	}
	return damaged(p.path, err)
}

func (p *part) close() {
	if p.reader != nil {
		p.reader.Close()
	}
	if p.file != nil {
		p.file.Close()
	}
}
