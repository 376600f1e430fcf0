package export

import (
	"errors"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// wideArrow writes one record batch: numbers as float64, texts as utf8, null
// where there is no sample.
func (t *Table) wideArrow(w io.Writer) error {
	calendar := t.calendar()
	fields := []arrow.Field{{Name: t.TimeName, Type: arrow.PrimitiveTypes.Float64}}
	if calendar != nil {
		fields = append(fields, textField(DateColumn), textField(ClockColumn))
	}
	first := len(fields)
	for _, c := range t.Columns {
		field := textField(c.Name)
		if c.Numbers != nil {
			field.Type = arrow.PrimitiveTypes.Float64
		}
		fields = append(fields, field)
	}
	schema := arrow.NewSchema(fields, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	defer b.Release()
	cursors := t.cursors()
	for _, at := range t.grid() {
		b.Field(0).(*array.Float64Builder).Append(float64(at) / 1000)
		if calendar != nil {
			date, clock := calendar.cells(at)
			appendText(b.Field(1), date)
			appendText(b.Field(2), clock)
		}
		for i := range cursors {
			appendSample(b.Field(first+i), cursors[i].column, cursors[i].take(at))
		}
	}
	record := b.NewRecord()
	defer record.Release()
	out, err := ipc.NewFileWriter(&Positioned{W: w}, ipc.WithSchema(schema))
	if err != nil {
		return err
	}
	if err := out.Write(record); err != nil {
		return err
	}
	return out.Close()
}

func textField(name string) arrow.Field {
	return arrow.Field{Name: name, Type: arrow.BinaryTypes.String, Nullable: true}
}

// appendSample appends sample i of the column, or null when i is negative.
func appendSample(b array.Builder, c *Column, i int) {
	switch {
	case i < 0:
		b.AppendNull()
	case c.Numbers != nil:
		b.(*array.Float64Builder).Append(c.number(i))
	default:
		appendText(b, c.text(i))
	}
}

func appendText(b array.Builder, text string) {
	if text == "" {
		b.AppendNull()
		return
	}
	b.(*array.StringBuilder).Append(text)
}

// Positioned writes to W and tells the IPC writer its position, for which alone that
// writer seeks.
type Positioned struct {
	W   io.Writer
	pos int64
}

func (p *Positioned) Write(b []byte) (int, error) {
	n, err := p.W.Write(b)
	p.pos += int64(n)
	return n, err
}

// Seek only returns the position.
func (p *Positioned) Seek(offset int64, whence int) (int64, error) {
	if offset != 0 || whence != io.SeekCurrent {
		return 0, errors.New("this output cannot move back")
	}
	return p.pos, nil
}
