package detect

import (
	"slices"

	"downlock/detect/language"
)

// MeasurementRule defines a value kept from every flight, whether or not an
// event fires (the all-flights measurement of EASA GM1 ORO.AOC.130). It has one
// of five forms:
//
//   - Of and At: a number at a moment;
//   - From and To: the seconds from a moment to the next one of To, no other
//     moment of From between;
//   - Of alone: the largest or smallest value of a number;
//   - Seconds: how long a condition holds, all in all;
//   - Count: how often a moment happens.
//
// While, where given, is when it counts: moments (of From, where there is one)
// at which it does not hold are left out, and so is the rest of the number. Take
// says which of several is kept: the first, last, largest or smallest. The first
// and last of a flight are not evaluable where the recording begins or ends in
// the air; everything else is of the part of the flight that was recorded.
type MeasurementRule struct {
	ID         string
	Title      string
	Group      string // heading it is listed under
	Definition string // one sentence
	Unit       string // "s" for times, "1" for a count
	Take       string // "" for seconds and a count
	Pack       string // the pack it came from
	// Around (s) widens Of and At from the moment to the stretch between so long
	// before it, where negative, and so long after it; of that the largest counts, or
	// the smallest where that is taken.
	Around [2]float64
	// Expressions, "" where not given.
	Of, At, From, To, Seconds, Count, While string

	of, at, from, to, seconds, count, while *language.Expression
}

// expressions lists those the rule has.
func (r *MeasurementRule) expressions() []*language.Expression {
	all := []*language.Expression{r.of, r.at, r.from, r.to, r.seconds, r.count, r.while}
	return slices.DeleteFunc(all, func(x *language.Expression) bool { return x == nil })
}

// names lists the names the rule needs, each once.
func (r *MeasurementRule) names() []string {
	var out []string
	for _, x := range r.expressions() {
		out = append(out, x.Names...)
	}
	return unique(out)
}

// Outcome says what became of a measurement on a flight.
type Outcome string

const (
	Measured      Outcome = "measured"
	DidNotHappen  Outcome = "did not happen" // there was nothing to measure
	NotRecorded   Outcome = "not recorded"   // it happened, and samples of its value are missing then
	NotMeasurable Outcome = "not evaluable"  // a parameter or a profile value is missing
)

// Measurement is one value of one flight.
type Measurement struct {
	Rule    *MeasurementRule
	Outcome Outcome
	// Certainty says whether it is so in every history the samples allow: that
	// there was something to measure, or that there was not.
	Certainty Certainty
	// Value is that of the nominal reading, in Rule.Unit. In every history in which
	// there is something to measure the true value lies in Lowest to Highest; an
	// infinite one is no bound. All three are 0 unless the outcome is Measured.
	Value, Lowest, Highest float64
	// At is when: of the moment, of the start of a time, or of the extreme; nil for
	// seconds and a count.
	At *Time
	// Missing says, in plain words, why it is not evaluable.
	Missing   []string
	Fallbacks []string
	// UnknownSeconds is the time in which missing samples may hide something to
	// measure.
	UnknownSeconds float64
}

// Coverage says how far the measurement could be evaluated.
func (m *Measurement) Coverage() Coverage {
	switch {
	case m.Outcome == NotMeasurable:
		return NotEvaluable
	case m.UnknownSeconds > 0 || m.Outcome == NotRecorded:
		return PartlyEvaluated
	}
	return Evaluated
}

// measurements evaluates every measurement on one flight.
func measurements(env *Tracks, rules []*MeasurementRule) []Measurement {
	out := make([]Measurement, len(rules))
	for i, rule := range rules {
		out[i] = measure(env, rule)
	}
	return out
}

func measure(env *Tracks, rule *MeasurementRule) Measurement {
	m := Measurement{Rule: rule, Outcome: NotMeasurable, Certainty: Certain}
	m.Missing, m.Fallbacks = env.needs(rule.names())
	m.Missing = append(m.Missing, beyondRecording(env.flight, rule)...)
	if len(m.Missing) > 0 {
		return m
	}
	switch {
	case rule.seconds != nil:
		m.addUp(env)
	case rule.count != nil:
		m.countMoments(env)
	case rule.at != nil:
		m.atMoments(env)
	case rule.from != nil:
		m.between(env)
	default:
		m.extreme(env)
	}
	if m.Outcome != Measured {
		m.Value, m.Lowest, m.Highest, m.At = 0, 0, 0, nil
	}
	return m
}

// beyondRecording says when what is to be measured may lie outside a recording
// that holds only part of the flight: that is not "did not happen".
func beyondRecording(f *Flight, rule *MeasurementRule) (missing []string) {
	names := rule.names()
	if f.BeginsInAir && (rule.Take == "first" || slices.Contains(names, "lift_off")) {
		missing = append(missing, "the recording begins in the air: the lift-off, and what came first after it, are not in it")
	}
	if f.EndsInAir && (rule.Take == "last" || slices.Contains(names, "touchdown")) {
		missing = append(missing, "the recording ends in the air: the touchdown, and what came last before it, are not in it")
	}
	return missing
}
