package soundness

import (
	"fmt"
	"math"

	"downlock/detect/readings"
	"downlock/detect/samples"
)

// An aircraft lifts its nose before its main wheels, and lowers it after them: a main
// strut that is the first to extend and the last to be compressed is the nose strut.
const (
	noseLeads  = 0.6  // s; less may be sampling
	noseAtMost = 20.0 // s; further apart they are of different lift-offs
)

// noseStrut finds the nose strut in the place of a main one.
func noseStrut(s *samples.Set) Check {
	c := Check{ID: "strut-order", Title: "order of the nose and main struts", Outcome: NotPossible, Parameters: []string{"nose_strut_compressed"}}
	nose, left, right := strut(s, "nose"), strut(s, "left"), strut(s, "right")
	if nose == nil || left == nil || right == nil {
		c.Parameters, c.Evidence = []string{}, "nose and main struts are not all recorded"
		return c
	}
	asLeft, orders := leads(s, left, nose, right)
	asRight, _ := leads(s, right, nose, left)
	c.Evidence = fmt.Sprintf("in %d lift-offs and touchdowns, the left strut moved when the nose strut should %d times, and the right strut %d times", orders, asLeft, asRight)
	if orders == 0 {
		return c
	}
	c.Outcome = Passed
	for main, times := range map[string]int{"left_strut_compressed": asLeft, "right_strut_compressed": asRight} {
		if times == orders {
			c.Outcome, c.Parameters = Failed, []string{"nose_strut_compressed", main}
			c.Hint = "exchange the columns of nose_strut_compressed and " + main
		}
	}
	return c
}

// strut is when a leg's strut is compressed, short contacts left out; nil when it is
// not recorded.
func strut(s *samples.Set, leg string) readings.Spans {
	name := leg + "_strut_compressed"
	if !s.Has(name) {
		return nil
	}
	return s.Discrete(name, s.Window).True.Join(noseAtMost).AtLeast(leastSteady)
}

// leads counts how often a strut extends before the other two and is compressed after
// them, which are together; and all the times that tell an order.
func leads(s *samples.Set, first, second, third readings.Spans) (times, orders int) {
	for _, x := range second {
		for _, side := range []struct {
			at   float64
			sign float64
			of   func(readings.Span) float64
		}{
			{x.End, -1, func(y readings.Span) float64 { return y.End }},
			{x.Start, 1, func(y readings.Span) float64 { return y.Start }},
		} {
			a, ok1 := nearest(first, side.at, side.of)
			b, ok2 := nearest(third, side.at, side.of)
			if !ok1 || !ok2 || side.at < s.Window[0].Start+noseAtMost || side.at > s.Window[0].End-1 {
				continue
			}
			orders++
			if side.sign*(a-side.at) >= noseLeads && math.Abs(b-side.at) < noseLeads {
				times++
			}
		}
	}
	return times, orders
}

// nearest is the end of a span that is nearest to a time; ok is false where none is
// of the same lift-off or touchdown.
func nearest(spans readings.Spans, at float64, of func(readings.Span) float64) (t float64, ok bool) {
	for _, x := range spans {
		if d := math.Abs(of(x) - at); d <= noseAtMost && (!ok || d < math.Abs(t-at)) {
			t, ok = of(x), true
		}
	}
	return t, ok
}
