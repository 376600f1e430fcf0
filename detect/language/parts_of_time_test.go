package language

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"downlock/detect/readings"
)

// What is compared part by part is as if it were compared at once: the parts cover the
// spans, none lasts too long, and a part ends only where the time is full.
func TestInParts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var within readings.Spans
		at := 0.0
		for range rapid.IntRange(0, 6).Draw(t, "spans") {
			at += rapid.Float64Range(1, 3000).Draw(t, "apart")
			within = append(within, readings.Span{Start: at, End: at + rapid.Float64Range(0.1, 5000).Draw(t, "long")})
			at = within[len(within)-1].End
		}
		parts := inParts(within)
		var all readings.Spans
		for i, part := range parts {
			if seconds := part.Seconds(); seconds > partSeconds+1e-6 || i < len(parts)-1 && seconds < partSeconds-1e-6 {
				t.Errorf("part %d of %d lasts %v s", i+1, len(parts), seconds)
			}
			all = readings.Union(all, part)
		}
		if math.Abs(all.Seconds()-within.Seconds()) > 1e-6 || len(readings.Intersect(all.Complement(readings.Spans{{Start: -1, End: at + 1}}), within)) > 0 {
			t.Errorf("the parts are %v of %v", all, within)
		}
	})
}

// A saw of two parameters over two hours: their difference passes 1 again and again, also
// where one part ends and the next begins.
func TestComparedInPartsAsAtOnce(t *testing.T) {
	t.Parallel()
	const end = 7200
	line := func(period float64) *readings.Line {
		l := &readings.Line{Sampling: readings.Sampling{Interval: 1, Gap: 3}, Accuracy: 0.25}
		for s := 0.0; s <= end; s++ {
			if int(s)%1000 > 990 { // a gap
				continue
			}
			l.Times, l.Values = append(l.Times, s), append(l.Values, math.Abs(math.Mod(s, period)-period/2))
		}
		return l
	}
	a, b := line(90), line(47)
	whole := readings.Spans{{Start: 0, End: end}}
	want := readings.Compare(readings.Subtract(a.Number(whole), b.Number(whole)), readings.Above, readings.Constant(1, whole), whole)
	var got readings.Condition
	for _, part := range inParts(whole) {
		got = got.Followed(readings.Compare(readings.Subtract(a.Number(part), b.Number(part)), readings.Above, readings.Constant(1, part), part))
	}
	for name, spans := range map[string][2]readings.Spans{
		"certain": {want.Certain, got.Certain}, "true": {want.True, got.True}, "false": {want.False, got.False}, "possible": {want.Possible, got.Possible},
	} {
		if len(spans[0]) < 20 || len(spans[0]) != len(spans[1]) {
			t.Errorf("%s: %d spans in parts, %d at once", name, len(spans[1]), len(spans[0]))
			continue
		}
		for i, s := range spans[0] {
			if math.Abs(s.Start-spans[1][i].Start) > 1e-9 || math.Abs(s.End-spans[1][i].End) > 1e-9 {
				t.Errorf("%s: %v in parts, %v at once", name, spans[1][i], s)
			}
		}
	}
}
