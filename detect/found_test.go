package detect

import (
	"fmt"
	"math"
	"testing"

	"downlock/detect/readings"
)

// ruleOf is a rule of a pack of its own.
func ruleOf(t *testing.T, fields string) *Rule {
	t.Helper()
	set, err := ParseRules("pack.yaml", []byte("schema: downlock rules 1\npack: p\nrules:\n  - {id: r, title: t, meaning: m, basis: common practice, "+fields+"}\n"))
	if err != nil {
		t.Fatal(err)
	}
	return set.Rule("r")
}

// found lists events as certainty and times: start (earliest, latest) to end (earliest, latest).
func found(events []Event) (out []string) {
	for _, e := range events {
		out = append(out, fmt.Sprintf("%s %g (%g, %g) to %g (%g, %g)", e.Certainty, e.Start.Nominal, e.Start.Earliest, hundredths(e.Start.Latest), e.End.Nominal, e.End.Earliest, hundredths(e.End.Latest)))
	}
	return out
}

func hundredths(x float64) float64 { return math.Round(x*100) / 100 }

// The horn is heard at 10 to 14 s and at 17 to 19 s. It surely sounds from one of these samples
// to the other, 4 and 2 s; it usually does until the next sample, 5 and 3 s; and perhaps from
// just after the sample before, 6 and 4 s, with a second between that is surely quiet.
func TestSpanEventsByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(40, seconds("gear_horn", repeated(10, 0, 5, 1, 2, 0, 3, 1, 21, 0)...))
	env := ReadTracks(f)
	const first, second = "10 (9, 10) to 15 (14, 15)", "17 (16, 17) to 20 (19, 20)"
	for fields, want := range map[string][]string{
		"when: gear_horn, merge_gap: 0":                                     {"certain " + first, "certain " + second},
		"when: gear_horn, merge_gap: 0, at_least: 2":                        {"certain " + first, "certain " + second},
		"when: gear_horn, merge_gap: 0, at_least: 3":                        {"certain " + first, "possible 17 (16, 20) to 20 (16, 20)"},
		"when: gear_horn, merge_gap: 0, at_least: 4":                        {"certain " + first},
		"when: gear_horn, merge_gap: 0, at_least: 4.5":                      {"possible 10 (9, 15) to 15 (9, 15)"},
		"when: gear_horn, merge_gap: 0, at_least: 5":                        {"possible 10 (9, 15) to 15 (9, 15)"},
		"when: gear_horn, merge_gap: 0, at_least: 5.01":                     nil,
		"when: gear_horn, merge_gap: 0, at_least: 5.5, also_possible: true": {"possible 9 (9, 15) to 15 (9, 15)"},
		"when: gear_horn, merge_gap: 0, at_least: 6.5, also_possible: true": nil,
		// Two seconds are nominally between the two, in some history one; three in every one.
		"when: gear_horn, merge_gap: 3.5": {"certain 10 (9, 10) to 20 (19, 20)"},
		"when: gear_horn, merge_gap: 2.5": {"certain 10 (9, 17) to 20 (14, 20)"},
	} {
		events, unknown := spanEvents(env, ruleOf(t, fields))
		for i := range events { // to whole seconds where a sample's own length is all there is to it
			for _, x := range []*Time{&events[i].Start, &events[i].End} {
				x.Nominal, x.Earliest = hundredths(x.Nominal), hundredths(x.Earliest)
			}
		}
		alike(t, fields, found(events), want)
		alike(t, fields, unknown, during())
	}
	events, _ := spanEvents(env, ruleOf(t, "when: gear_horn, merge_gap: 0"))
	alike(t, "sure", []readings.Spans{readings.Spans(events[0].Sure).AtLeast(1), readings.Spans(events[1].Sure).AtLeast(1)}, []readings.Spans{during(10, 14+1e-6), during(17, 19+1e-6)})
	alike(t, "maybe", readings.Spans(events[0].Maybe), during(9+1e-6, 15))
	alike(t, "ids differ", events[0].ID == events[1].ID || len(events[0].ID) != 13, false)
	// It goes on while the speed is above 100 kt, as it is until 30 s.
	f = flightOf(40, seconds("gear_horn", repeated(10, 0, 5, 1, 26, 0)...), seconds("computed_airspeed", repeated(31, 150, 10, 50)...))
	events, _ = spanEvents(ReadTracks(f), ruleOf(t, "when: gear_horn, continues_while: computed_airspeed > 100"))
	alike(t, "continued", []float64{events[0].Start.Nominal, events[0].End.Nominal}, []float64{10, 30.5})
	// From 20 s on nothing is recorded: what would have followed is unknown, and no event.
	f = flightOf(40, seconds("gear_horn", repeated(10, 0, 5, 1, 5, 0)...))
	events, unknown := spanEvents(ReadTracks(f), ruleOf(t, "when: gear_horn, also_possible: true"))
	alike(t, "events", len(events), 1)
	alike(t, "unknown", unknown, during(20, 40))
}

