package readings

import "sort"

// Held is a parameter that holds its value from sample to sample: a discrete, a
// state or a step, as runs of equal samples.
type Held[T comparable] struct {
	Sampling
	values []T
	runs   []run
}

// instant (s) is the length given to a sample. A sample has none, yet the value it
// shows is certain; with a length it counts, even where the samples beside it
// differ. Far below any sampling interval and far above the rounding of times.
const instant = 1e-6

// run is the samples first to last: equal values and no gap between them.
type run struct{ first, last int }

// NewHeld prepares the samples; the slices are kept, not copied.
func NewHeld[T comparable](s Sampling, values []T) *Held[T] {
	h := &Held[T]{Sampling: s, values: values}
	if len(values) == 0 {
		return h
	}
	current := run{0, 0}
	for i := 1; i < len(values); i++ {
		if values[i] != values[i-1] || s.Times[i]-s.Times[i-1] > s.Gap {
			current.last = i - 1
			h.runs = append(h.runs, current)
			current.first = i
		}
	}
	current.last = len(values) - 1
	h.runs = append(h.runs, current)
	return h
}

// bounds returns the stretch from a run's first to its last sample, the time until
// which its value is the nominal reading, and that of the next run's first
// sample.
func (h *Held[T]) bounds(k int) (first, last, nominalEnd, next float64) {
	first, last = h.Times[h.runs[k].first], h.Times[h.runs[k].last]
	if k == 0 {
		first -= h.Interval
	}
	if k == len(h.runs)-1 {
		last += h.Interval
		return first, last, last, last
	}
	next = h.Times[h.runs[k+1].first]
	nominalEnd = next
	if next-last > h.Gap {
		nominalEnd = min(last+h.Interval, next)
	}
	return first, min(last+instant, next), nominalEnd, next
}

func (h *Held[T]) value(k int) T { return h.values[h.runs[k].first] }

// Changes are the times, within a span, of the samples that differ from the one
// before, gaps between them or not.
func (h *Held[T]) Changes(within Span) (times []float64) {
	first := sort.Search(len(h.runs), func(k int) bool { return h.Times[h.runs[k].first] >= within.Start })
	for k := max(first, 1); k < len(h.runs); k++ {
		t := h.Times[h.runs[k].first]
		if t > within.End {
			break
		}
		if h.value(k) != h.value(k-1) {
			times = append(times, t)
		}
	}
	return times
}

// Condition is where the value is one that holds, within the windows.
func (h *Held[T]) Condition(holds func(T) bool, windows Spans) Condition {
	return h.loosely(windows, func(w Spans) Condition { return h.condition(holds, w) })
}

func (h *Held[T]) condition(holds func(T) bool, windows Spans) Condition {
	var c Condition
	var not Spans // false in every history
	for k := range h.runs {
		first, last, nominalEnd, next := h.bounds(k)
		yes := holds(h.value(k))
		if yes {
			c.Certain = c.Certain.add(Span{first, last})
			c.True = c.True.add(Span{first, nominalEnd})
		} else {
			not = not.add(Span{first, last})
			c.False = c.False.add(Span{first, nominalEnd})
		}
		if k+1 < len(h.runs) && next-last <= h.Gap && holds(h.value(k+1)) == yes {
			if yes {
				c.Certain = c.Certain.add(Span{last, next})
			} else {
				not = not.add(Span{last, next})
			}
		}
	}
	c.Possible = not.Complement(windows)
	c.Certain, c.True, c.False = Intersect(c.Certain, windows), Intersect(c.True, windows), Intersect(c.False, windows)
	return c
}

// Number is the number each value stands for, within the windows.
func (h *Held[T]) Number(means func(T) float64, windows Spans) Number {
	return h.shaken(windows, func(w Spans) Number { return h.number(means, w) })
}

func (h *Held[T]) number(means func(T) float64, windows Spans) Number {
	var n Number
	for k := range h.runs {
		first, last, nominalEnd, next := h.bounds(k)
		v := means(h.value(k))
		n.Nominal = n.Nominal.level(first, nominalEnd, v)
		n.Low, n.High = n.Low.level(first, last, v), n.High.level(first, last, v)
		if k+1 < len(h.runs) && next-last <= h.Gap {
			w := means(h.value(k + 1))
			n.Low, n.High = n.Low.level(last, next, min(v, w)), n.High.level(last, next, max(v, w))
		}
	}
	return n.Within(windows)
}

// Values are the samples, not copied.
func (h *Held[T]) Values() []T { return h.values }

// HeldNumber is a number that holds its value from sample to sample.
type HeldNumber struct{ *Held[float64] }

// Number is the number within the windows.
func (s HeldNumber) Number(windows Spans) Number {
	return s.Held.Number(func(v float64) float64 { return v }, windows)
}

func (s HeldNumber) samples() []float64 { return s.Times }
func (s HeldNumber) accuracy() float64  { return 0 }

func (s HeldNumber) piece(i int, hold float64) Piece {
	n := len(s.Times)
	switch {
	case i == 0:
		return Piece{s.Times[0] - s.Interval, s.Times[0], s.values[0], s.values[0]}
	case i == n:
		return Piece{s.Times[n-1], s.Times[n-1] + s.Interval, s.values[n-1], s.values[n-1]}
	}
	end := s.Times[i]
	if end-s.Times[i-1] > s.Gap {
		end = min(s.Times[i-1]+hold, end)
	}
	return Piece{s.Times[i-1], end, s.values[i-1], s.values[i-1]}
}

// level appends a level piece, lengthening the last one where it goes on.
func (c Curve) level(start, end, value float64) Curve {
	if !(start < end) {
		return c
	}
	if k := len(c) - 1; k >= 0 && c[k].End == start && c[k].From == value && c[k].To == value {
		c[k].End = end
		return c
	}
	return append(c, Piece{start, end, value, value})
}

// At is the value of the last sample at or before t and its time; ok is false
// before the first one.
func (h *Held[T]) At(t float64) (value T, ok bool) {
	i := sort.Search(len(h.Times), func(i int) bool { return h.Times[i] > t })
	if i == 0 {
		return value, false
	}
	return h.values[i-1], true
}
