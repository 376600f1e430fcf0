package detect

import (
	"math"
	"sort"

	"downlock/ingest"
	"downlock/schemas"
)

// surelyAgree says that two sources of a number nowhere in a flight differ by more
// than is allowed. It looks at the samples alone, makes no curves, and so says in a
// fiftieth of the time what is nearly always so; false says nothing.
//
// Between two samples of either source both are straight or level, so that their
// difference is largest at one of them, or at the ends of what is known.
func surelyAgree(used, other *ingest.Series, within Span, allowed float64) bool {
	a, b := newWalker(used, within), newWalker(other, within)
	if used.Parameter.Kind == schemas.Continuous {
		allowed += used.Accuracy + other.Accuracy
	}
	allowed *= 1 - 1e-9 // for rounding; what is nearer is looked at more closely
	agree := func(t float64) bool {
		v, ok := a.at(t)
		w, both := b.at(t)
		return !ok || !both || math.Abs(v-w) <= allowed
	}
	for _, t := range []float64{within.Start, within.End, a.first, a.last, b.first, b.last} {
		a.next, b.next = 0, 0
		if !agree(t) {
			return false
		}
	}
	a.next, b.next = 0, 0
	for {
		t := min(a.ahead(), b.ahead())
		if math.IsInf(t, 1) {
			return true
		}
		if !agree(t) {
			return false
		}
		a.pass(t)
		b.pass(t)
	}
}

// walker reads a series at rising times.
type walker struct {
	times, values []float64
	gap           float64
	held          bool
	first, last   float64 // the ends of what is known: a sample counts for an interval
	next          int     // the first sample that was not passed
}

// newWalker takes the samples within a span and the ones around it.
func newWalker(s *ingest.Series, within Span) *walker {
	times, values := s.TimeValues(), s.Numbers()
	from := max(sort.SearchFloat64s(times, within.Start)-1, 0)
	to := min(sort.SearchFloat64s(times, within.End)+1, len(times))
	w := &walker{times: times[from:to], values: values[from:to], gap: s.Gap, held: s.Parameter.Kind == schemas.Step}
	w.first, w.last = times[from]-s.Interval, times[to-1]+s.Interval
	return w
}

// ahead is the time of the next sample, infinite after the last.
func (w *walker) ahead() float64 {
	if w.next == len(w.times) {
		return math.Inf(1)
	}
	return w.times[w.next]
}

// pass goes past a sample at that time.
func (w *walker) pass(t float64) {
	if w.ahead() <= t {
		w.next++
	}
}

// at is the value at a time, which does not come before the samples passed; ok is
// false in a gap and beyond the ends.
func (w *walker) at(t float64) (v float64, ok bool) {
	for w.ahead() < t {
		w.next++
	}
	switch i := w.next; {
	case t < w.first || t > w.last:
		return 0, false
	case i < len(w.times) && w.times[i] == t, i == 0:
		return w.values[i], true
	case i == len(w.times):
		return w.values[i-1], true
	case w.times[i]-w.times[i-1] > w.gap:
		return 0, false
	case w.held:
		return w.values[i-1], true
	default:
		t0, t1 := w.times[i-1], w.times[i]
		return w.values[i-1] + (w.values[i]-w.values[i-1])*(t-t0)/(t1-t0), true
	}
}
