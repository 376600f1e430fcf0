package readings

// Margins say by how much more than its Accuracy the truth may lie off a line at its
// samples. They are asked for a few samples at a time, where they matter.
type Margins interface {
	// Fill sets the margins of the samples from one up to but not including another, none
	// below zero.
	Fill(margins []float64, from, to int)
	// AtMost bounds the margin of a sample from which none of the MarginReach samples to
	// either side, and none of these from another, is further away than the spread.
	AtMost(spread float64) float64
}

// MarginReach is how many samples to either side a margin may depend on.
const MarginReach = 8

// keptMargins keeps the margins of a line that were asked for, block by block.
type keptMargins struct {
	of      Margins
	margins []float64
	filled  []bool
}

// share makes the place in which the margins are kept.
func (l *Line) share() *keptMargins {
	if l.kept == nil {
		l.kept = &keptMargins{}
	}
	return l.kept
}

// asked returns the margins, none filled, nil where there are none.
func (l *Line) asked() *keptMargins {
	if l.Margins == nil {
		return nil
	}
	m := l.share()
	if m.of == nil {
		m.of = l.Margins()
		m.margins = make([]float64, len(l.Values))
		m.filled = make([]bool, len(l.Values)/blockLength+1)
	}
	return m
}

// fill sees to it that the margins of a block are there.
func (m *keptMargins) fill(k int) {
	if !m.filled[k] {
		m.filled[k] = true
		m.of.Fill(m.margins, k*blockLength, min((k+1)*blockLength, len(m.margins)))
	}
}

// margins returns the margins of all samples, of which those from one up to another are
// filled.
func (l *Line) margins(from, to int) []float64 {
	m := l.asked()
	for k := from / blockLength; k*blockLength < to; k++ {
		m.fill(k)
	}
	return m.margins
}

// reading is one of the three of a line.
type reading int

const (
	lower   reading = -1
	nominal reading = 0
	upper   reading = 1
)

// lineValues are the values of a line in one reading, but for its Accuracy.
type lineValues struct {
	*Line
	reading
	*keptMargins // nil where there are none, or for the nominal reading
}

func (l *Line) valuesOf(r reading) *lineValues {
	v := &lineValues{Line: l, reading: r}
	if r != nominal {
		v.keptMargins = l.asked()
	}
	return v
}

func (v *lineValues) at(i int) float64 {
	if v.keptMargins == nil {
		return v.Values[i]
	}
	if !v.filled[i/blockLength] {
		v.fill(i / blockLength)
	}
	return v.Values[i] + float64(v.reading)*v.keptMargins.margins[i]
}

// within bounds the values of a block without looking at its margins.
func (v *lineValues) within(k int) (smallest, largest float64) {
	b := v.blocks[k]
	smallest, largest = b.smallest, b.largest
	if v.keptMargins == nil {
		return smallest, largest
	}
	low, high := smallest, largest // with the blocks beside it
	for j := max(0, k-1); j < min(len(v.blocks), k+2); j++ {
		low, high = min(low, v.blocks[j].smallest), max(high, v.blocks[j].largest)
	}
	most := v.of.AtMost(high - low)
	if v.reading == lower {
		return smallest - most, largest
	}
	return smallest, largest + most
}
