package samples

import (
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/ingest/accuracy"
)

// estimate has the accuracy of a line estimated from its samples, where the profile
// states none: once, and not before something is compared with it.
func (s *Set) estimate(series *ingest.Series, l *readings.Line) {
	if series.Accuracy > 0 || series.Exact {
		return
	}
	l.Margins = func() []float64 {
		e, margins := accuracy.Of(l.Times, l.Values, l.Gap)
		if _, known := s.estimates[series.Parameter.Name]; !known {
			s.estimates[series.Parameter.Name] = e
		}
		return margins
	}
}

// Estimate is the accuracy of a parameter that was estimated, because the profile
// states none and something was compared with it; ok is false where it was not.
func (s *Set) Estimate(name string) (e accuracy.Estimate, ok bool) {
	e, ok = s.estimates[name]
	return e, ok
}
