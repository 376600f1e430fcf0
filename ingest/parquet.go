package ingest

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/parquet-go/parquet-go/encoding"
	"github.com/parquet-go/parquet-go/format"

	"downlock/ingest/parquet"
	"downlock/schemas"
)

// parquetFile reads the flat columns of a Parquet file. Others count as columns the
// export does not have.
type parquetFile struct {
	file   *parquet.File
	size   int64
	labels []string
	unused column // whose room the next one takes
}

func (r *reading) openParquet(content []byte) (*parquetFile, error) {
	file, err := parquet.Open(content, r.room())
	if err != nil {
		return nil, r.problem(fmt.Sprintf("is not a readable Parquet file: %v", err), damagedHint)
	}
	p := &parquetFile{file: file, size: int64(len(content))}
	for i := range file.Columns {
		p.labels = append(p.labels, file.Columns[i].Name)
	}
	return p, nil
}

func (p *parquetFile) names() []string { return p.labels }

func (p *parquetFile) rows() int { return int(p.file.Rows()) }

func (p *parquetFile) held() int64 { return p.size }

func (p *parquetFile) cellBytes(index int) int64 {
	of := &p.file.Columns[index]
	switch of.Logical.(type) {
	case *format.TimestampType, *format.TimeType, *format.DateType:
		return timeBytes
	}
	if of.Kind == format.ByteArray || of.Kind == format.Boolean {
		return sharedBytes
	}
	return numberBytes
}

func (p *parquetFile) column(index int) (*column, error) {
	take, err := parquetValues(&p.file.Columns[index])
	if err != nil {
		return nil, err
	}
	c := &column{numbers: p.unused.numbers[:0], texts: p.unused.texts[:0], valid: p.unused.valid[:0], places: p.unused.places[:0]}
	p.unused = column{}
	for i := range p.file.Groups() {
		if err := p.readGroup(&p.file.Columns[index], i, c, take, p.rows()); err != nil {
			return nil, err
		}
	}
	if !c.sparse {
		c.valid = nil
	}
	if c.text {
		c.numbers = nil
	} else {
		c.texts = nil
	}
	return c, nil
}

// release keeps the room of a column for the next one.
func (p *parquetFile) release(c *column) { p.unused = *c }

func (p *parquetFile) load() error { return nil }

func (p *parquetFile) metadata() string { return p.file.Metadata(schemas.CanonicalKey) }

func (p *parquetFile) parts() int { return p.file.Groups() }

// maxPartRows bounds a row group of canonical columns: other programs that write them
// again make groups of about a million.
const maxPartRows = 4 << 20

func (p *parquetFile) part(index int, names []string) (columns []*column, err error) {
	rows := p.file.GroupRows(index)
	if rows > maxPartRows {
		return nil, fmt.Errorf("row group %d has %d rows; at most %d are read", index+1, rows, maxPartRows)
	}
	for _, name := range names {
		at := slices.Index(p.labels, name)
		if at < 0 {
			return nil, missingColumn(name)
		}
		c := &column{}
		take, err := parquetValues(&p.file.Columns[at])
		if err == nil {
			err = p.readGroup(&p.file.Columns[at], index, c, take, int(rows))
		}
		if err != nil {
			return nil, fmt.Errorf("column %q cannot be read: %w", name, err)
		}
		c.spread()
		columns = append(columns, c)
	}
	return columns, nil
}

func missingColumn(name string) error { return fmt.Errorf("it has no column %q", name) }

// readGroup appends the cells of a column in one row group; the column has so many rows
// in the end.
func (p *parquetFile) readGroup(of *parquet.Column, group int, c *column, take takeValues, rows int) error {
	var distinct *column // values of the dictionary
	for page, err := range p.file.Pages(of, group) {
		switch {
		case err != nil:
			return err
		case page.Dictionary:
			distinct = &column{}
			take(distinct, page.Values, page.Present)
			continue
		}
		p.appendPage(c, page, distinct, take, rows)
	}
	return nil
}

