package readings

import (
	"math"
	"sort"
)

// Envelope bounds a number in every history, stretch by stretch: stretch i is from Start +
// i × Each to Start + (i+1) × Each seconds, and the number lies in Low[i] to High[i] on all
// of it. Where it is not known throughout a stretch both are not numbers. An Each of 0
// stands for one stretch that is all time.
//
// Most comparisons are decided on most stretches by their envelopes, so that samples need
// looking at on the few others only.
type Envelope struct {
	Start, Each float64
	Low, High   []float64
}

// LevelEnvelope is that of a number that does not change.
func LevelEnvelope(value float64) Envelope {
	return Envelope{Low: []float64{value}, High: []float64{value}}
}

// newEnvelope has room for the stretches of a window.
func newEnvelope(window Span, each float64) Envelope {
	n := int(math.Ceil(window.Seconds() / each))
	return Envelope{Start: window.Start, Each: each, Low: make([]float64, n), High: make([]float64, n)}
}

func (e Envelope) stretch(i int) Span {
	return Span{e.Start + float64(i)*e.Each, e.Start + float64(i+1)*e.Each}
}

func (e Envelope) set(i int, low, high float64) { e.Low[i], e.High[i] = low, high }

func (e Envelope) at(i int) (low, high float64) {
	if e.Each == 0 {
		i = 0
	}
	return e.Low[i], e.High[i]
}

// joined makes an envelope of the bounds of two on each stretch.
func joined(a, b Envelope, f func(aLow, aHigh, bLow, bHigh float64) (low, high float64)) Envelope {
	out := a
	if a.Each == 0 {
		out = b
	}
	n := len(out.Low)
	out.Low, out.High = make([]float64, n), make([]float64, n)
	for i := range n {
		aLow, aHigh := a.at(i)
		bLow, bHigh := b.at(i)
		out.Low[i], out.High[i] = f(aLow, aHigh, bLow, bHigh)
	}
	return out
}

// Add is the envelope of a + b, Subtract that of a − b.
func (e Envelope) Add(o Envelope) Envelope {
	return joined(e, o, func(l, h, m, k float64) (float64, float64) { return l + m, h + k })
}

func (e Envelope) Subtract(o Envelope) Envelope {
	return joined(e, o, func(l, h, m, k float64) (float64, float64) { return l - k, h - m })
}

// Lowest is the envelope of the smaller of the two, where both are known.
func (e Envelope) Lowest(o Envelope) Envelope {
	return joined(e, o, func(l, h, m, k float64) (float64, float64) { return min(l, m), min(h, k) })
}

// Ranged is the envelope of a number worked out from this one: f bounds it by the bounds
// of this one.
func (e Envelope) Ranged(f func(low, high float64) (least, most float64)) Envelope {
	return joined(e, e, func(l, h, _, _ float64) (float64, float64) {
		if math.IsNaN(l) || math.IsNaN(h) {
			return math.NaN(), math.NaN()
		}
		return f(l, h)
	})
}

// Mapped is the envelope of a function of the number that never falls, or never rises.
func (e Envelope) Mapped(f func(float64) float64) Envelope {
	return e.Ranged(func(l, h float64) (float64, float64) {
		l, h = f(l), f(h)
		return min(l, h), max(l, h)
	})
}

// Absolute is the envelope of the number without its sign.
func (e Envelope) Absolute() Envelope {
	return joined(e, e, func(l, h, _, _ float64) (float64, float64) {
		return max(0*l, l, -h), max(h, -l)
	})
}

// Through is the envelope of the number looked up in a table.
func (e Envelope) Through(table [][2]float64) Envelope {
	return e.Mapped(func(x float64) float64 { return lookUp(table, x) })
}

// Envelope is that of a line within a window.
func (l *Line) Envelope(window Span, each float64) Envelope {
	m := l.asked()
	return l.envelope(window, each, func(first, last int) (low, high float64) {
		low, high = extremes(l.Values[first : last+1])
		by := l.Accuracy
		if m != nil {
			least, most := low, high // with the samples the margins depend on
			for _, beside := range [][]float64{l.Values[max(0, first-MarginReach):first], l.Values[last+1 : min(len(l.Values), last+1+MarginReach)]} {
				for _, v := range beside {
					least, most = min(least, v), max(most, v)
				}
			}
			by += m.of.AtMost(most - least)
		}
		return low - by, high + by
	})
}

func extremes(values []float64) (low, high float64) {
	low, high = values[0], values[0]
	for _, v := range values[1:] {
		if v < low {
			low = v
		} else if v > high {
			high = v
		}
	}
	return low, high
}

