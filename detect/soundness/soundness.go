// Package soundness holds a recording against its profile: it finds the parameters
// that the profile reads wrongly, by what else the recording says.
package soundness

import (
	"downlock/detect/samples"
	"downlock/schemas"
)

// Outcome is what became of a consistency check.
type Outcome string

const (
	Passed      Outcome = "passed"
	Failed      Outcome = "failed"
	NotPossible Outcome = "not possible"
)

// Check is one consistency check of a recording against its profile: two things the
// recording says that agree if the profile reads it rightly. A wrong profile would
// otherwise show as a hundred false events.
//
// Checks find a wrong profile, not a faulty aircraft: each fails only where the
// recording is the reverse of what it must be, or off by the factor of a known
// mix-up of units, throughout. Values that are odd but may be real are left to the rules.
type Check struct {
	ID      string
	Title   string
	Outcome Outcome
	// Parameters are those the check is about. After a failed check they are those
	// it cannot trust: they count as not recorded, so that rules that need them are
	// not evaluable.
	Parameters []string
	Evidence   string // what was compared, with its numbers, or why it could not be
	Hint       string // what to change in the profile after a failed check
	// Unconfirmed are those of the parameters that the recording holds too little to
	// tell about: nothing in it shows that the profile reads them rightly.
	Unconfirmed []string
}

// CrossCheck holds a recording against its profile, and takes out of its samples
// those that failed: they count as not recorded from here on.
func CrossCheck(s *samples.Set, profile *schemas.Profile) []Check {
	e := newEvidence(s)
	r := e.reference
	checks := []Check{}
	checks = append(checks, polarityChecks(s, e)...)
	checks = append(checks, noseStrut(s), strutElsewhere(s, e), legLocks(s, e, checks))
	checks = append(checks, leverAgainstPosition(s, r, checks))
	checks = append(checks, altitudeChecks(s)...)
	checks = append(checks, radioCeiling(s, profile))
	checks = append(checks, groundStaysLevel(s, profile)...)
	checks = append(checks, speedChecks(s, r)...)
	checks = append(checks, flapChecks(s, profile)...)
	checks = append(checks, engineChecks(s, r, profile)...)
	checks = append(checks, columnsTwice(s, checks))
	checks = append(checks, plausibleRanges(s, profile))
	for _, c := range checks {
		if c.Outcome == Failed {
			for _, name := range c.Parameters {
				s.Distrust(name, "consistency check failed: "+c.Title)
			}
		}
	}
	return checks
}
