package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
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
	take, err := parquetCell(leaf.Type())
	if err != nil {
		return nil, err
	}
	c := &column{}
	values := make([]parquet.Value, 1024)
	for i, group := range p.file.RowGroups() {
		described := &p.file.Metadata().RowGroups[i]
		if err := checkPages(p.content, &described.Columns[leaf.Index()].MetaData, described.NumRows); err != nil {
			return nil, err
		}
		if err := p.readChunk(group.ColumnChunks()[leaf.Index()], values, c, take); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// readChunk appends the cells of one column chunk.
func (p *parquetFile) readChunk(chunk parquet.ColumnChunk, values []parquet.Value, c *column, take takeCell) error {
	reader := parquet.NewColumnChunkValueReader(chunk)
	defer reader.Close()
	for {
		n, err := reader.ReadValues(values)
		for _, v := range values[:n] {
			c.valid = append(c.valid, !v.IsNull())
			take(c, v)
		}
		switch {
		case len(c.valid) > p.rows():
			return fmt.Errorf("more cells than the file's %d rows", p.rows())
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
	}
}

// takeCell appends a cell to a column.
type takeCell func(*column, parquet.Value)

// parquetCell returns the function that appends a cell of a type to a column:
// numbers as numbers, all else as the text a CSV export would have.
func parquetCell(typ parquet.Type) (takeCell, error) {
	if logical := typ.LogicalType(); logical != nil {
		if take, err := logicalCell(typ.Kind(), logical.Value); take != nil || err != nil {
			return take, err
		}
	}
	switch typ.Kind() {
	case parquet.Double:
		return numberCell(parquet.Value.Double), nil
	case parquet.Float:
		return numberCell(func(v parquet.Value) float64 { return float64(v.Float()) }), nil
	case parquet.Int32, parquet.Int64:
		return numberCell(func(v parquet.Value) float64 { return float64(integer(v)) }), nil
	case parquet.Boolean:
		return func(c *column, v parquet.Value) {
			c.boolean = true
			c.texts = append(c.texts, fmt.Sprint(!v.IsNull() && v.Boolean()))
		}, nil
	case parquet.ByteArray:
		return stringCell(), nil
	}
	return nil, fmt.Errorf("columns of type %s are not read here; write it as DOUBLE or STRING", typ)
}

// logicalCell is parquetCell for the types whose physical value does not state
// their meaning; nil for the others.
func logicalCell(kind parquet.Kind, logical format.LogicalTypeValue) (takeCell, error) {
	switch l := logical.(type) {
	case *format.TimestampType:
		unit := l.Unit.Value.Duration()
		perSecond := int64(time.Second / unit)
		return textCell(func(v parquet.Value) string {
			n := v.Int64()
			return time.Unix(n/perSecond, n%perSecond*int64(unit)).UTC().Format(time.RFC3339Nano)
		}), nil
	case *format.TimeType:
		unit := l.Unit.Value.Duration()
		return textCell(func(v parquet.Value) string {
			return time.Unix(0, 0).UTC().Add(time.Duration(integer(v)) * unit).Format("15:04:05.999999999")
		}), nil
	case *format.DateType:
		return textCell(func(v parquet.Value) string {
			return time.Unix(int64(v.Int32())*secondsPerDay, 0).UTC().Format(time.DateOnly)
		}), nil
	case *format.DecimalType:
		if kind != parquet.Int32 && kind != parquet.Int64 {
			return nil, errors.New("a decimal of this size is not read here; write it as DOUBLE")
		}
		scale := math.Pow10(int(l.Scale))
		return numberCell(func(v parquet.Value) float64 { return float64(integer(v)) / scale }), nil
	case *format.IntType:
		if !l.IsSigned && kind == parquet.Int64 {
			return numberCell(func(v parquet.Value) float64 { return float64(v.Uint64()) }), nil
		}
	case *format.Float16Type, *format.UUIDType, *format.VariantType:
		return nil, fmt.Errorf("columns of type %s are not read here; write it as DOUBLE or STRING", l)
	}
	return nil, nil
}

// stringCell keeps one copy of each text: names and states repeat.
func stringCell() takeCell {
	known := map[string]string{}
	return textCell(func(v parquet.Value) string {
		text, ok := known[string(v.ByteArray())]
		if !ok {
			text = string(v.ByteArray())
			if len(known) < maxNames {
				known[text] = text
			}
		}
		return text
	})
}

func integer(v parquet.Value) int64 {
	if v.Kind() == parquet.Int32 {
		return int64(v.Int32())
	}
	return v.Int64()
}

func numberCell(number func(parquet.Value) float64) takeCell {
	return func(c *column, v parquet.Value) {
		if v.IsNull() {
			c.numbers = append(c.numbers, 0)
			return
		}
		c.numbers = append(c.numbers, number(v))
	}
}

func textCell(text func(parquet.Value) string) takeCell {
	return func(c *column, v parquet.Value) {
		if v.IsNull() {
			c.texts = append(c.texts, "")
			return
		}
		c.texts = append(c.texts, text(v))
	}
}
