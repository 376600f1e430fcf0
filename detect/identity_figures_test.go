package detect

import (
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// The id of a flight is F and the first twelve digits of the SHA-256 of these words, by
// `printf 'flight abc 3' | sha256sum`; that of an event likewise, with E.
func TestIDsByHand(t *testing.T) {
	alike(t, "flight", flightID(&ingest.Recording{SHA256: "abc"}, 3), "F8f154a294c86")
	f := flightOf(40)
	f.ID = "F1"
	e := Event{Rule: ruleOf(t, "when: gear_horn"), Start: exactly(12.3456), End: exactly(20)}
	e.Rule.ID = "long-horn"
	e.complete(ReadTracks(f))
	alike(t, "no phase", e.Phase, string(UnknownPhase))
	f.Phases = []PhaseSpan{{Taxi, stretch(0, 40), exactly(0), exactly(40)}}
	e.complete(ReadTracks(f))
	alike(t, "phase", e.Phase, string(Taxi))
	alike(t, "event", e.ID, "Eadb1c7d32e6b")
}

// A rule may be less severe while something else holds.
func TestLoweredSeverity(t *testing.T) {
	rule := ruleOf(t, "when: gear_horn, severity: {always: high, lowered_while: gear_horn_cutout}")
	env := ReadTracks(flightOf(40, seconds("gear_horn_cutout", repeated(20, 0, 21, 1)...)))
	for at, want := range map[float64]Severity{10: High, 30: Medium} {
		e := Event{Rule: rule, Start: exactly(at), End: exactly(at + 5)}
		e.complete(env)
		alike(t, "severity", e.Severity, want)
	}
}

func TestUnitWordByHand(t *testing.T) {
	for unit, want := range map[string]string{"1": "", "ft": "ft", "": ""} {
		alike(t, unit, unitWord(schemas.Parameter{Unit: unit}), want)
	}
}

// unmeasured leaves figures behind of something that it does not measure after all.
type unmeasured struct{ outcome Outcome }

func (u unmeasured) measure(m *Measurement, _ *part) {
	m.Outcome, m.Value, m.Lowest, m.Highest, m.At = u.outcome, 1, 2, 3, &Time{4, 4, 4}
}

// A measurement has figures where something was measured, and none elsewhere.
func TestFiguresOfWhatWasNotMeasured(t *testing.T) {
	env, rule := ReadTracks(flightOf(40)), &MeasurementRule{Take: "first"}
	p := &part{number: 3, open: Opportunity{Begins: exactly(5), Ends: exactly(9)}}
	for _, outcome := range []Outcome{DidNotHappen, NotRecorded} {
		m := measurePart(env, rule, unmeasured{outcome}, p, []string{"a note"})
		alike(t, string(outcome), []any{m.Outcome, m.Value, m.Lowest, m.Highest, m.At == nil, m.Opportunity, m.Begins, m.Ends, m.Certainty, m.Fallbacks},
			[]any{outcome, 0.0, 0.0, 0.0, true, 3, exactly(5), exactly(9), Certain, []string{"a note"}})
	}
	m := measurePart(env, rule, unmeasured{Measured}, p, nil)
	alike(t, "measured", []any{m.Value, m.Lowest, m.Highest, *m.At}, []any{1.0, 2.0, 3.0, exactly(4)})
}

// Moments are those of a rule at a moment, or from one to another.
func TestRulesOfMoments(t *testing.T) {
	x := &language.Expression{}
	for _, c := range []struct {
		rule MeasurementRule
		want bool
	}{{MeasurementRule{at: x, of: x}, true}, {MeasurementRule{from: x, to: x}, true}, {MeasurementRule{of: x}, false}, {MeasurementRule{seconds: x}, false}, {MeasurementRule{count: x}, false}} {
		alike(t, "of moments", c.rule.ofMoments(), c.want)
	}
}

// A part of a rule that is a number is looked at within the window alone.
func TestPartsOfARuleByHand(t *testing.T) {
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100, 40, 140)))
	try := &trier{env: ReadTracks(f), window: during(10, 20)}
	of := func(text string, kind language.Kind) PartReading {
		x := expressionOf(t, text, kind)
		return try.evaluate(PartReading{Kind: kind}, x.Parts()[0])
	}
	r := of("computed_airspeed - 20", language.Number)
	low, high, known := r.Number.Nominal.Extremes()
	alike(t, "a number", []any{low, high, known, r.Fixed, r.Known}, []any{90.0, 100.0, true, false, false})
	if _, beyond := r.Number.Nominal.At(25); beyond {
		t.Error("known outside the window")
	}
	r = of("20 + 5", language.Number)
	alike(t, "a fixed one", []any{r.Value, r.Fixed, r.Known, len(r.Number.Nominal)}, []any{25.0, true, true, 0})
}

