package export

import (
	"io"

	"github.com/parquet-go/parquet-go"
)

// wideParquet writes numbers as DOUBLE and texts as STRING. All columns but the time
// are optional, in alphabetical order.
func (t *Table) wideParquet(w io.Writer) error {
	calendar := t.calendar()
	group := parquet.Group{t.TimeName: parquet.Leaf(parquet.DoubleType)}
	if calendar != nil {
		group[DateColumn], group[ClockColumn] = optionalText(), optionalText()
	}
	for _, c := range t.Columns {
		group[c.Name] = optionalText()
		if c.Numbers != nil {
			group[c.Name] = compressed(parquet.Optional(parquet.Leaf(parquet.DoubleType)))
		}
	}
	p := newParquetWriter(w, group)
	cursors := t.cursors()
	for _, at := range t.grid() {
		p.set(t.TimeName, parquet.DoubleValue(float64(at)/1000), 0)
		if calendar != nil {
			date, clock := calendar.cells(at)
			p.setText(DateColumn, date, 1)
			p.setText(ClockColumn, clock, 1)
		}
		for i := range cursors {
			c := cursors[i].column
			n := cursors[i].take(at)
			switch {
			case n < 0:
				p.setText(c.Name, "", 1)
			case c.Numbers != nil:
				p.set(c.Name, parquet.DoubleValue(c.number(n)), 1)
			default:
				p.setText(c.Name, c.text(n), 1)
			}
		}
		if err := p.writeRow(); err != nil {
			return err
		}
	}
	return p.Close()
}

func (t *Table) longParquet(w io.Writer) error {
	calendar := t.calendar()
	group := parquet.Group{
		t.TimeName:      parquet.Leaf(parquet.DoubleType),
		ParameterColumn: compressed(parquet.Encoded(parquet.String(), &parquet.RLEDictionary)),
		ValueColumn:     compressed(parquet.String()),
	}
	if calendar != nil {
		group[DateColumn], group[ClockColumn] = optionalText(), optionalText()
	}
	p := newParquetWriter(w, group)
	for s := range t.samples() {
		p.set(t.TimeName, parquet.DoubleValue(float64(s.at)/1000), 0)
		p.setText(ParameterColumn, s.column.Name, 0)
		p.setText(ValueColumn, s.column.text(s.index), 0)
		if calendar != nil {
			date, clock := calendar.cells(s.at)
			p.setText(DateColumn, date, 1)
			p.setText(ClockColumn, clock, 1)
		}
		if err := p.writeRow(); err != nil {
			return err
		}
	}
	return p.Close()
}

func optionalText() parquet.Node { return compressed(parquet.Optional(parquet.String())) }

func compressed(n parquet.Node) parquet.Node { return parquet.Compressed(n, &parquet.Zstd) }

// parquetWriter writes rows; its cells are set by column name.
type parquetWriter struct {
	*parquet.GenericWriter[any]
	index map[string]int
	row   parquet.Row
}

func newParquetWriter(w io.Writer, group parquet.Group) *parquetWriter {
	schema := parquet.NewSchema("recording", group)
	p := &parquetWriter{GenericWriter: parquet.NewGenericWriter[any](w, schema, parquet.CreatedBy("downlock", "", "")), index: map[string]int{}}
	for i, path := range schema.Columns() {
		p.index[path[0]] = i
	}
	p.row = make(parquet.Row, len(p.index))
	return p
}

// set puts a value into the row; levels is 1 for an optional column.
func (p *parquetWriter) set(name string, v parquet.Value, levels int) {
	i := p.index[name]
	p.row[i] = v.Level(0, levels, i)
}

// setText puts a text into the row; an empty one in an optional column is null.
func (p *parquetWriter) setText(name, text string, levels int) {
	if text == "" && levels > 0 {
		i := p.index[name]
		p.row[i] = parquet.NullValue().Level(0, 0, i)
		return
	}
	p.set(name, parquet.ByteArrayValue([]byte(text)), levels)
}

func (p *parquetWriter) writeRow() error {
	_, err := p.WriteRows([]parquet.Row{p.row})
	return err
}
