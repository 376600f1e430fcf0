package detect

import (
	"math"
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// A parameter is unconfirmed when each check about it that was possible says so; those of
// checks that were not possible stay.
func TestUnconfirmedByHand(t *testing.T) {
	t.Parallel()
	names := func(checks ...Check) (out []string) {
		for _, d := range unconfirmed(checks) {
			out = append(out, d.parameter)
		}
		return out
	}
	check := func(outcome CheckOutcome, parameters, unconfirmed []string) Check {
		return Check{Outcome: outcome, Parameters: parameters, Unconfirmed: unconfirmed}
	}
	ab, a, b := []string{"a", "b"}, []string{"a"}, []string{"b"}
	alike(t, "one of two", names(check(Passed, ab, b)), b)
	alike(t, "another check confirms it", names(check(Passed, ab, b), check(Passed, b, nil)), []string(nil))
	alike(t, "before as well", names(check(Passed, b, nil), check(Passed, ab, b)), []string(nil))
	alike(t, "a check that was not possible confirms nothing", names(check(NotPossible, ab, a), check(NotPossible, a, nil)), a)
	alike(t, "once each", names(check(Passed, ab, ab), check(Passed, ab, ab)), ab)
}

// The warnings a and b, b with a switch: a is due and quiet from 10 to 20 s. What of b comes
// on within two seconds before, or then, and for no reason of its own, may be a's.
func TestStrangersByHand(t *testing.T) {
	t.Parallel()
	named := func(name string) *language.Expression { return &language.Expression{Names: []string{name}} }
	a := Audit{Warning: &Warning{sounded: named("horn a")}}
	quiet := stretch(10, 20)
	for _, c := range []struct {
		name                   string
		due, sounded, silenced readings.Spans
		coverage               Coverage
		want                   []string
	}{
		{"comes on meanwhile", nil, during(12, 15), nil, Evaluated, []string{"horn b"}},
		{"its switch does", nil, nil, during(12, 15), Evaluated, []string{"switch b"}},
		{"both", nil, during(11, 15), during(12, 15), Evaluated, []string{"horn b", "switch b"}},
		{"two seconds before", nil, during(8, 15), nil, Evaluated, []string{"horn b"}},
		{"longer before", nil, during(7.9, 15), nil, Evaluated, nil},
		{"at the end", nil, during(20, 25), nil, Evaluated, []string{"horn b"}},
		{"after it", nil, during(20.1, 25), nil, Evaluated, nil},
		{"for its own reason", during(14, 30), during(12, 15), nil, Evaluated, nil},
		{"not evaluable", nil, during(12, 15), during(12, 15), NotEvaluable, nil},
	} {
		b := Audit{Warning: &Warning{sounded: named("horn b"), silenced: named("switch b")}, Coverage: c.coverage, due: c.due, sounded: c.sounded, silenced: c.silenced}
		alike(t, c.name, strangers([]Audit{a, b}, a, quiet), c.want)
		alike(t, c.name+", of itself", strangers([]Audit{b}, b, quiet), []string(nil))
	}
	plain := Audit{Warning: &Warning{sounded: named("horn b")}, silenced: during(12, 15)}
	alike(t, "no switch", strangers([]Audit{a, plain}, a, quiet), []string(nil))
	with := Audit{Warning: &Warning{sounded: named("horn"), silenced: named("cut-out")}}
	alike(t, "names", with.switches(), []string{"horn", "cut-out"})
	alike(t, "names without a switch", plain.switches(), []string{"horn b"})
}

func TestPlaceOf(t *testing.T) {
	t.Parallel()
	all := schemas.Parameters()
	for i, p := range all {
		alike(t, p.Name, placeOf(p.Name), i)
	}
	alike(t, "another", placeOf("no parameter"), len(all))
}

// What an entry of the profile would remedy, and what none would.
func TestDecisionByHand(t *testing.T) {
	t.Parallel()
	undecided, decided := &schemas.Profile{}, &schemas.Profile{Systems: []string{}}
	for _, c := range []struct {
		reason string
		of     *schemas.Profile
		entry  string
		ok     bool
	}{
		{"vlo_extension: the profile gives no such value", decided, "vlo_extension", true},
		{"floor: the profile gives no such table", decided, "floor", true},
		{"takeoff_thrust: the profile gives no such criterion", decided, "takeoff_thrust", true},
		{"the profile gives no flap detents (flaps)", decided, "flaps", true},
		{"the profile does not say when a throttle is retarded (throttle)", decided, "throttle", true},
		{"the type has no body gear", undecided, "systems", true},
		{"the type has no body gear", decided, "", false},
		{"gear_lever: not recorded", undecided, "", false},
	} {
		entry, ok := Decision(c.reason, c.of)
		alike(t, c.reason, []any{entry, ok}, []any{c.entry, c.ok})
	}
}

// A rule follows from another through others. Neither a cause that was switched off nor two rules that follow from
// each other keep the search from ending.
func TestFollowsByHand(t *testing.T) {
	t.Parallel()
	set := &RuleSet{Rules: []*Rule{{ID: "a"}, {ID: "b", FollowsFrom: []string{"off", "a"}}, {ID: "c", FollowsFrom: []string{"b"}}, {ID: "d", FollowsFrom: []string{"e"}}, {ID: "e", FollowsFrom: []string{"d"}}}}
	for _, c := range []struct {
		id, from string
		want     bool
	}{{"a", "a", true}, {"b", "a", true}, {"c", "a", true}, {"a", "c", false}, {"b", "off", true}, {"b", "e", false}, {"d", "e", true}, {"d", "a", false}, {"off", "a", false}} {
		alike(t, c.id+" from "+c.from, set.follows(c.id, c.from, nil), c.want)
	}
}

// Two events of one cause in one phase lie within a minute of each other, by the bounds
// that bring them nearest.
func TestTogetherByHand(t *testing.T) {
	t.Parallel()
	set := &RuleSet{Rules: []*Rule{{ID: "a"}, {ID: "b", FollowsFrom: []string{"a"}}, {ID: "c", FollowsFrom: []string{"a"}}, {ID: "d"}, {ID: "e", FollowsFrom: []string{"b"}}}}
	event := func(rule string, start, end float64) Event {
		return Event{ID: rule, Rule: set.Rule(rule), Phase: "approach", Start: Time{start, start - 1, start + 1}, End: Time{end, end - 1, end + 1}}
	}
	for _, c := range []struct {
		name string
		a, b Event
		want bool
	}{
		{"one follows from the other", event("a", 0, 10), event("b", 5, 15), true},
		{"in two steps", event("a", 0, 10), event("e", 5, 15), true},
		{"both from a third", event("b", 0, 10), event("c", 5, 15), true},
		{"of causes of their own", event("a", 0, 10), event("d", 5, 15), false},
		{"of the same rule", event("b", 0, 10), event("b", 5, 15), false},
		{"a minute apart", event("a", 0, 10), event("b", 72, 80), true},
		{"more", event("a", 0, 10), event("b", 72.1, 80), false},
	} {
		alike(t, c.name, set.together(&c.a, &c.b), c.want)
		alike(t, c.name+", the other way round", set.together(&c.b, &c.a), c.want)
	}
	other := event("b", 5, 15)
	other.Phase = "landing"
	first := event("a", 0, 10)
	alike(t, "in another phase", set.together(&first, &other), false)
	// Of five, a, b and e are one, whatever lies between; the most severe comes first.
	events := []Event{event("a", 0, 1), event("d", 1, 2), event("b", 2, 3), event("a", 500, 501), event("e", 3, 4)}
	for i, s := range []Severity{Low, High, Medium, Low, High} {
		events[i].Severity = s
	}
	alike(t, "occurrences", set.occurrences(events), []Occurrence{{"a", []int{4, 2, 0}}, {"d", []int{1}}, {"a", []int{3}}})
}

// The recording is cut off where the aircraft is in the air and the opportunity reaches as
// far: a first value may lie before, a last one behind, any other on either side.
func TestCutOffByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, take       string
		begins, ends     bool // in the air
		from, to         float64
		outcome          Outcome
		number           int
		at               float64
		notes            int
		certain, partial bool
	}{
		{"begins in the air, first", "first", true, false, 0, 50, Measured, 1, 20, 1, true, true},
		{"begins in the air, last", "last", true, false, 0, 50, Measured, 1, 20, 0, true, false},
		{"begins in the air, later opportunity", "first", true, false, 1, 50, Measured, 1, 20, 0, true, false},
		{"ends in the air, last", "last", false, true, 50, 100, Measured, 1, 60, 1, true, true},
		{"ends in the air, first", "first", false, true, 50, 100, Measured, 1, 60, 0, true, false},
		{"ends in the air, earlier opportunity", "last", false, true, 50, 99, Measured, 1, 60, 0, true, false},
		{"both, the largest", "largest", true, true, 0, 100, Measured, 1, 60, 2, true, true},
		{"neither", "largest", false, false, 0, 100, Measured, 1, 60, 0, true, false},
		{"did not happen, first", "first", false, true, 50, 100, DidNotHappen, 1, nan, 1, false, true},
		{"did not happen, last", "last", true, false, 0, 50, DidNotHappen, 1, nan, 1, false, true},
		{"did not happen, whole recording", "last", false, false, 0, 100, DidNotHappen, 1, nan, 0, true, false},
		{"of the flight", "first", true, true, 0, 100, Measured, 0, 60, 0, true, false},
		{"at the moment that makes it one", "first", true, true, 0, 100, Measured, 1, 100, 0, true, false},
	} {
		open := Opportunity{Begins: exactly(c.from), Ends: exactly(c.to), moment: nan}
		m := Measurement{Rule: &MeasurementRule{Take: c.take}, Outcome: c.outcome, Certainty: Certain}
		if !math.IsNaN(c.at) {
			m.At = &Time{c.at, c.at, c.at}
		}
		m.cutOff(&Flight{Span: stretch(0, 100), BeginsInAir: c.begins, EndsInAir: c.ends}, &part{number: c.number, open: open, begins: open.Begins, ends: open.Ends})
		alike(t, c.name, []any{len(m.Fallbacks), m.Certainty == Certain, m.Partial}, []any{c.notes, c.certain, c.partial})
	}
}

