package ingest

import (
	"fmt"
	"slices"
	"strings"

	"downlock/schemas"
)

// Some readouts write a word that is sampled several times in a row into as many
// columns: RALT_1 to RALT_8. Each of them is read as any column is, by the times of its
// rows. They are put together at the end, since the time of a sample inside its row is
// known only once the next row is. A pair of columns that together say true or false is
// read in the same way.

// longestRow is how many usual intervals a row may last: beyond that rows are missing
// after it, and its own samples keep the usual distance.
const longestRow = 1.5

// newChannels makes the channels of a source: one, or one for each of its columns.
func newChannels(parameter schemas.Parameter, source *schemas.Source, invalidTokens []string) []*channel {
	first := newChannel(parameter, source, invalidTokens)
	columns := source.Samples
	if partner, _ := source.Partner(); partner != "" {
		columns = []string{source.Column, partner}
	}
	if len(columns) == 0 {
		return []*channel{first}
	}
	for i, name := range columns {
		c := first
		if i > 0 {
			c = newChannel(parameter, source, invalidTokens)
			c.behind = true
		}
		c.column = strings.TrimSpace(name)
		first.samples = append(first.samples, c)
	}
	return first.samples
}

// columns lists the channels that make up the source of this one, of which it is the first.
func (c *channel) columns() []*channel {
	if c.samples == nil {
		return []*channel{c}
	}
	return c.samples
}

// sameColumn reports whether two channels read the same of one column, or of the same ones.
func (c *channel) sameColumn(o *channel) bool {
	return c.source.Name() == o.source.Name() && slices.EqualFunc(c.columns(), o.columns(), func(a, b *channel) bool { return a.column == b.column })
}

// present reports whether the export has the source. One with a part of its columns is
// left out, since the times of its samples are not known; the note says so.
func (c *channel) present() (whole bool, note string) {
	var missing []string
	for _, one := range c.columns() {
		if !one.seen {
			missing = append(missing, one.column)
		}
	}
	if partner, _ := c.source.Partner(); len(missing) == 1 && partner != "" {
		note = fmt.Sprintf("%s is not read from its pair of columns: the export has no %s", c.parameter.Name, listed(missing))
	} else if n := len(c.samples); len(missing) > 0 && len(missing) < n {
		note = fmt.Sprintf("%s is not read from its %d sample columns: the export has no %s; under samples in the profile, list those it has", c.parameter.Name, n, listed(missing))
	}
	return len(missing) == 0, note
}

// joined puts the columns of a source together in a stretch: those with the samples of a
// row, or a pair.
func (r *reading) joined(c *channel, k int, s stretch) (whole *channel, t timing) {
	var parts []*channel
	whole = newChannel(c.parameter, c.source, nil)
	whole.column, whole.samples, whole.meaning, whole.special = c.source.Name(), c.samples, c.meaning, c.special
	for _, one := range c.samples {
		p := one.piece(k)
		if p.packed != nil {
			unpacked := p.unpackedCopy()
			p.packed, p.times, p.numbers, p.codes = nil, nil, nil, nil
			p = unpacked
		}
		apart := p.separate()
		if apart.conflict {
			return nil, apart
		}
		t.spread, t.same, t.width = t.spread+apart.spread, t.same+apart.same, max(t.width, apart.width)
		whole.tokens += p.tokens
		parts = append(parts, p)
	}
	whole.width = t.width
	if partner, even := c.source.Partner(); partner != "" {
		whole.takePair(parts[0], parts[1], even)
	} else {
		whole.takeRows(parts, s)
	}
	return whole, t
}

// takePair takes the rows with a sample in both columns; the codes are 0 and 1.
func (c *channel) takePair(a, b *channel, even bool) {
	same := uint8(0)
	if even {
		same = 1
	}
	for i, j := 0, 0; i < len(a.times) && j < len(b.times); {
		switch {
		case a.times[i] < b.times[j]:
			i++
		case a.times[i] > b.times[j]:
			j++
		default:
			c.times = append(c.times, a.times[i])
			c.codes = append(c.codes, a.codes[i]^b.codes[j]^same)
			i, j = i+1, j+1
		}
	}
}

// takeRows takes the samples of rows. The i-th sample of n is i/n of the row's interval
// after its row: that to the next row with a sample, or the usual one after the last row
// and where rows are missing.
func (c *channel) takeRows(parts []*channel, s stretch) {
	rows := parts[0].times
	for _, p := range parts[1:] {
		if !slices.Equal(rows, p.times) {
			rows = slices.Concat(rows, p.times)
			slices.Sort(rows)
			rows = slices.Compact(rows)
		}
	}
	usual := usualRow(rows)
	if usual == 0 && s.rows > 1 {
		usual = (s.last - s.first) / float64(s.rows-1)
	}
	c.grow(len(rows) * len(parts))
	next := make([]int, len(parts)) // sample of each part
	for j, at := range rows {
		step := usual
		if j+1 < len(rows) && rows[j+1]-at <= longestRow*usual {
			step = rows[j+1] - at
		}
		for i, p := range parts {
			if next[i] == len(p.times) || p.times[next[i]] != at {
				continue
			}
			if step > 0 || len(c.times) == 0 { // a single row has room for one sample
				c.takeSample(at+step*float64(i)/float64(len(parts)), p, next[i])
			}
			next[i]++
		}
	}
}

// usualRow is the median interval between rows, of an even number the shorter of the two
// in the middle: a missing row makes intervals longer, and nothing makes them shorter.
func usualRow(rows []float64) float64 {
	if len(rows) < 2 {
		return 0
	}
	steps := make([]float64, len(rows)-1)
	for i := range steps {
		steps[i] = rows[i+1] - rows[i]
	}
	slices.Sort(steps)
	return steps[(len(steps)-1)/2]
}

// takeSample adds a sample of another channel of the same parameter.
func (c *channel) takeSample(at float64, from *channel, i int) {
	c.times = append(c.times, at)
	if c.numeric {
		c.numbers = append(c.numbers, from.numbers[i])
	} else {
		c.codes = append(c.codes, from.codes[i])
	}
}