// The lever leaves UP at 10 s, seen then and not at 9 s: shown in a stretch that reaches there.
func TestTryWindowByHand(t *testing.T) {
	rule := ruleOf(t, `at: 'begins(gear_lever == "DOWN")', when: computed_airspeed > 100`)
	for _, c := range []struct {
		window          Span
		events, moments int
	}{
		{stretch(0, 40), 1, 1}, {stretch(10, 20), 1, 1}, {stretch(10.1, 20), 0, 0}, {stretch(0, 9), 0, 0}, {stretch(0, 9+instant), 1, 0}, {stretch(0, 9.5), 1, 1},
	} {
		f := flightOf(40, seconds("gear_lever", repeated(10, 0, 31, 2)...), along("computed_airspeed", 40, straight(0, 150)))
		trial := (&Detector{rules: &RuleSet{}}).try(f, rule, c.window)
		var roles []string
		for _, clause := range trial.Clauses {
			roles = append(roles, clause.Role)
		}
		alike(t, "roles", roles, []string{"at", "when"})
		alike(t, "events and moments", []int{len(trial.Events), len(trial.Clauses[0].Parts[0].Moments)}, []int{c.events, c.moments})
		alike(t, "of the whole flight", []any{trial.Evaluation.Rule.ID, trial.Evaluation.Coverage, trial.Evaluation.Events, trial.Window, trial.Flight == f}, []any{"r", Evaluated, 1, c.window, true})
	}
}

// A lenient criterion is told as far as it can be: what it lacks is a note, not a reason to leave a rule out.
func TestLenientCriterion(t *testing.T) {
	env := newTracks(flightOf(40, along("computed_airspeed", 40, straight(0, 150))), criteria{
		"ground_proximity_armed": expressionOf(t, "computed_airspeed > 100 and radio_altitude > 50", language.Condition),
		"takeoff_thrust":         expressionOf(t, "computed_airspeed > 100 and radio_altitude > 50", language.Condition)})
	const absent = "radio_altitude: not mapped in the profile"
	missing, fallbacks := env.needsOf("ground_proximity_armed")
	alike(t, "lenient", [][]string{missing, fallbacks}, [][]string{nil, {"ground_proximity_armed as far as it can be told: " + absent}})
	missing, fallbacks = env.needsOf("takeoff_thrust")
	alike(t, "another", [][]string{missing, fallbacks}, [][]string{{absent}, {"takeoff_thrust: the usual criteria, because the profile gives none"}})
	missing, _ = env.needsOf("gear_warning_silenced")
	alike(t, "not given", missing, []string{"gear_warning_silenced" + noCriterion})
	alike(t, "not given", env.Condition("gear_warning_silenced"), readings.Unknown(during(0, 40)))
}

// A criterion of the profile is taken apart below its name, once.
func TestCriteriaTakenApart(t *testing.T) {
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100, 40, 140)))
	f.Profile.Aircraft = "TH-120"
	env := newTracks(f, criteria{"takeoff_thrust": expressionOf(t, "computed_airspeed > 120", language.Condition)})
	try := &trier{env: env, window: during(0, 40), shown: map[string]bool{}}
	type line struct {
		Depth int
		Text  string
		Notes []string
	}
	var got []line
	for range 2 {
		for _, r := range try.parts(expressionOf(t, "takeoff_thrust", language.Condition), 3) {
			got = append(got, line{r.Depth, r.Text, r.Notes})
		}
	}
	const usual = "takeoff_thrust: the usual criteria, because the profile gives none"
	alike(t, "twice", got, []line{
		{3, "takeoff_thrust", []string{usual, "a criterion of the profile (TH-120)"}},
		{4, "computed_airspeed > 120", nil}, {5, "computed_airspeed", nil},
		{3, "takeoff_thrust", []string{usual, "a criterion of the profile, shown in parts above"}},
	})
}