// appendPage appends the cells of a page: where it has no dictionary, straight from the
// buffer it was decoded into. From the first null on the column is sparse. The first page
// makes room for all rows.
func (p *parquetFile) appendPage(c *column, page *parquet.Page, distinct *column, take takeValues, rows int) {
	cells := page.Present
	if page.Levels != nil {
		cells = len(page.Levels)
		if !c.sparse {
			c.sparse = true
			c.appendPlaces(nil, 0, c.total)
		}
	}
	if c.sparse {
		c.appendPlaces(page.Levels, c.total, cells)
	}
	c.total += cells
	c.nulls += cells - page.Present
	room := int(float64(rows) * float64(c.total-c.nulls) / float64(max(c.total, 1)))
	if !page.Indexed {
		if page.Values.Kind() == encoding.Double { // others may become texts
			c.reserve(room)
		}
		take(c, page.Values, page.Present)
		c.reserve(room)
		return
	}
	c.text, c.boolean = distinct.text, distinct.boolean
	c.reserve(room)
	if c.text {
		c.texts = appendPlaced(c.texts, distinct.texts, page.Places)
	} else {
		c.numbers = appendPlaced(c.numbers, distinct.numbers, page.Places)
	}
}

// appendPlaces appends the rows of so many cells, those that are no nulls; without levels all
// are such. Which cells are null follows no pattern a processor could foresee, so each row
// is written down, and those of nulls are written over.
func (c *column) appendPlaces(levels []uint8, row, cells int) {
	before := len(c.places)
	c.places = slices.Grow(c.places, cells+1)[:before+cells+1]
	to, n := c.places[before:], 0
	for i := range cells {
		to[n] = int32(row + i)
		if levels == nil {
			n++
		} else {
			n += int(levels[i])
		}
	}
	c.places = c.places[:before+n]
}

// takeValues appends n values, none of them null, to a column.
type takeValues func(c *column, values encoding.Values, n int)

// parquetValues returns the function that appends values of a column's type to a column:
// numbers as numbers, all else as the text a CSV export would have.
func parquetValues(of *parquet.Column) (takeValues, error) {
	if of.Logical != nil {
		if take, err := logicalValues(of.Kind, of.Logical); take != nil || err != nil {
			return take, err
		}
	}
	switch of.Kind {
	case format.Double:
		return func(c *column, values encoding.Values, _ int) { c.numbers = append(c.numbers, values.Double()...) }, nil
	case format.Float:
		return func(c *column, values encoding.Values, n int) {
			c.numbers = slices.Grow(c.numbers, n)
			for _, v := range values.Float() {
				c.numbers = append(c.numbers, float64(v))
			}
		}, nil
	case format.Int32, format.Int64:
		return numbersOf(func(v int64) float64 { return float64(v) }), nil
	case format.Boolean:
		return func(c *column, values encoding.Values, n int) {
			c.text, c.boolean = true, true
			for i, bits := 0, values.Boolean(); i < n; i++ {
				c.texts = append(c.texts, strconv.FormatBool(bits[i/8]>>(i%8)&1 == 1))
			}
		}, nil
	case format.ByteArray:
		return stringValues(), nil
	}
	return nil, fmt.Errorf("columns of type %s are not supported; write it as DOUBLE or STRING", of.Type())
}

// logicalValues is parquetValues for the types whose physical value does not state
// their meaning; nil for the others.
func logicalValues(kind format.Type, logical format.LogicalTypeValue) (takeValues, error) {
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
		if kind != format.Int32 && kind != format.Int64 {
			return nil, errors.New("a decimal of this size is not supported; write it as DOUBLE")
		}
		scale := math.Pow10(int(l.Scale))
		return numbersOf(func(n int64) float64 { return float64(n) / scale }), nil
	case *format.IntType:
		switch {
		case !l.IsSigned && kind == format.Int64:
			return numbersOf(func(n int64) float64 { return float64(uint64(n)) }), nil
		case !l.IsSigned:
			return numbersOf(func(n int64) float64 { return float64(uint32(n)) }), nil
		}
	case *format.Float16Type, *format.UUIDType, *format.VariantType:
		return nil, fmt.Errorf("columns of type %s are not supported; write it as DOUBLE or STRING", l)
	}
	return nil, nil
}

// stringValues keeps one copy of each text: names and states repeat.
func stringValues() takeValues {
	known := map[string]string{}
	return func(c *column, values encoding.Values, n int) {
		c.text = true
		c.texts = slices.Grow(c.texts, n)
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
	return func(c *column, values encoding.Values, n int) {
		c.text = true
		c.texts = slices.Grow(c.texts, n)
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
