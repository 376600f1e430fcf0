package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding"
	"github.com/parquet-go/parquet-go/format"

	"downlock/schemas"
)

// parquetFile reads the flat columns of a Parquet file: those that are neither
// nested nor repeated. Others count as columns the export does not have.
type parquetFile struct {
	content []byte
	file    *parquet.File
	columns []*parquet.Column
	labels  []string
}

func (r *reading) openParquet(content []byte) (*parquetFile, error) {
	if err := checkParquetFooter(content); err != nil {
		return nil, r.problem(fmt.Sprintf("is not a readable Parquet file: %v", err), damagedHint)
	}
	file, err := parquet.OpenFile(bytes.NewReader(content), int64(len(content)), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, r.problem(fmt.Sprintf("is not a readable Parquet file: %v", err), damagedHint)
	}
	p := &parquetFile{content: content, file: file}
	for _, c := range file.Root().Columns() {
		if c.Leaf() && !c.Repeated() {
			p.columns = append(p.columns, c)
			p.labels = append(p.labels, c.Name())
		}
	}
	return p, nil
}

func (p *parquetFile) names() []string { return p.labels }

func (p *parquetFile) rows() int { return int(max(p.file.NumRows(), 0)) }

func (p *parquetFile) column(index int) (*column, error) {
	leaf := p.columns[index]
	take, err := parquetValues(leaf.Type())
	if err != nil {
		return nil, err
	}
	c := &column{}
	for i := range p.file.RowGroups() {
		if err := p.readGroup(leaf, i, c, take, p.rows()); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// readGroup appends the cells of a column in one row group; the column has so many rows
// in the end.
func (p *parquetFile) readGroup(leaf *parquet.Column, group int, c *column, take takeValues, rows int) error {
	described := &p.file.Metadata().RowGroups[group]
	if err := checkPages(p.content, &described.Columns[leaf.Index()].MetaData, described.NumRows); err != nil {
		return err
	}
	return p.readChunk(p.file.RowGroups()[group].ColumnChunks()[leaf.Index()], c, take, rows)
}

func (p *parquetFile) load() error { return nil }

func (p *parquetFile) metadata() string {
	text, _ := p.file.Lookup(schemas.CanonicalKey)
	return text
}

func (p *parquetFile) parts() int { return len(p.file.RowGroups()) }

// maxPartRows bounds a row group of canonical columns: other programs that write them
// again make groups of about a million.
const maxPartRows = 4 << 20

func (p *parquetFile) part(index int, names []string) (columns []*column, err error) {
	rows := p.file.Metadata().RowGroups[index].NumRows
	if rows < 0 || rows > maxPartRows {
		return nil, fmt.Errorf("row group %d has %d rows; at most %d are read", index+1, rows, maxPartRows)
	}
	for _, name := range names {
		at := slices.Index(p.labels, name)
		if at < 0 {
			return nil, missingColumn(name)
		}
		c := &column{}
		take, err := parquetValues(p.columns[at].Type())
		if err == nil {
			err = p.readGroup(p.columns[at], index, c, take, int(rows))
		}
		if err == nil && c.rows() != int(rows) {
			err = fmt.Errorf("it has %d cells, row group %d %d rows", c.rows(), index+1, rows)
		}
		if err != nil {
			return nil, fmt.Errorf("column %q cannot be read: %w", name, err)
		}
		columns = append(columns, c)
	}
	return columns, nil
}

func missingColumn(name string) error { return fmt.Errorf("it has no column %q", name) }

// readChunk appends the cells of one column chunk.
func (p *parquetFile) readChunk(chunk parquet.ColumnChunk, c *column, take takeValues, rows int) error {
	pages := chunk.Pages()
	defer pages.Close()
	var distinct *column // values of the dictionary
	for {
		page, err := pages.ReadPage()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if dictionary := page.Dictionary(); dictionary != nil && distinct == nil {
			distinct = &column{}
			take(distinct, dictionary.Page().Data(), dictionary.Len())
		}
		c.appendPage(page, distinct, take)
		parquet.Release(page)
		if c.rows() > rows {
			return fmt.Errorf("more cells than the file's %d rows", rows)
		}
		if !c.text {
			c.numbers = slices.Grow(c.numbers, rows-len(c.numbers)) // at once, after the first page
		}
	}
}

// appendPage appends the cells of a page: where it has neither nulls nor a
// dictionary, straight from the buffer it was decoded into.
func (c *column) appendPage(page parquet.Page, distinct *column, take takeValues) {
	data, nulls := page.Data(), int(page.NumNulls())
	indexed := page.Dictionary() != nil
	present := int(page.NumValues()) - nulls
	if !indexed && nulls == 0 {
		take(c, data, present)
		return
	}
	var indexes []int32
	if indexed {
		indexes = data.Int32()
	} else {
		distinct = &column{}
		take(distinct, data, present)
	}
	next, levels := 0, page.DefinitionLevels()
	for i := range present + nulls {
		at := -1
		if nulls == 0 || levels[i] > 0 {
			at = next
			if indexed {
				at = int(indexes[next])
			}
			next++
		}
		c.appendCell(distinct, at)
	}
}

// takeValues appends n values, none of them null, to a column.
type takeValues func(c *column, values encoding.Values, n int)

// parquetValues returns the function that appends values of a type to a column:
// numbers as numbers, all else as the text a CSV export would have.
func parquetValues(typ parquet.Type) (takeValues, error) {
	if logical := typ.LogicalType(); logical != nil {
		if take, err := logicalValues(typ.Kind(), logical.Value); take != nil || err != nil {
			return take, err
		}
	}
	switch typ.Kind() {
	case parquet.Double:
		return func(c *column, values encoding.Values, _ int) { c.numbers = append(c.numbers, values.Double()...) }, nil
	case parquet.Float:
		return func(c *column, values encoding.Values, n int) {
			c.numbers = slices.Grow(c.numbers, n)
			for _, v := range values.Float() {
				c.numbers = append(c.numbers, float64(v))
			}
		}, nil
	case parquet.Int32, parquet.Int64:
		return numbersOf(func(v int64) float64 { return float64(v) }), nil
	case parquet.Boolean:
		return func(c *column, values encoding.Values, n int) {
			c.text, c.boolean = true, true
			for i, bits := 0, values.Boolean(); i < n; i++ {
				c.texts = append(c.texts, strconv.FormatBool(bits[i/8]>>(i%8)&1 == 1))
			}
		}, nil
	case parquet.ByteArray:
		return stringValues(), nil
	}
	return nil, fmt.Errorf("columns of type %s are not read here; write it as DOUBLE or STRING", typ)
}

// logicalValues is parquetValues for the types whose physical value does not state
// their meaning; nil for the others.
func logicalValues(kind parquet.Kind, logical format.LogicalTypeValue) (takeValues, error) {
	switch l := logical.(type) {
	case *format.TimestampType:
		unit := l.Unit.Value.Duration()
		perSecond := int64(time.Second / unit)
		return textsOf(func(n int64) string {
			return time.Unix(n/perSecond, n%perSecond*int64(unit)).UTC().Format(time.RFC3339Nano)
		}), nil
	case *format.TimeType:
		unit := l.Unit.Value.Duration()
		return textsOf(func(n int64) string {
			return time.Unix(0, 0).UTC().Add(time.Duration(n) * unit).Format("15:04:05.999999999")
		}), nil
	case *format.DateType:
		return textsOf(func(n int64) string { return time.Unix(n*secondsPerDay, 0).UTC().Format(time.DateOnly) }), nil
	case *format.DecimalType:
		if kind != parquet.Int32 && kind != parquet.Int64 {
			return nil, errors.New("a decimal of this size is not read here; write it as DOUBLE")
		}
		scale := math.Pow10(int(l.Scale))
		return numbersOf(func(n int64) float64 { return float64(n) / scale }), nil
	case *format.IntType:
		switch {
		case !l.IsSigned && kind == parquet.Int64:
			return numbersOf(func(n int64) float64 { return float64(uint64(n)) }), nil
		case !l.IsSigned:
			return numbersOf(func(n int64) float64 { return float64(uint32(n)) }), nil
		}
	case *format.Float16Type, *format.UUIDType, *format.VariantType:
		return nil, fmt.Errorf("columns of type %s are not read here; write it as DOUBLE or STRING", l)
	}
	return nil, nil
}

// stringValues keeps one copy of each text: names and states repeat.
func stringValues() takeValues {
	known := map[string]string{}
	return func(c *column, values encoding.Values, n int) {
		c.text = true
		bytes, offsets := values.ByteArray()
		for i := range n {
			cell := bytes[offsets[i]:offsets[i+1]]
			text, ok := known[string(cell)]
			if !ok {
				text = string(cell)
				if len(known) < maxNames {
					known[text] = text
				}
			}
			c.texts = append(c.texts, text)
		}
	}
}

func numbersOf(number func(int64) float64) takeValues {
	return func(c *column, values encoding.Values, n int) {
		c.numbers = slices.Grow(c.numbers, n)
		for v := range integers(values) {
			c.numbers = append(c.numbers, number(v))
		}
	}
}

func textsOf(text func(int64) string) takeValues {
	return func(c *column, values encoding.Values, _ int) {
		c.text = true
		for v := range integers(values) {
			c.texts = append(c.texts, text(v))
		}
	}
}

// integers hands out integers of either size.
func integers(values encoding.Values) iter.Seq[int64] {
	return func(yield func(int64) bool) {
		if values.Kind() == encoding.Int32 {
			for _, v := range values.Int32() {
				if !yield(int64(v)) {
					return
				}
			}
			return
		}
		for _, v := range values.Int64() {
			if !yield(v) {
				return
			}
		}
	}
}
