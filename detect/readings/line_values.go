package readings

import (
	"math"
	"sort"
)

// Change is how much the line changes over a window; ok is false where it is unknown
// at an end.
func (l *Line) Change(from, to float64) (d float64, ok bool) {
	a, ok1 := l.At(from)
	b, ok2 := l.At(to)
	return b - a, ok1 && ok2
}

// At is the nominal value at t; ok is false where it is unknown.
func (l *Line) At(t float64) (v float64, ok bool) {
	i := sort.SearchFloat64s(l.Times, t)
	switch {
	case i < len(l.Times) && l.Times[i] == t:
		return l.Values[i], true
	case i == 0 || i == len(l.Times):
		return 0, false
	}
	t0, t1 := l.Times[i-1], l.Times[i]
	if t1-t0 > l.Gap {
		return 0, false
	}
	return l.Values[i-1] + (l.Values[i]-l.Values[i-1])*(t-t0)/(t1-t0), true
}

// Mean is the mean of a line's samples in a window; ok is false when samples are
// missing in it.
func (l *Line) Mean(from, to float64) (m float64, ok bool) {
	first, last := sort.SearchFloat64s(l.Times, from), sort.SearchFloat64s(l.Times, to)
	n := last - first
	if n == 0 || float64(n+1)*l.Interval < to-from {
		return 0, false
	}
	for _, v := range l.Values[first:last] {
		m += v
	}
	return m / float64(n), true
}

// Largest is the largest of the values, minus infinity of none.
func Largest(values []float64) float64 {
	top := math.Inf(-1)
	for _, v := range values {
		top = max(top, v)
	}
	return top
}

// Extremes is the smallest and largest sample within the spans, infinite when
// there is none.
func (l *Line) Extremes(spans Spans) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range spans {
		from, to := sort.SearchFloat64s(l.Times, s.Start), sort.SearchFloat64s(l.Times, s.End)
		for _, v := range l.Values[from:to] {
			low, high = min(low, v), max(high, v)
		}
	}
	return low, high
}