// Values over the event from 10 to 15 s, of a speed that rises by 10 kt a second from 0.
func TestMeasuresByHand(t *testing.T) {
	t.Parallel()
	ramp := make([]float64, 41)
	for i := range ramp {
		ramp[i] = 10 * float64(i)
	}
	f := flightOf(40, seconds("gear_horn", repeated(10, 0, 5, 1, 26, 0)...), seconds("computed_airspeed", ramp...), seconds("pressure_altitude", repeated(12, 5000)...))
	rule := ruleOf(t, "when: gear_horn, measure: [{name: a, of: computed_airspeed, take: start}, {name: b, of: computed_airspeed, take: end}, {name: c, of: computed_airspeed, take: largest}, "+
		"{name: d, of: computed_airspeed, take: smallest}, {name: e, take: duration}, {name: f, of: pressure_altitude, take: start}, {name: g, of: pressure_altitude, take: end}, {name: h, of: -computed_airspeed, take: largest}]")
	events, _ := spanEvents(ReadTracks(f), rule)
	var got []float64
	for _, m := range events[0].Measures {
		if !m.Known {
			m.Value = nan
		}
		got = append(got, m.Value)
	}
	alike(t, "values", got, []float64{100, 150, 150, 100, 5, 5000, nan, -100})
	none := Measure{}
	if m := events[0].measure(ReadTracks(flightOf(40, seconds("gear_horn", 0))), rule.Measures[2]); m.Known || m.Value != none.Value {
		t.Errorf("the largest of nothing is %+v", m)
	}
}

