package export

import (
	"fmt"
	"slices"

	"downlock/schemas"
)

// RowSamples are the columns a column is written into by SampledRows: one, or one for
// each sample of a row in their order. Offset is s from the time of a row to the first.
type RowSamples struct {
	Columns []string
	Offset  float64
}

// mostRowSamples is how many samples a row may have of one column.
const mostRowSamples = 64

// SampledRows returns the table as readouts write it that have a row per second: a column
// that is sampled n times a second becomes n columns, NAME_1 to NAME_n, and what a sample
// of it lies behind its place is the column's offset. The places are by the column's name.
// It returns an error for a column whose samples have no such places.
func SampledRows(table Table) (rows Table, places map[string]RowSamples, err error) {
	if err := table.check(); err != nil {
		return rows, nil, err
	}
	grid := table.grid()
	if len(grid) == 0 {
		return table, nil, nil
	}
	rows, places = table, map[string]RowSamples{}
	rows.Columns = nil
	for _, c := range table.Columns {
		perRow, step, offset := c.placed(grid[0])
		if perRow == 0 {
			return Table{}, nil, fmt.Errorf("column %q: its samples do not come evenly through a second", c.Name)
		}
		place := RowSamples{Offset: float64(offset) / 1000}
		for i := range perRow {
			name := c.Name
			if perRow > 1 {
				name = fmt.Sprintf("%s_%d", c.Name, i+1)
			}
			place.Columns = append(place.Columns, name)
			rows.Columns = append(rows.Columns, c.only(name, func(at int64) bool { return (at-grid[0]-offset)%1000 == int64(i)*step }))
			times := rows.Columns[len(rows.Columns)-1].Times
			for k, at := range times {
				times[k] = float64(milliseconds(at)-offset-int64(i)*step) / 1000
			}
		}
		places[c.Name] = place
	}
	return rows, places, nil
}

// RowsProfile reads the rows as a profile reads the table they were made of: at the places
// of the frame, which are known.
func RowsProfile(p *schemas.Profile, places map[string]RowSamples) *schemas.Profile {
	out := *p
	out.Time.Accuracy = new(float64)
	out.Columns = map[string]schemas.Sources{}
	for name, sources := range p.Columns {
		for _, s := range sources {
			if place, ok := places[s.Column]; ok {
				s.TimeOffset += place.Offset
				if s.Column = place.Columns[0]; len(place.Columns) > 1 {
					s.Column, s.Samples = "", place.Columns
				}
			}
			out.Columns[name] = append(out.Columns[name], s)
		}
	}
	return &out
}

// placed returns the fewest places of a second that hold all samples, evenly apart by
// step, and the offset of the first, in milliseconds; 0 places where there are too many.
func (c *Column) placed(start int64) (perRow int, step, offset int64) {
	if len(c.Times) == 0 {
		return 1, 1000, 0
	}
	for perRow = 1; perRow <= mostRowSamples; perRow++ {
		if 1000%perRow != 0 {
			continue
		}
		step = int64(1000 / perRow)
		offset = (milliseconds(c.Times[0]) - start) % step
		if !slices.ContainsFunc(c.Times, func(at float64) bool { return (milliseconds(at)-start)%step != offset }) {
			return perRow, step, offset
		}
	}
	return 0, 0, 0
}

// only is the column with the samples whose times, in milliseconds, are chosen.
func (c *Column) only(name string, chosen func(at int64) bool) Column {
	out := Column{Name: name, Unit: c.Unit, Decimals: c.Decimals}
	for i, at := range c.Times {
		if !chosen(milliseconds(at)) {
			continue
		}
		out.Times = append(out.Times, at)
		if c.Texts != nil {
			out.Texts = append(out.Texts, c.Texts[i])
		} else {
			out.Numbers = append(out.Numbers, c.Numbers[i])
		}
	}
	if c.Texts != nil && out.Texts == nil {
		out.Texts = []string{}
	}
	if c.Texts == nil && out.Numbers == nil {
		out.Numbers = []float64{}
	}
	return out
}
