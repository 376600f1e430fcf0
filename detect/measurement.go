package detect

import (
	"fmt"
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
//
// With an Opportunity other than the flight it is measured in each one of them
// (measurement_opportunity.go says which moments belong to which).
type MeasurementRule struct {
	ID         string
	Title      string
	Group      string // heading it is listed under
	Definition string // one sentence
	Unit       string // "s" for times, "1" for a count
	Take       string // "" for seconds and a count
	Pack       string // the pack it came from
	// Opportunity is what it is measured in each of; OpenFlight for one value of the
	// flight. Including is IncludingBefore or IncludingAfter where the time up to the
	// opportunity, or after it, counts too.
	Opportunity OpportunityKind
	Including   string
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

// Measurement is one value of one flight, or of one opportunity in it.
type Measurement struct {
	Rule *MeasurementRule
	// Opportunity is the number of the opportunity among those of the rule's kind in
	// the flight, from 1 in order of time, and Begins and Ends are its ends. The number
	// is 0 where the value is of the flight, where there was no opportunity, and where
	// the recording does not show which there were.
	Opportunity  int
	Begins, Ends Time
	Outcome      Outcome
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
	// Partial says that the opportunity lies only partly in the recording and may hold
	// another value in the rest, or that the recording does not show whether there was
	// one.
	Partial bool
}

// Coverage says how far the measurement could be evaluated.
func (m *Measurement) Coverage() Coverage {
	switch {
	case m.Outcome == NotMeasurable:
		return NotEvaluable
	case m.UnknownSeconds > 0 || m.Outcome == NotRecorded || m.Partial:
		return PartlyEvaluated
	}
	return Evaluated
}

// measurements evaluates every measurement on one flight: in the order of the
// rules, and each by opportunity.
func measurements(env *Tracks, rules []*MeasurementRule, open []Opportunity) []Measurement {
	var out []Measurement
	for _, rule := range rules {
		out = append(out, measure(env, rule, open)...)
	}
	return out
}

func measure(env *Tracks, rule *MeasurementRule, all []Opportunity) []Measurement {
	missing, fallbacks := env.needs(rule.names())
	parts, told := partsOf(env, rule, all)
	if len(parts) == 0 {
		missing = append(missing, beyondRecording(env.flight, rule)...)
	}
	if len(parts) > mostMeasured {
		missing = append(missing, fmt.Sprintf("each %s: %d in one flight are too many to be real", rule.Opportunity, len(parts)))
	}
	if len(missing) > 0 {
		return []Measurement{{Rule: rule, Outcome: NotMeasurable, Certainty: Certain, Missing: missing, Fallbacks: fallbacks}}
	}
	found := rule.evidence(env)
	var out []Measurement
	for i := range parts {
		out = append(out, measurePart(env, rule, found, &parts[i], fallbacks))
	}
	switch {
	case rule.Opportunity == OpenFlight:
		out = append(out, measurePart(env, rule, found, &part{whole: true}, fallbacks))
	case len(parts) == 0:
		m := measurePart(env, rule, found, &part{whole: true}, fallbacks)
		if told || !rule.ofMoments() {
			m.withoutOpportunity(!told)
		}
		out = append(out, m)
	case !told && rule.ofMoments():
		// More may have happened than the opportunities found: it counts outside of them.
		m := measurePart(env, rule, found, &part{outside: parts}, fallbacks)
		if m.Outcome != DidNotHappen || m.Certainty != Certain || m.UnknownSeconds > 0 {
			out = append(out, m)
		}
	}
	return out
}

// evidence is what the samples say for a measurement, over the whole flight; from
// it the value of each part is taken.
type evidence interface{ measure(m *Measurement, p *part) }

func (r *MeasurementRule) evidence(env *Tracks) evidence {
	switch {
	case r.seconds != nil:
		return addUp(env, r)
	case r.count != nil:
		moments, unknown := counted(env, r.count, r.while)
		return countedMoments{moments, unknown}
	case r.at != nil:
		return atMoments(env, r)
	case r.from != nil:
		return untilNext(env, r)
	}
	return extreme{env}
}

// ofMoments says that the value is taken from one of some moments.
func (r *MeasurementRule) ofMoments() bool { return r.at != nil || r.from != nil }

func measurePart(env *Tracks, rule *MeasurementRule, found evidence, p *part, fallbacks []string) Measurement {
	m := Measurement{Rule: rule, Opportunity: p.number, Begins: p.open.Begins, Ends: p.open.Ends, Certainty: Certain, Fallbacks: fallbacks}
	found.measure(&m, p)
	m.cutOff(env.flight, p)
	if m.Outcome != Measured {
		m.Value, m.Lowest, m.Highest, m.At = 0, 0, 0, nil
	}
	return m
}

// withoutOpportunity is a measurement on a flight in which nothing happened that it
// is about, as far as recorded or at all: what was found happened elsewhere.
func (m *Measurement) withoutOpportunity(asFarAsRecorded bool) {
	switch {
	case m.Outcome == DidNotHappen && m.Certainty == Possible:
	case asFarAsRecorded:
		*m = Measurement{Rule: m.Rule, Outcome: DidNotHappen, Certainty: Possible, Fallbacks: m.Fallbacks, Partial: true}
	default:
		*m = Measurement{Rule: m.Rule, Outcome: DidNotHappen, Certainty: Certain, Fallbacks: m.Fallbacks}
	}
}

// beyondRecording says when what is to be measured may lie outside a recording
// that holds only part of the flight: that is not "did not happen".
func beyondRecording(f *Flight, rule *MeasurementRule) (missing []string) {
	names := rule.names()
	if f.BeginsInAir && (rule.Take == "first" || slices.Contains(names, "lift_off")) {
		missing = append(missing, "the recording begins in the air, after the lift-off")
	}
	if f.EndsInAir && (rule.Take == "last" || slices.Contains(names, "touchdown")) {
		missing = append(missing, "the recording ends in the air, before the touchdown")
	}
	return missing
}
