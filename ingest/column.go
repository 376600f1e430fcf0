package ingest

import "slices"

// column is one loaded column. Numbers or texts has an entry per row.
type column struct {
	name    string
	numbers []float64 // may be the file's own: nobody changes them
	texts   []string
	valid   []bool // of the rows up to the last null; nil where no cell is null
	nulls   int
	text    bool // the cells are texts
	boolean bool // the texts are true and false

	// Of a sparse column there are only the cells that are no nulls, each at its row, until
	// it is spread.
	sparse bool
	places []int32
	total  int // rows, of a Parquet column
}

func (c *column) has(row int) bool { return c != nil && (row >= len(c.valid) || c.valid[row]) }

func (c *column) rows() int {
	if c.sparse {
		return c.total
	}
	return max(len(c.numbers), len(c.texts))
}

// spread gives a sparse column an entry per row.
func (c *column) spread() {
	if !c.sparse {
		return
	}
	c.sparse = false
	c.valid = slices.Grow(c.valid[:0], c.total)[:c.total]
	clear(c.valid)
	for _, row := range c.places {
		c.valid[row] = true
	}
	if c.text {
		c.texts = spread(c.texts, c.places, c.total)
	} else {
		c.numbers = spread(c.numbers, c.places, c.total)
	}
}

// spread puts each value at its place, the last one first. What stands between them is not
// looked at.
func spread[T any](values []T, places []int32, total int) []T {
	values = slices.Grow(values, total-len(values))[:total]
	for i := len(places) - 1; i >= 0; i-- {
		values[places[i]] = values[i]
	}
	return values
}

// reserve makes room for so many rows in all.
func (c *column) reserve(rows int) {
	if c.text {
		c.texts = slices.Grow(c.texts, max(rows-len(c.texts), 0))
	} else {
		c.numbers = slices.Grow(c.numbers, max(rows-len(c.numbers), 0))
	}
}

// appendCells appends cells of another column, by their places in it; a place below 0 is a
// null.
func (c *column) appendCells(from *column, places []int32) {
	c.text, c.boolean = from.text, from.boolean
	begin := c.rows()
	if c.text {
		c.texts = appendPlaced(c.texts, from.texts, places)
	} else {
		c.numbers = appendPlaced(c.numbers, from.numbers, places)
	}
	if first := slices.IndexFunc(places, func(at int32) bool { return !from.present(at) }); first < 0 {
		return
	}
	for len(c.valid) < begin {
		c.valid = append(c.valid, true)
	}
	c.valid = slices.Grow(c.valid, len(places))
	for _, at := range places {
		has := from.present(at)
		c.valid = append(c.valid, has)
		if !has {
			c.nulls++
		}
	}
}

func (c *column) present(at int32) bool {
	return at >= 0 && (c.valid == nil || c.has(int(at)))
}

// appendPlaced appends the cell at each place of from, and a zero for a place below 0.
func appendPlaced[T any](to, from []T, places []int32) []T {
	begin := len(to)
	to = slices.Grow(to, len(places))[:begin+len(places)]
	for i, at := range places {
		if at >= 0 {
			to[begin+i] = from[at]
		} else {
			var none T
			to[begin+i] = none
		}
	}
	return to
}
