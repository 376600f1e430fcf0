package detect

import (
	"downlock/detect/readings"
	"downlock/detect/soundness"
	"downlock/ingest"
)

// Span is a stretch of time in seconds on the recording's axis, Start to End.
type Span = readings.Span

func stretch(start, end float64) Span { return Span{Start: start, End: end} }

// Check is a consistency check of a recording against its profile.
type Check = soundness.Check

// CheckOutcome is what became of a consistency check.
type CheckOutcome = soundness.Outcome

const (
	Passed      = soundness.Passed
	Failed      = soundness.Failed
	NotPossible = soundness.NotPossible
)

// Severity is one of the three levels of EASA GM1 ORO.AOC.130.
type Severity string

const (
	Low    Severity = "low"
	Medium Severity = "medium"
	High   Severity = "high"
)

// Certainty says whether an event is true in every history the samples allow,
// or in at least one.
type Certainty string

const (
	Certain  Certainty = "certain"
	Possible Certainty = "possible"
)

// Time is a moment as well as the samples tell it: Nominal in the usual
// reading, and the true one nowhere outside Earliest to Latest.
type Time struct{ Nominal, Earliest, Latest float64 }

// Event is one occurrence of a rule in a flight.
type Event struct {
	ID         string // stable: same recording bytes, profile and packs give the same
	Rule       *Rule
	Severity   Severity
	Certainty  Certainty
	Start, End Time
	Occurrence string // the id of the occurrence it is part of: that of its first event
	Moment     bool   // the event is a moment (Start equals End), not a span
	Sure       []Span // where the rule's condition is certain, within the event
	Maybe      []Span // where it is possible, within Earliest start to Latest end
	Phase      string // phase of flight at the start
	Measures   []Measure
}

// Measure is a value a rule keeps of its event.
type Measure struct {
	Name  string
	Unit  string
	Value float64
	Known bool // false where the parameter was not recorded at that time
}

// Coverage says how far a rule could be evaluated on a flight.
type Coverage string

const (
	Evaluated       Coverage = "evaluated"
	PartlyEvaluated Coverage = "partly evaluated"
	NotEvaluable    Coverage = "not evaluable"
	// NoOpportunity says that nothing happened in the flight that the rule is about.
	NoOpportunity Coverage = "no opportunity"
)

// Evaluation is what became of one rule on one flight.
type Evaluation struct {
	Rule     *Rule
	Coverage Coverage
	// Missing lists parameters, profile values and systems that are not there,
	// each with the reason, when the rule is not evaluable.
	Missing []string
	// Unknown is the part of the flight, in the rule's scope, where the samples
	// leave the condition undecided because they are missing; UnknownSeconds adds
	// it up, ScopeSeconds is the whole.
	Unknown        []Span
	UnknownSeconds float64
	ScopeSeconds   float64
	// Fallbacks says which substitutes were used ("airborne from radio altitude").
	Fallbacks []string
	Events    int
	// Partial says that legs are not recorded that could have shown more.
	Partial bool
	Chances Chances
}

// Result is everything found in one flight.
type Result struct {
	Flight *Flight
	Tracks *Tracks // what was read from the samples, and all else rests on
	// Opportunities of every kind, by kind and then by time.
	Opportunities []Opportunity
	Events        []Event      // by start, then rule
	Occurrences   []Occurrence // what one cause makes, in order of time
	Evaluations   []Evaluation // one per rule, in pack order
	Audits        []Audit      // one per warning, in pack order
	Checks        []Check      // consistency checks of the whole recording against the profile
	// Observations are about single parameters that are odd in this flight.
	Observations []Observation
	// Measurements holds those in force, in pack order: one of the flight, or one of
	// each opportunity in order of time.
	Measurements []Measurement
}

// Recording is the recording the flight is part of.
func (r *Result) Recording() *ingest.Recording { return r.Flight.Recording }