// Envelope is that of the number each value stands for.
func (h *Held[T]) Envelope(means func(T) float64, window Span, each float64) Envelope {
	return h.envelope(window, each, func(first, last int) (low, high float64) {
		low, high = math.Inf(1), math.Inf(-1)
		for i := first; i <= last; i++ {
			if v := means(h.values[i]); i == first || h.values[i] != h.values[i-1] {
				low, high = min(low, v), max(high, v)
			}
		}
		return low, high
	})
}

// envelope makes one of the bounds over the samples of each stretch, the ones before and
// behind it included, where there is no gap between them.
func (s Sampling) envelope(window Span, each float64, bounds func(first, last int) (low, high float64)) Envelope {
	e := newEnvelope(window, each)
	first := 0 // the last sample at or before the stretch
	for i := range e.Low {
		x := e.stretch(i)
		x.Start, x.End = x.Start-s.TimeAccuracy, x.End+s.TimeAccuracy
		for first+1 < len(s.Times) && s.Times[first+1] <= x.Start {
			first++
		}
		e.set(i, math.NaN(), math.NaN())
		if first >= len(s.Times) || s.Times[first] > x.Start {
			continue
		}
		last := first
		for last+1 < len(s.Times) && s.Times[last] < x.End && s.Times[last+1]-s.Times[last] <= s.Gap {
			last++
		}
		if s.Times[last] >= x.End {
			low, high := bounds(first, last)
			e.set(i, low, high)
		}
	}
	return e
}

// Envelope is that of the number put together.
func (s Spliced) Envelope(window Span, each float64) Envelope {
	e := newEnvelope(window, each)
	var covered Spans
	parts := make([]Envelope, len(s))
	for i, p := range s {
		parts[i] = p.Line.Envelope(window, each)
		covered = Union(covered, p.Where)
	}
	for i := range e.Low {
		x := e.stretch(i)
		low, high := math.Inf(1), math.Inf(-1)
		if !covered.Covers(Span{x.Start, min(x.End, window.End)}) {
			low, high = math.NaN(), math.NaN()
		}
		for k, p := range s {
			from := sort.Search(len(p.Where), func(j int) bool { return p.Where[j].End >= x.Start })
			if from < len(p.Where) && p.Where[from].Start <= x.End {
				low, high = min(low, parts[k].Low[i]+p.Shift), max(high, parts[k].High[i]+p.Shift)
			}
		}
		e.set(i, low, high)
	}
	return e
}

// decide lists where, within the windows, the relation surely holds between two numbers,
// where it surely does not, and where their envelopes leave it open.
func decide(a Envelope, r Relation, b Envelope, windows Spans) (yes, no, open Spans) {
	grid := a
	if a.Each == 0 {
		grid = b
	}
	if grid.Each == 0 {
		return nil, nil, windows
	}
	for i := range grid.Low {
		aLow, aHigh := a.at(i)
		bLow, bHigh := b.at(i)
		above, below := surelyAbove(aLow, bHigh), surelyAbove(bLow, aHigh)
		holds, fails := above, below
		switch r {
		case Below, AtMost:
			holds, fails = below, above
		case Equal:
			holds, fails = false, above || below
		case Unequal:
			holds, fails = above || below, false
		}
		x := grid.stretch(i)
		switch { // nothing is surely above what is not known, nor below it
		case holds:
			yes = yes.add(x)
		case fails:
			no = no.add(x)
		default:
			open = open.add(x)
		}
	}
	if n := len(grid.Low); n > 0 { // what lies outside of it
		inside := Spans{{grid.Start, grid.stretch(n - 1).End}}
		open = Union(open, inside.Complement(windows))
	}
	return Intersect(yes, windows), Intersect(no, windows), Intersect(open, windows)
}

// surelyAbove allows for the rounding of what is worked out more closely.
func surelyAbove(low, high float64) bool {
	const rounding = 1e-9
	return low-high > rounding*(1+math.Abs(low)+math.Abs(high)) || math.IsInf(low-high, 1)
}

// CompareClosely is where a stands in the relation to b, by their envelopes where these
// tell, and where they do not as closely says. It is asked for times a stretch wider than
// needed, so that no piece of a curve is cut where it counts.
func CompareClosely(a Envelope, r Relation, b Envelope, windows Spans, closely func(Spans) Condition) Condition {
	yes, no, open := decide(a, r, b, windows)
	if len(yes) == 0 && len(no) == 0 {
		return closely(windows)
	}
	c := Condition{Certain: yes, True: yes, False: no, Possible: yes}
	if len(open) == 0 {
		return c
	}
	each := max(a.Each, b.Each)
	wide := Intersect(open.Widen(-each, each), windows)
	return c.Followed(closely(wide).Clip(open))
}