// Where a limit is from, in words.
func TestSourcesOfLimitsByHand(t *testing.T) {
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100)))
	f.Profile = &schemas.Profile{Values: map[string]float64{"visual_stabilisation_height": 600}, Tables: map[string][][2]float64{"too_low_gear_floor": {{100, 500}}},
		Limits: map[string]schemas.Limit{"gear_extended_speed": {By: "pressure_altitude"}}, Criteria: map[string]string{"takeoff_thrust": "computed_airspeed > 20"}}
	env := newTracks(f, nil)
	for _, c := range []struct{ text, within, want string }{
		{"20", "", "the rule itself"},
		{"20", "takeoff_thrust", "criteria of the profile"},
		{"20", "ground_proximity_armed", "the usual criterion: the profile gives none"},
		{"gear_extended_speed", "", "limits of the profile, by pressure altitude"},
		{"gear_extended_speed", "takeoff_thrust", "limits of the profile, by pressure altitude"},
		{"visual_stabilisation_height", "", "values of the profile"},
		{"gear_warning_height", "", "the usual figure: the profile gives none"},
		{"too_low_gear_floor(computed_airspeed)", "", "table too_low_gear_floor of the profile"},
		{"too_low_flaps_floor(computed_airspeed)", "", ""},
		{"flap_placard_speed", "", "flap detents of the profile, by the flap set"},
		{"gear_operating_speed", "", "values of the profile, by the gear lever"},
		{"gear_warning_height + visual_stabilisation_height", "", "the usual figure: the profile gives none; values of the profile"},
		{"visual_stabilisation_height + visual_stabilisation_height", "", "values of the profile"},
		{"hottest_brake", "", ""},
	} {
		alike(t, c.text, env.sourceOf(*expressionOf(t, c.text, language.Number), c.within), c.want)
	}
}

// A limit that stays the same is one piece, and one that changes begins another: 300 kt at 0 ft until 20 s, then a
// climb of 100 ft a second, which takes off a knot a second; and 250 kt for two detents, then 200.
func TestPiecesOfLimitsByHand(t *testing.T) {
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100)), along("pressure_altitude", 40, straight(20, 0, 40, 2000)), seconds("flap_handle", repeated(10, 0, 10, 5, 10, 6, 11, 30)...), seconds("gear_horn", repeated(41, 0)...))
	f.Profile = &schemas.Profile{Limits: map[string]schemas.Limit{"gear_extended_speed": {By: "pressure_altitude", Points: [][2]float64{{0, 300}, {4000, 260}}}},
		Flaps: schemas.Flaps{Parameters: []string{"flap_handle"}, Tolerance: 0.4, Detents: []schemas.Detent{{Name: "0"}, {Name: "5", Angle: 5, Placard: 250}, {Name: "6", Angle: 6, Placard: 250}, {Name: "30", Angle: 30, Placard: 200}}}}
	env := newTracks(f, nil)
	of := func(text string) readings.Curve {
		return env.Limits(&Rule{when: expressionOf(t, text, language.Condition)})[0].Curve
	}
	changing := of("computed_airspeed > gear_extended_speed")
	at30, _ := changing.At(30)
	alike(t, "with the altitude", []any{changing[0], at30}, []any{readings.Piece{Start: 0, End: 20, From: 300, To: 300}, 290.0})
	alike(t, "where nothing else lets it decide", len(env.Limits(&Rule{when: expressionOf(t, "gear_horn and computed_airspeed > 200", language.Condition)})), 0)
	alike(t, "with the flap", of("computed_airspeed > flap_placard_speed"), readings.Curve{{Start: 10, End: 30, From: 250, To: 250}, {Start: 30, End: 40, From: 200, To: 200}})
}

// A limit may stand on either side; of two recorded numbers, or two that are none, neither is one.
func TestLimitsOnEitherSide(t *testing.T) {
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100)), along("ground_speed", 40, straight(0, 100)))
	env := ReadTracks(f)
	for text, want := range map[string]Limit{
		"computed_airspeed > 200":          {Of: "computed_airspeed", Name: "200", Upper: true},
		"computed_airspeed >= 200":         {Of: "computed_airspeed", Name: "200", Upper: true},
		"computed_airspeed < 200":          {Of: "computed_airspeed", Name: "200"},
		"computed_airspeed <= 200":         {Of: "computed_airspeed", Name: "200"},
		"200 > computed_airspeed":          {Of: "computed_airspeed", Name: "200"},
		"200 >= computed_airspeed":         {Of: "computed_airspeed", Name: "200"},
		"200 < computed_airspeed":          {Of: "computed_airspeed", Name: "200", Upper: true},
		"200 <= computed_airspeed":         {Of: "computed_airspeed", Name: "200", Upper: true},
		"computed_airspeed == 200":         {},
		"computed_airspeed > ground_speed": {},
		"abs(computed_airspeed) > 200":     {},
	} {
		found := env.Limits(&Rule{when: expressionOf(t, text, language.Condition)})
		if want.Of == "" && len(found) == 0 {
			continue
		}
		if want.Of == "" || len(found) != 1 {
			t.Errorf("%s: %+v", text, found)
			continue
		}
		l := found[0]
		alike(t, text, []any{l.Of, l.Name, l.Upper, l.Source, l.Unit, l.Gate, l.Within}, []any{want.Of, want.Name, want.Upper, "the rule itself", "kt", false, ""})
		value, ok := l.Curve.At(20)
		alike(t, text, []any{value, ok}, []any{200.0, true})
	}
}
