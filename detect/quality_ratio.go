package detect

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"downlock/detect/readings"
)

// ratio is how many times one series is what another makes of it: the median
// over windows, and the quarters either side of it.
type ratio struct {
	middle, low, high float64
	windows           int
}

func newRatio(values []float64) ratio {
	if len(values) == 0 {
		return ratio{}
	}
	slices.Sort(values)
	n := len(values)
	return ratio{values[n/2], values[n/4], values[n*3/4], n}
}

// near says that the middle is within a tenth of a factor, either way, and that
// half of the windows scatter around it by no more than spread of it.
func (r ratio) near(factor, spread float64) bool {
	return math.Abs(r.middle/factor-1) < 0.1 && r.scatter() <= spread
}

func (r ratio) scatter() float64 { return (r.high - r.low) / math.Abs(r.middle) }

func (r ratio) String() string { return fmt.Sprintf("%.3g", r.middle) }

// change is a parameter's change over a window; ok is false where it is unknown
// at an end.
func change(l *readings.Line, from, to float64) (d float64, ok bool) {
	a, ok1 := at(l, from)
	b, ok2 := at(l, to)
	return b - a, ok1 && ok2
}

// at reads a line between its samples.
func at(l *readings.Line, t float64) (v float64, ok bool) {
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

// mean is the mean of a line's samples in a window; ok is false when samples are
// missing in it.
func mean(l *readings.Line, from, to float64) (m float64, ok bool) {
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

// largest is the largest of the values, minus infinity of none.
func largest(values []float64) float64 {
	top := math.Inf(-1)
	for _, v := range values {
		top = max(top, v)
	}
	return top
}

// extremesIn is the smallest and largest sample within the spans, infinite when
// there is none.
func extremesIn(l *readings.Line, spans readings.Spans) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range spans {
		from, to := sort.SearchFloat64s(l.Times, s.Start), sort.SearchFloat64s(l.Times, s.End)
		for _, v := range l.Values[from:to] {
			low, high = min(low, v), max(high, v)
		}
	}
	return low, high
}

// mostWindows is as many as a ratio needs: more of a long flight say the same.
const mostWindows = 500

// windowsOf cuts stretches of time into windows of equal length, further apart
// where there would be more than mostWindows.
func windowsOf(spans readings.Spans, seconds float64) (out readings.Spans) {
	step := max(seconds, spans.Seconds()/mostWindows)
	for _, s := range spans {
		for t := s.Start; t+seconds <= s.End; t += step {
			out = append(out, Span{Start: t, End: t + seconds})
		}
	}
	return out
}
