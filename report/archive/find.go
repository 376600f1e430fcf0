package archive

import (
	"errors"
	"io"

	"github.com/parquet-go/parquet-go"
)

// rowsWhere lists the rows whose cell in a column of text is wanted, reading that
// column alone.
func (p *part) rowsWhere(column string, wanted func(cell string) bool) (rows []int64, err error) {
	if p.opened == nil {
		return nil, nil
	}
	defer func() { err = p.damage(recover(), err) }()
	leaf, ok := p.opened.Schema().Lookup(column)
	if !ok {
		return nil, errors.New("it has no column " + column)
	}
	row := int64(0)
	for _, group := range p.opened.RowGroups() {
		err := eachCell(group.ColumnChunks()[leaf.ColumnIndex], func(cell parquet.Value) {
			if wanted(string(cell.ByteArray())) {
				rows = append(rows, row)
			}
			row++
		})
		if err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// eachCell hands out the cells of a column without lists, in order.
func eachCell(column parquet.ColumnChunk, each func(parquet.Value)) error {
	reader := parquet.NewColumnChunkValueReader(column)
	defer reader.Close()
	cells := make([]parquet.Value, 256)
	for {
		n, err := reader.ReadValues(cells)
		for _, cell := range cells[:n] {
			each(cell)
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// seek has a row be the next one that peek returns.
func (p *part) seek(row int64) (err error) {
	defer func() { err = p.damage(recover(), err) }()
	p.next, p.rows, p.last = 0, p.rows[:0], ""
	return p.reader.SeekToRow(row)
}
