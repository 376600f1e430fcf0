package tally

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"slices"

	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// part is one file of a table, open to read single columns of.
type part struct {
	path string
	file *os.File
	*parquet.File
}

// openPart opens a part; nil without an error when it is not there.
func openPart(path string) (p *part, err error) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer func() {
		if err = damage(path, recover(), err); err != nil {
			file.Close()
		}
	}()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	opened, err := parquet.OpenFile(file, info.Size(), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true), parquet.ReadBufferSize(256<<10))
	if err != nil {
		return nil, err
	}
	return &part{path, file, opened}, nil
}

func (p *part) close() { p.file.Close() }

// damage words what went wrong in a part. The Parquet library panics on some
// damage.
func damage(path string, panicked any, err error) error {
	var problem *schemas.Problem
	switch {
	case panicked != nil:
		err = fmt.Errorf("%v", panicked)
	case err == nil || errors.As(err, &problem):
		return err
	}
	return &schemas.Problem{File: path, Cause: "the archive is damaged here: " + err.Error(),
		Hint: "put the file back from a copy of the archive; `downlock verify --archive DIR` says what else is damaged and what that costs, and with --repair it mends what it can"}
}

// eachGroup calls read with every row group of a part; a missing part has none.
func eachGroup(path string, read func(*group) error) (err error) {
	p, err := openPart(path)
	if p == nil {
		return err
	}
	defer p.close()
	defer func() { err = damage(path, recover(), err) }()
	for _, rows := range p.RowGroups() {
		if err := read(&group{p, rows}); err != nil {
			return err
		}
	}
	return nil
}

// group is one row group of a part.
type group struct {
	*part
	rows parquet.RowGroup
}

// chunk finds a top-level column; nil when the part has none of that name, as
// one written before the column was added.
func (g *group) chunk(name string) parquet.ColumnChunk {
	leaf, ok := g.Schema().Lookup(name)
	if !ok {
		return nil
	}
	return g.rows.ColumnChunks()[leaf.ColumnIndex]
}

// words is a text column: for every row the index of its value, -1 where it is
// absent. Comparing indexes in place of texts is what makes counting fast.
type words struct {
	list  []string
	index []int32
}

// at returns the value of a row, "" where it is absent.
func (w *words) at(row int) string {
	if i := w.index[row]; i >= 0 {
		return w.list[i]
	}
	return ""
}

// place is the index of a value, -2 for one the column does not have.
func (w *words) place(value string) int32 {
	if i := slices.Index(w.list, value); i >= 0 {
		return int32(i)
	}
	return -2
}

// appendAll appends the values of a dictionary, as parts of one text: a thousand
// small ones cost more than all the rest.
func (w *words) appendAll(dictionary parquet.Page) {
	values := dictionary.Data()
	data, offsets := values.ByteArray()
	text := string(data)
	for i := range len(offsets) - 1 {
		w.list = append(w.list, text[offsets[i]:offsets[i+1]])
	}
}

// readWords reads a text column that every part has.
func (g *group) readWords(name string, w *words) error {
	w.list, w.index = w.list[:0], w.index[:0]
	chunk := g.chunk(name)
	if chunk == nil {
		return fmt.Errorf("it has no column %s", name)
	}
	known := map[string]int32{} // of pages without a dictionary
	intern := func(s string) int32 {
		i, ok := known[s]
		if !ok {
			i = int32(len(w.list))
			known[s] = i
			w.list = append(w.list, s)
		}
		return i
	}
	shift := int32(-1) // of the dictionary in the list; the first page that has one fills it
	return eachPage(chunk, func(page parquet.Page) error {
		var at func(i int) int32
		if d := page.Dictionary(); d != nil {
			if shift < 0 {
				shift = int32(len(w.list))
				w.appendAll(d.Page())
			}
			indexes := ints(page)
			if len(page.DefinitionLevels()) == 0 && shift == 0 {
				w.index = append(w.index, indexes...)
				return nil
			}
			at = func(i int) int32 { return indexes[i] + shift }
		} else {
			values := page.Data()
			data, offsets := values.ByteArray()
			at = func(i int) int32 { return intern(string(data[offsets[i]:offsets[i+1]])) }
		}
		w.index = spread(page, w.index, at, -1)
		return nil
	})
}

// readFloats reads a column of numbers; not a number where absent.
func (g *group) readFloats(name string, out []float64) ([]float64, error) {
	out = out[:0]
	chunk := g.chunk(name)
	if chunk == nil {
		return out, fmt.Errorf("it has no column %s", name)
	}
	err := eachPage(chunk, func(page parquet.Page) error {
		data := page.Data()
		values := data.Double()
		if len(page.DefinitionLevels()) == 0 {
			out = append(out, values...)
			return nil
		}
		out = spread(page, out, func(i int) float64 { return values[i] }, math.NaN())
		return nil
	})
	return out, err
}

// readInts reads a column of 32-bit whole numbers without absent ones.
func (g *group) readInts(name string, out []int32) ([]int32, error) {
	out = out[:0]
	chunk := g.chunk(name)
	if chunk == nil {
		return out, fmt.Errorf("it has no column %s", name)
	}
	err := eachPage(chunk, func(page parquet.Page) error {
		values := ints(page)
		out = spread(page, out, func(i int) int32 { return values[i] }, 0)
		return nil
	})
	return out, err
}

func ints(page parquet.Page) []int32 {
	values := page.Data()
	return values.Int32()
}

// spread appends the values of a page of which absent ones take no room.
func spread[T any](page parquet.Page, out []T, at func(int) T, absent T) []T {
	levels := page.DefinitionLevels()
	next := 0
	for row := range int(page.NumValues()) {
		if len(levels) > 0 && levels[row] == 0 {
			out = append(out, absent)
			continue
		}
		out = append(out, at(next))
		next++
	}
	return out
}

func eachPage(chunk parquet.ColumnChunk, read func(parquet.Page) error) error {
	pages := chunk.Pages()
	defer pages.Close()
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		err = read(page)
		parquet.Release(page)
		if err != nil {
			return err
		}
	}
}
