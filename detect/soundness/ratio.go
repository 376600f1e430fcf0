package soundness

import (
	"fmt"
	"math"
	"slices"

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

// mostWindows is as many as a ratio needs: more of a long flight say the same.
const mostWindows = 500

// windowsOf cuts stretches of time into windows of equal length, further apart
// where there would be more than mostWindows.
func windowsOf(spans readings.Spans, seconds float64) (out readings.Spans) {
	step := max(seconds, spans.Seconds()/mostWindows)
	for _, s := range spans {
		for t := s.Start; t+seconds <= s.End; t += step {
			out = append(out, readings.Span{Start: t, End: t + seconds})
		}
	}
	return out
}