// A part from 10 (9 to 11) to 20 (19 to 21): what may lie in it, what surely does.
func TestMomentOfAPart(t *testing.T) {
	t.Parallel()
	p := part{number: 1, begins: Time{10, 9, 11}, ends: Time{20, 19, 21}, open: Opportunity{Begins: Time{10, 9, 11}, Ends: Time{20, 19, 21}, moment: nan}, owned: map[float64]bool{10: true, 20: true, 25: true}}
	for _, c := range []struct {
		name     string
		m        readings.Moment
		in       readings.Moment
		ok       bool
		outside  readings.Moment
		isBeside bool
	}{
		{"inside", moment(15, 14, 16, true), moment(15, 14, 16, true), true, moment(15, 14, 16, true), false},
		{"before", moment(5, 4, 6, true), moment(5, 4, 6, true), false, moment(5, 4, 6, true), true},
		{"after", moment(30, 29, 31, true), moment(30, 29, 31, true), false, moment(30, 29, 31, true), true},
		{"across its begin, nominally in", moment(10.5, 9.5, 12, true), moment(10.5, 9.5, 12, false), true, moment(10.5, 9.5, 12, true), false},
		{"across its begin, nominally not", moment(9.5, 8, 12, true), moment(nan, 9, 12, false), true, moment(9.5, 8, 12, false), true},
		{"across its end", moment(20.5, 18, 22, true), moment(nan, 18, 21, false), true, moment(20.5, 18, 22, false), true},
		{"one that makes it", moment(10, 9, 11, true), moment(10, 9, 11, true), true, moment(10, 9, 11, true), false},
		{"one that makes another", moment(25, 15, 26, true), moment(25, 15, 26, true), false, moment(25, 15, 26, true), true},
		{"only touches it, with bounds", moment(8, 7, 9, true), moment(8, 7, 9, true), false, moment(8, 7, 9, true), true},
		{"at its earliest begin, exactly", moment(9, 9, 9, true), moment(nan, 9, 9, false), true, moment(9, 9, 9, false), true},
		{"only touches its end", moment(22, 21, 23, true), moment(22, 21, 23, true), false, moment(22, 21, 23, true), true},
		{"in every history, not nominal", moment(nan, 12, 13, false), moment(nan, 12, 13, false), true, moment(nan, 12, 13, false), false},
	} {
		in, ok := p.moment(c.m)
		alike(t, c.name, []any{in, ok}, []any{c.in, c.ok})
		beside := part{outside: []part{p}}
		in, ok = beside.moment(c.m)
		alike(t, c.name+", beside it", []any{in, ok}, []any{c.outside, c.isBeside})
	}
	wide := p // from the begin of the flight to its end
	wide.begins, wide.ends = exactly(0), exactly(40)
	for _, m := range []readings.Moment{moment(0, 0, 1, true), moment(40, 39, 40, true)} {
		in, ok := wide.moment(m)
		alike(t, "at an end of the flight", []any{in, ok}, []any{m, true})
	}
	whole := part{whole: true}
	in, ok := whole.moment(moment(5, 4, 6, true))
	alike(t, "whole", []any{in, ok}, []any{moment(5, 4, 6, true), true})
	alike(t, "unknown time in it", p.within(during(0, 10, 18, 30)), during(9, 10, 18, 21))
	alike(t, "unknown time beside it", (&part{outside: []part{p}}).within(during(0, 10, 18, 30)), during(0, 9, 21, 30))
	alike(t, "unknown time", whole.within(during(0, 10)), during(0, 10))
}