// The lever leaves UP at 10 and at 13, seen at these samples, so after 9 and 12.
func TestMomentEventsByHand(t *testing.T) {
	t.Parallel()
	lever := repeated(10, 0, 2, 2, 1, 0, 27, 2) // UP, DOWN, UP, DOWN
	speed := seconds("computed_airspeed", repeated(41, 150)...)
	env := ReadTracks(flightOf(40, seconds("gear_lever", lever...), speed))
	at := `at: 'begins(gear_lever == "DOWN")', `
	for fields, want := range map[string][]string{
		at + "when: computed_airspeed > 100, merge_gap: 0": {"certain 10 (9, 10) to 10 (9, 10)", "certain 13 (12, 13) to 13 (12, 13)"},
		// Nominally too far apart, and in some history not: then each reaches as far as both.
		at + "when: computed_airspeed > 100, merge_gap: 2.5": {"certain 10 (9, 10) to 10 (9, 13)", "certain 13 (9, 13) to 13 (12, 13)"},
		// Nominally near enough, and in some history not: then it is either of the two.
		at + "when: computed_airspeed > 100, merge_gap: 3.5": {"certain 10 (9, 13) to 13 (9, 13)"},
		at + "when: computed_airspeed > 100, merge_gap: 4":   {"certain 10 (9, 10) to 13 (12, 13)"},
		at + "when: computed_airspeed > 200, merge_gap: 0":   nil,
	} {
		events, _ := momentEvents(env, ruleOf(t, fields))
		for i := range events {
			for _, x := range []*Time{&events[i].Start, &events[i].End} {
				x.Nominal, x.Earliest = hundredths(x.Nominal), hundredths(x.Earliest)
			}
		}
		alike(t, fields, found(events), want)
	}
	events, _ := momentEvents(env, ruleOf(t, at+"when: computed_airspeed > 100, merge_gap: 0"))
	alike(t, "of a moment", events[0].Moment, true)
	alike(t, "sure", readings.Spans(events[0].Sure).Seconds(), 1.0-1e-6)
	events, _ = momentEvents(env, ruleOf(t, at+"when: computed_airspeed > 100, merge_gap: 2.5"))
	alike(t, "of one moment, in some history of both", []bool{events[0].Moment, events[1].Moment}, []bool{false, false})
	events, _ = momentEvents(env, ruleOf(t, at+"when: computed_airspeed > 100, merge_gap: 4"))
	alike(t, "of two moments", events[0].Moment, false)
	alike(t, "sure of both", readings.Spans(events[0].Sure).Seconds(), 2.0-2e-6)

	// The speed passes 100 kt at 9.5 s, between the two samples of the change: whether it was
	// faster at the moment is not certain, and at the nominal time it was not.
	slowing := seconds("computed_airspeed", append(repeated(10, 150), repeated(31, 50)...)...)
	env = ReadTracks(flightOf(40, seconds("gear_lever", lever...), slowing))
	fields := at + "when: computed_airspeed > 100, merge_gap: 0"
	events, _ = momentEvents(env, ruleOf(t, fields))
	alike(t, "not nominally", found(events), nil2)
	events, _ = momentEvents(env, ruleOf(t, fields+", also_possible: true"))
	alike(t, "also possible", len(events), 1)
	alike(t, "also possible", events[0].Certainty, Possible)
	quickening := seconds("computed_airspeed", append(repeated(10, 50), repeated(31, 150)...)...)
	quickening.Accuracy = 0.1 // an estimated one is large for seconds about such a step
	env = ReadTracks(flightOf(40, seconds("gear_lever", lever...), quickening))
	events, _ = momentEvents(env, ruleOf(t, fields))
	alike(t, "nominally, not in every history", events[0].Certainty, Possible)
	alike(t, "and certain the next time", events[1].Certainty, Certain)
	// The lever leaves UP again at 12 s, when the aircraft is slow: no part of the event at 10 s.
	again := seconds("gear_lever", repeated(10, 0, 1, 2, 1, 0, 29, 2)...)
	braked := seconds("computed_airspeed", append(repeated(11, 150), repeated(30, 50)...)...)
	braked.Accuracy = 0.1
	events, _ = momentEvents(ReadTracks(flightOf(40, again, braked)), ruleOf(t, at+"when: computed_airspeed > 100, merge_gap: 5"))
	alike(t, "slow the second time", found(events), []string{"certain 10 (9, 10) to 10 (9, 10)"})
	// No speed from 5 to 30 s: nothing is known at the moment.
	gap := flightOf(40, seconds("gear_lever", lever...), seconds("computed_airspeed", repeated(5, 150)...))
	events, unknown := momentEvents(ReadTracks(gap), ruleOf(t, fields+", also_possible: true"))
	alike(t, "unknown", []int{len(events), len(unknown)}, []int{0, 2})
}

var nil2 []string

