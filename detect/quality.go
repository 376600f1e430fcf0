package detect

import (
	"downlock/ingest"
	"downlock/schemas"
)

// CheckOutcome is what became of a cross-check.
type CheckOutcome string

const (
	Passed      CheckOutcome = "passed"
	Failed      CheckOutcome = "failed"
	NotPossible CheckOutcome = "not possible"
)

// Check is one cross-check of a recording against its profile: two things the
// recording says that can only both be so if the profile reads it rightly. A
// wrong profile would otherwise show as a hundred false events.
//
// Checks find a wrong profile, not a faulty aircraft: each fails only where the
// recording is the reverse of what it must be, or off by the factor of a known
// mix-up of units, throughout. What is odd but may be real stays with the rules.
type Check struct {
	ID      string
	Title   string
	Outcome CheckOutcome
	// Parameters are those the check is about. After a failed check they are those
	// it cannot trust: they count as not recorded, so that rules that need them are
	// not evaluable.
	Parameters []string
	Evidence   string // what was compared, with its numbers, or why it could not be
	Hint       string // what to change in the profile after a failed check
}

// crossChecks holds a recording against its profile.
func crossChecks(s *signals, profile *schemas.Profile) []Check {
	r := newReference(s)
	checks := []Check{}
	checks = append(checks, polarityChecks(s, r)...)
	checks = append(checks, leverAgainstPosition(s, r, checks))
	checks = append(checks, altitudeChecks(s)...)
	checks = append(checks, radioCeiling(s, profile))
	checks = append(checks, speedChecks(s, r)...)
	checks = append(checks, flapChecks(s, profile)...)
	return append(checks, engineChecks(s, r, profile)...)
}

// checkedSignals prepares a recording: what failed a cross-check counts as not
// recorded from here on.
func checkedSignals(r *ingest.Recording, profile *schemas.Profile) *signals {
	s := newSignals(r)
	s.checks = crossChecks(s, profile)
	for _, c := range s.checks {
		if c.Outcome == Failed {
			for _, name := range c.Parameters {
				s.distrust(name, "cross-check failed: "+c.Title)
			}
		}
	}
	return s
}

// distrust takes a parameter out; the reason is what a rule that needs it says.
func (s *signals) distrust(name, reason string) {
	if _, already := s.distrusted[name]; already || s.series[name] == nil {
		return
	}
	s.distrusted[name] = reason
	delete(s.series, name)
	delete(s.lines, name)
	delete(s.codes, name)
	delete(s.steps, name)
}
