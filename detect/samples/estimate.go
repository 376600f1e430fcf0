package samples

import (
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/ingest/accuracy"
	"downlock/schemas"
)

// EstimateAccuracies has the accuracy of every parameter for which the profile states
// none estimated from its samples: once, and not before something is compared with it.
// Until it is called such lines are taken for the truth, which is enough to hold a
// recording against its profile.
func (s *Set) EstimateAccuracies() {
	s.estimating = true
	for name, l := range s.lines {
		s.estimate(s.series[name], l)
	}
}

func (s *Set) estimate(series *ingest.Series, l *readings.Line) {
	if l == nil || !s.estimating || series.Accuracy > 0 || series.Exact {
		return
	}
	l.Margins = func() readings.Margins {
		s.estimated[series.Parameter.Name] = true
		return margins{accuracy.NewEstimator(l.Times, l.Values, l.Gap), series.Step / 2}
	}
}

// margins are the estimated ones, none smaller than half a step of the recorder.
type margins struct {
	*accuracy.Estimator
	least float64
}

func (m margins) Fill(out []float64, from, to int) {
	m.Estimator.Fill(out, from, to)
	for i := from; i < to; i++ {
		out[i] = max(out[i], m.least)
	}
}

func (m margins) AtMost(spread float64) float64 { return max(m.Estimator.AtMost(spread), m.least) }

// Estimate sums up, within a span, the accuracy of a parameter that was estimated, because something
// was compared with it; ok is false where it was not.
func (s *Set) Estimate(p schemas.Parameter, within readings.Span) (e accuracy.Estimate, ok bool) {
	l := s.Line(p.Name)
	if l == nil || !s.estimated[p.Name] {
		return e, false
	}
	from, to := l.Within(within)
	e = accuracy.Of(l.Times[from:to], l.Values[from:to], l.Gap)
	e.Resolution = max(e.Resolution, s.series[p.Name].Step)
	return e, true
}