// Coverage of one rule: the horn is heard in 10 of 40 s, and not recorded from 30 s on.
func TestEvaluateByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(40, seconds("gear_horn", repeated(10, 0, 10, 1, 9, 0)...))
	env := ReadTracks(f)
	whole := []Opportunity{{Kind: OpenFlight, Begins: exactly(0), Ends: exactly(40)}}
	rule := ruleOf(t, "when: gear_horn")
	events, e := evaluate(env, rule, nil, whole)
	alike(t, "events", []int{len(events), e.Events}, []int{1, 1})
	alike(t, "coverage", []any{e.Coverage, e.UnknownSeconds, e.ScopeSeconds, e.Chances, e.Partial}, []any{PartlyEvaluated, 11.0, 40.0, Chances{1, 0, 1, 0}, false})
	early := []Opportunity{{Kind: OpenFlight, Begins: exactly(0), Ends: exactly(20)}}
	_, e = evaluate(env, rule, nil, early)
	alike(t, "coverage in the opportunity alone", []any{e.Coverage, e.UnknownSeconds, e.Chances}, []any{Evaluated, 0.0, Chances{1, 1, 0, 0}})
	events, e = evaluate(env, rule, nil, nil)
	alike(t, "without opportunity, yet found", []any{len(events), e.Coverage}, []any{1, Evaluated})
	_, e = evaluate(ReadTracks(flightOf(40, seconds("gear_horn", repeated(41, 0)...))), rule, nil, nil)
	alike(t, "without opportunity", e.Coverage, NoOpportunity)
	missing := ruleOf(t, "when: gear_horn and computed_airspeed > 100")
	_, e = evaluate(env, missing, nil, whole)
	alike(t, "a parameter is missing", []any{e.Coverage, len(e.Missing), e.Chances}, []any{NotEvaluable, 1, Chances{1, 0, 0, 1}})
	_, e = evaluate(env, missing, nil, nil)
	alike(t, "a parameter is missing, and no opportunity", []any{e.Coverage, len(e.Missing)}, []any{NoOpportunity, 0})
	lacking := ruleOf(t, "when: gear_horn, systems: [truck_tilt]")
	_, e = evaluate(env, lacking, nil, nil)
	alike(t, "the type has no such system", []any{e.Coverage, e.Missing}, []any{NotEvaluable, []string{"the type has no truck tilt"}})
	optional := ruleOf(t, "when: gear_horn and not gear_horn_cutout, optional: [gear_horn_cutout]")
	events, e = evaluate(env, optional, nil, whole)
	alike(t, "without what it can do without", []any{len(events), e.Coverage}, []any{1, PartlyEvaluated})
	gear := ruleOf(t, "when: gear_horn, opportunity: gear extension")
	_, e = evaluate(ReadTracks(flightOf(40, seconds("gear_horn", repeated(41, 0)...))), gear, nil, nil)
	alike(t, "no lever tells whether there was one", e.Coverage, Evaluated)
	// Two legs of three are locked throughout: each opportunity is evaluable in part, without a time that is unknown.
	legs := flightOf(40, seconds("left_gear_down_locked", repeated(41, 1)...), seconds("nose_gear_down_locked", repeated(41, 1)...))
	legs.Profile.Legs = []string{"nose", "left", "right"}
	_, e = evaluate(ReadTracks(legs), ruleOf(t, "when: not gear_down_locked"), nil, append(early, whole...))
	alike(t, "a leg is not recorded", []any{e.Coverage, e.Partial, e.Chances, e.UnknownSeconds}, []any{PartlyEvaluated, true, Chances{2, 0, 2, 0}, 0.0})
	_, e = evaluate(ReadTracks(legs), ruleOf(t, "when: not gear_down_locked"), nil, nil)
	alike(t, "a leg is not recorded, and no opportunity", []any{e.Coverage, e.Partial, e.Chances}, []any{NoOpportunity, false, Chances{}})
	alike(t, "some legs left out", leavesOut([]string{"x", "y" + partlyNote}), true)
	alike(t, "none left out", leavesOut([]string{"x", partlyNote + "y"}), false)
}
