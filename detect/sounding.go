package detect

import (
	"slices"

	"downlock/detect/readings"
)

// Sounding is one stretch in which a warning sounds, whether or not it is in agreement
// with its criteria.
type Sounding struct {
	Certainty  Certainty
	Start, End Time
	Cause      Cause
	Events     []string // ids of the events that the warning is about and that overlap it
}

// Cause says why a warning sounds, in the nominal reading.
type Cause string

const (
	CriteriaMet  Cause = "its criteria are met" // then, or within its usual delay
	TestOnStand  Cause = "test on the stand"    // the aircraft stands still
	AlsoAllowed  Cause = "where it may sound"   // beside its criteria
	WithoutCause Cause = "without cause"
	CauseUnknown Cause = "not known" // samples or criteria are missing
)

// soundings lists the stretches in which the warning sounds.
func soundings(env *Tracks, sounded, expected, tolerated, nuisance readings.Condition, delay float64) (out []Sounding) {
	due := expected.True.Widen(-delay, delay)
	for _, f := range findings(sounded, 0) {
		s := Sounding{Certainty: f.Certainty, Start: f.Start, End: f.End, Cause: CauseUnknown}
		span := stretch(f.Start.Nominal, f.End.Nominal)
		switch {
		case len(due.Within(span)) > 0:
			s.Cause = CriteriaMet
		case env.Condition("stationary").True.Covers(span):
			s.Cause = TestOnStand
		case len(tolerated.True.Within(span)) > 0:
			s.Cause = AlsoAllowed
		case nuisance.True.Covers(span):
			s.Cause = WithoutCause
		}
		out = append(out, s)
	}
	return out
}

// nameCauses notes on each sounding the events of rules that those of its audit follow
// from, where they overlap it.
func (s *RuleSet) nameCauses(audits []Audit, events []Event) {
	for i := range audits {
		var about []string
		for _, r := range s.Rules {
			if r.Audit != nil && r.Audit.Warning == audits[i].Warning.Name {
				about = append(about, r.FollowsFrom...)
			}
		}
		for k := range audits[i].Soundings {
			sounding := &audits[i].Soundings[k]
			for _, e := range events {
				if slices.Contains(about, e.Rule.ID) && e.Start.Earliest <= sounding.End.Latest && sounding.Start.Earliest <= e.End.Latest {
					sounding.Events = append(sounding.Events, e.ID)
				}
			}
		}
	}
}