func TestMeasurementCoverage(t *testing.T) {
	t.Parallel()
	for want, all := range map[Coverage][]Measurement{
		NotEvaluable:    {{Outcome: NotMeasurable}, {Outcome: NotMeasurable, UnknownSeconds: 3}},
		PartlyEvaluated: {{Outcome: Measured, UnknownSeconds: 0.5}, {Outcome: NotRecorded}, {Outcome: DidNotHappen, Partial: true}},
		Evaluated:       {{Outcome: Measured}, {Outcome: DidNotHappen}},
	} {
		for _, m := range all {
			alike(t, string(m.Outcome), m.Coverage(), want)
		}
	}
	rule := &MeasurementRule{ID: "r"}
	found := Measurement{Rule: rule, Outcome: Measured, Certainty: Certain, Value: 5, Fallbacks: []string{"f"}}
	for name, c := range map[string]struct {
		m    Measurement
		far  bool
		want Measurement
	}{
		"as far as recorded":    {found, true, Measurement{Rule: rule, Outcome: DidNotHappen, Certainty: Possible, Fallbacks: []string{"f"}, Partial: true}},
		"at all":                {found, false, Measurement{Rule: rule, Outcome: DidNotHappen, Certainty: Certain, Fallbacks: []string{"f"}}},
		"perhaps, as it stands": {Measurement{Rule: rule, Outcome: DidNotHappen, Certainty: Possible, UnknownSeconds: 3}, false, Measurement{Rule: rule, Outcome: DidNotHappen, Certainty: Possible, UnknownSeconds: 3}},
		"surely not":            {Measurement{Rule: rule, Outcome: DidNotHappen, Certainty: Certain, UnknownSeconds: 3}, true, Measurement{Rule: rule, Outcome: DidNotHappen, Certainty: Possible, Partial: true}},
	} {
		m := c.m
		m.withoutOpportunity(c.far)
		kept(t, name, m, c.want)
	}
	for _, c := range []struct {
		take         string
		names        []string
		begins, ends bool
		want         int
	}{
		{"first", nil, true, false, 1}, {"first", nil, false, true, 0}, {"last", nil, false, true, 1}, {"last", nil, true, false, 0},
		{"largest", []string{"lift_off"}, true, false, 1}, {"largest", []string{"touchdown"}, false, true, 1}, {"largest", []string{"lift_off"}, false, true, 0}, {"largest", nil, true, true, 0},
		{"first", []string{"touchdown"}, true, true, 2},
	} {
		rule := &MeasurementRule{Take: c.take, of: &language.Expression{Names: c.names}}
		got := beyondRecording(&Flight{BeginsInAir: c.begins, EndsInAir: c.ends}, rule)
		alike(t, c.take, len(got), c.want)
	}
}
