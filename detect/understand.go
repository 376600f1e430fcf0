package detect

import (
	"downlock/detect/samples"
	"downlock/ingest"
)

// Understood is a stretch of a recording held against its profile: its samples without
// those that are not to be trusted, the consistency checks, and where its flights lie.
type Understood struct {
	Samples *samples.Set
	Checks  []Check
	Flights []FlightSpan
}

// FlightSpan is where a flight lies; Number is that of its Flight.
type FlightSpan struct {
	Number int
	Span   Span
}

// Understand holds every stretch of a recording against the profile. It evaluates no
// rule. The error is that of Results.
func (d *Detector) Understand(r *ingest.Recording) (all []Understood, err error) {
	found := 0
	for _, stretch := range r.Stretches() {
		signals, checks := checkedSignals(stretch, d.profile)
		u := Understood{Samples: signals, Checks: checks}
		for f, err := range findFlights(signals, d.profile, d.criteria) {
			if err != nil {
				return nil, err
			}
			found++
			u.Flights = append(u.Flights, FlightSpan{found, f.Span})
		}
		all = append(all, u)
	}
	return all, nil
}
