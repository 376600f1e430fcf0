package detect

import (
	"testing"

	"downlock/detect/language"
	"downlock/schemas"
)

// A finding that rests on a parameter nothing confirms is no longer certain, and one
// observation says so; one that can do without it stays certain, and it is said as well.
func TestDoubtfulByHand(t *testing.T) {
	t.Parallel()
	names := func(all ...string) *language.Expression { return &language.Expression{Names: all} }
	f := flightOf(100)
	env := newTracks(f, criteria{"takeoff_thrust": names("engine_n1_1")})
	rests, does, none := &Rule{ID: "rests", Requires: []string{"gear_lever"}}, &Rule{ID: "does without", Optional: []string{"gear_lever"}}, &Rule{ID: "none", Requires: []string{"gear_horn"}}
	byCriterion := &Rule{ID: "by criterion", Requires: []string{"takeoff_thrust"}}
	event := func(r *Rule, c Certainty) Event { return Event{Rule: r, Certainty: c, Sure: []Span{stretch(1, 2)}} }
	result := &Result{
		Checks:       []Check{{Outcome: Passed, Parameters: []string{"gear_lever", "engine_n1_1"}, Unconfirmed: []string{"gear_lever", "engine_n1_1"}}},
		Events:       []Event{event(rests, Certain), event(does, Certain), event(none, Certain), event(rests, Certain), event(rests, Possible), event(byCriterion, Certain)},
		Observations: []Observation{{Frozen, "pressure_altitude", nil, ""}},
	}
	doubtful(result, env)
	var certain []bool
	for _, e := range result.Events {
		certain = append(certain, e.Certainty == Certain)
		if e.Certainty != Certain && e.Rule != rests && e.Rule != byCriterion || (e.Certainty == Certain) != (len(e.Sure) > 0) && e.Rule != rests {
			t.Errorf("%s: %s, sure in %v", e.Rule.ID, e.Certainty, e.Sure)
		}
	}
	alike(t, "certain", certain, []bool{false, true, true, false, false, false})
	type told struct {
		kind      ObservationKind
		parameter string
	}
	got := map[told]int{}
	for i, o := range result.Observations {
		got[told{o.Kind, o.Parameter}]++
		if i > 0 && placeOf(result.Observations[i-1].Parameter) > placeOf(o.Parameter) {
			t.Errorf("%s comes after %s", o.Parameter, result.Observations[i-1].Parameter)
		}
	}
	want := map[told]int{{Frozen, "pressure_altitude"}: 1, {Unconfirmed, "gear_lever"}: 1, {Unconfirmed, "engine_n1_1"}: 1}
	for k, n := range want {
		if got[k] != n {
			t.Errorf("%v is said %d times", k, got[k])
		}
	}
	alike(t, "observations", len(result.Observations), 3)
	// One event alone: what is said of the lever and the engine, which nothing confirms.
	for _, c := range []struct {
		name string
		of   Event
		want []string
	}{
		{"certain and rests on it", event(rests, Certain), []string{"gear_lever"}},
		{"certain and rests on two", event(&Rule{Requires: []string{"engine_n1_1", "gear_lever"}}, Certain), []string{"gear_lever", "engine_n1_1"}},
		{"certain and can do without it", event(does, Certain), []string{"gear_lever"}},
		{"possible and can do without it", event(does, Possible), nil},
		{"possible and rests on it", event(rests, Possible), nil},
		{"certain without it", event(none, Certain), nil},
		{"possible without it", event(none, Possible), nil},
	} {
		result := &Result{Checks: result.Checks, Events: []Event{c.of}}
		doubtful(result, env)
		var got []string
		for _, o := range result.Observations {
			got = append(got, o.Parameter)
		}
		alike(t, c.name, got, c.want)
	}
	// What a rule about a warning rests on are the warning and its switch.
	audits := []Audit{{Warning: &Warning{Name: "horn", sounded: names("gear_horn"), silenced: names("gear_horn_cutout")}}}
	alike(t, "rests on", restOn(&Rule{Audit: &AuditRule{Warning: "horn"}, Requires: []string{"x"}}, audits, nil), []string{"gear_horn", "gear_horn_cutout"})
	alike(t, "rests on", restOn(byCriterion, nil, env.criteria), []string{"takeoff_thrust", "engine_n1_1"})
}

// Two warnings: a is due and quiet from 10 to 20 s, while b sounds for nothing: each may stand in
// the other's column. A silenced stretch, or one without a finding, says nothing.
func TestMistakableByHand(t *testing.T) {
	t.Parallel()
	constant := expressionOf(t, "2", language.Number)
	names := func(all ...string) *language.Expression { return &language.Expression{Names: all} }
	env := newTracks(flightOf(100), nil)
	parameters := func(audits ...Audit) (out []string) {
		for _, d := range mistakable(audits, env) {
			out = append(out, d.parameter)
		}
		return out
	}
	a := func(finding Finding) Audit {
		return Audit{Warning: &Warning{Name: "a", sounded: names("horn_a"), delay: constant}, due: during(10, 20), Findings: []AuditFinding{{Finding: finding, Start: exactly(10), End: exactly(20)}}}
	}
	b := Audit{Warning: &Warning{Name: "b", sounded: names("horn_b"), delay: constant}, sounded: during(12, 15)}
	alike(t, "missed", parameters(a(Missed), b), []string{"horn_b", "horn_a"})
	alike(t, "late", parameters(a(Late), b), []string{"horn_b", "horn_a"})
	alike(t, "silenced", parameters(a(Silenced), b), []string(nil))
	alike(t, "nuisance", parameters(a(Nuisance), b), []string(nil))
	alike(t, "alone", parameters(a(Missed)), []string(nil))
	both := a(Silenced)
	both.Findings = append(both.Findings, a(Missed).Findings...)
	alike(t, "silenced first, then missed", parameters(both, b), []string{"horn_b", "horn_a"})
	quiet := a(Missed)
	quiet.Coverage = NotEvaluable
	alike(t, "not evaluable", parameters(quiet, b), []string(nil))
	// The switch within the delay of 2 s and 2 s more, and the warning never.
	with := func(pressed float64) Audit {
		return Audit{Warning: &Warning{Name: "c", sounded: names("horn_c"), silenced: names("switch_c"), delay: constant}, due: during(10, 20), silenced: during(pressed, 20)}
	}
	alike(t, "the switch comes on first", parameters(with(14)), []string{"horn_c", "switch_c"})
	alike(t, "later", parameters(with(14.1)), []string(nil))
}

// Of events at one time the rule that comes first in the packs is first.
func TestOrderOfEvents(t *testing.T) {
	t.Parallel()
	set, err := ParseRules("a.yaml", []byte(packHead+`rules:
  - {id: z, title: t, meaning: m, basis: common practice, when: gear_horn}
  - {id: a, title: t, meaning: m, basis: common practice, when: gear_horn}
  - {id: m, title: t, meaning: m, basis: common practice, when: gear_horn_cutout}
`))
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(&schemas.Profile{}, set)
	if err != nil {
		t.Fatal(err)
	}
	f := flightOf(60, seconds("gear_horn", repeated(20, 0, 5, 1, 36, 0)...), seconds("gear_horn_cutout", repeated(10, 0, 5, 1, 46, 0)...))
	var got []string
	for _, e := range d.flight(f).Events {
		got = append(got, e.Rule.ID)
	}
	alike(t, "order", got, []string{"m", "z", "a"})
}
