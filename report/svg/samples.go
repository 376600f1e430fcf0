package svg

import "sort"

// Samples is a series to draw: Times in seconds rising, one value each. Two
// samples at one time are where what is drawn changes: the line is broken there.
// After samples further apart than Gap seconds the line is broken; Hold
// is how long the last value before a break, or of a held series, is drawn on.
type Samples struct {
	Times, Values []float64
	Gap, Hold     float64
}

// Within gives the samples in from to to, and one on either side so that lines
// reach the edge.
func (s Samples) Within(from, to float64) Samples {
	first := sort.SearchFloat64s(s.Times, from)
	last := sort.Search(len(s.Times), func(i int) bool { return s.Times[i] > to })
	first, last = max(first-1, 0), min(last+1, len(s.Times))
	if first >= last {
		return Samples{Gap: s.Gap, Hold: s.Hold}
	}
	return Samples{s.Times[first:last], s.Values[first:last], s.Gap, s.Hold}
}

// Range gives the sample times in from to to.
func (s Samples) Range(from, to float64) []float64 {
	first := sort.SearchFloat64s(s.Times, from)
	last := sort.Search(len(s.Times), func(i int) bool { return s.Times[i] > to })
	return s.Times[first:max(first, last)]
}

// Linear draws straight lines between neighbouring samples, and leaves gaps
// open. Where several samples fall on one tenth-pair of units only their first,
// least, greatest and last are kept: that looks the same and bounds the size.
func (s Samples) Linear(x, y Scale) *Path {
	p := newPath(len(s.Times))
	thin := thinner{path: p}
	for i, t := range s.Times {
		if i > 0 && (t-s.Times[i-1] > s.Gap || t == s.Times[i-1]) {
			thin.flush()
			p.Lift()
		}
		thin.add(x.At(t), y.At(s.Values[i]))
	}
	thin.flush()
	return p
}

// Steps draws every value held until the next sample.
func (s Samples) Steps(x, y Scale) *Path {
	p := &Path{}
	for i, t := range s.Times {
		at := y.At(s.Values[i])
		if i == 0 || s.Values[i] != s.Values[i-1] || !p.open {
			p.StepTo(x.At(t), at)
		}
		if last := i+1 == len(s.Times); last || s.Times[i+1]-t > s.Gap {
			end := t + s.Hold
			if !last {
				end = min(end, s.Times[i+1])
			}
			p.LineTo(x.At(end), at)
			p.Lift()
		}
	}
	return p
}

// Dots marks every sample inside the scale of x, none left out.
func (s Samples) Dots(x, y Scale) *Path {
	p := newPath(len(s.Times))
	for i, t := range s.Times {
		if t >= x.Low && t <= x.High {
			p.Dot(x.At(t), y.At(s.Values[i]))
		}
	}
	return p
}

// columnWidth is the width in units within which samples are merged.
const columnWidth = 0.8

// thinner keeps the first, least, greatest and last point of every column.
type thinner struct {
	path        *Path
	n           int
	start       float64
	first, last point
	low, high   point
}

type point struct{ x, y float64 }

func (t *thinner) add(x, y float64) {
	at := point{x, y}
	if t.n > 0 && x-t.start >= columnWidth {
		t.flush()
	}
	if t.n == 0 {
		t.start, t.first, t.low, t.high = x, at, at, at
	}
	if y < t.low.y {
		t.low = at
	}
	if y > t.high.y {
		t.high = at
	}
	t.last = at
	t.n++
}

func (t *thinner) flush() {
	if t.n == 0 {
		return
	}
	a, b := t.low, t.high
	if b.x < a.x {
		a, b = b, a
	}
	for _, p := range []point{t.first, a, b, t.last} {
		t.path.LineTo(p.x, p.y)
	}
	t.n = 0
}
