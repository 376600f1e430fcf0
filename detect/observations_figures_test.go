package detect

import (
	"fmt"
	"testing"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// What shows that a parameter is frozen, each met and just missed.
func TestFrozenSignsByHand(t *testing.T) {
	t.Parallel()
	level := func(v float64) func(float64) float64 { return straight(0, v) }
	for _, c := range []struct {
		name, parameter string
		series          []*ingest.Series
		want            bool
	}{
		{"pressure altitude", "pressure_altitude", []*ingest.Series{along("pressure_altitude", 40, level(5000)), along("radio_altitude", 40, straight(0, 1000, 40, 1500)), along("vertical_speed", 40, level(301))}, true},
		{"radio altitude changes by less", "pressure_altitude", []*ingest.Series{along("pressure_altitude", 40, level(5000)), along("radio_altitude", 40, straight(0, 1000, 40, 1499)), along("vertical_speed", 40, level(900))}, false},
		{"no vertical speed to speak of", "pressure_altitude", []*ingest.Series{along("pressure_altitude", 40, level(5000)), along("radio_altitude", 40, straight(0, 1000, 40, 1500)), along("vertical_speed", 40, level(-300))}, false},
		{"in a descent", "pressure_altitude", []*ingest.Series{along("pressure_altitude", 40, level(5000)), along("radio_altitude", 40, straight(0, 1500, 40, 1000)), along("vertical_speed", 40, level(-301))}, true},
		{"for 29 s", "pressure_altitude", []*ingest.Series{along("pressure_altitude", 29, level(5000)), along("radio_altitude", 40, straight(0, 1000, 29, 1500)), along("vertical_speed", 40, level(900))}, false},
		{"radio altitude", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 300, 35, 1900)), along("pressure_altitude", 40, straight(0, 5000, 30, 5300))}, true},
		{"pressure altitude changes by less", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 300, 35, 1900)), along("pressure_altitude", 40, straight(0, 5000, 30, 5299))}, false},
		{"for 20 s", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(20, 300, 25, 1900)), along("pressure_altitude", 40, straight(0, 5000, 20, 5300))}, true},
		{"for 19 s", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(19, 300, 24, 1900)), along("pressure_altitude", 40, straight(0, 5000, 19, 5300))}, false},
		{"airspeed for 30 s", "computed_airspeed", []*ingest.Series{along("computed_airspeed", 40, straight(30, 61, 31, 99)), along("ground_speed", 40, straight(0, 100, 30, 160))}, true},
		{"airspeed for 29 s", "computed_airspeed", []*ingest.Series{along("computed_airspeed", 40, straight(29, 61, 30, 99)), along("ground_speed", 40, straight(0, 100, 29, 160))}, false},
		{"ground speed for 30 s", "ground_speed", []*ingest.Series{along("ground_speed", 40, straight(30, 61, 31, 99)), along("computed_airspeed", 40, straight(0, 100, 30, 160))}, true},
		{"ground speed for 29 s", "ground_speed", []*ingest.Series{along("ground_speed", 40, straight(29, 61, 30, 99)), along("computed_airspeed", 40, straight(0, 100, 29, 160))}, false},
		{"ground speed of a taxi", "ground_speed", []*ingest.Series{along("ground_speed", 40, level(60)), along("computed_airspeed", 40, straight(0, 160, 40, 100))}, false},
		{"just above the ground", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 51, 35, 1900)), along("pressure_altitude", 40, straight(0, 5000, 30, 5300))}, true},
		{"as on the ground", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 50, 35, 1900)), along("pressure_altitude", 40, straight(0, 5000, 30, 5300))}, false},
		{"at 2000 ft", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 2000, 31, 2400)), along("pressure_altitude", 40, straight(0, 5000, 30, 5300))}, false},
		{"below 2000 ft", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 1999, 31, 2400)), along("pressure_altitude", 40, straight(0, 5000, 30, 5300))}, true},
		{"as high as it reads", "radio_altitude", []*ingest.Series{along("radio_altitude", 40, straight(30, 300, 31, 200)), along("pressure_altitude", 40, straight(0, 5000, 30, 5300))}, false},
		{"airspeed", "computed_airspeed", []*ingest.Series{along("computed_airspeed", 40, level(61)), along("ground_speed", 40, straight(0, 100, 40, 160))}, true},
		{"airspeed at rest", "computed_airspeed", []*ingest.Series{along("computed_airspeed", 40, level(60)), along("ground_speed", 40, straight(0, 100, 40, 160))}, false},
		{"ground speed changes by less", "computed_airspeed", []*ingest.Series{along("computed_airspeed", 40, level(61)), along("ground_speed", 40, straight(0, 100, 40, 159))}, false},
		{"no ground speed", "computed_airspeed", []*ingest.Series{along("computed_airspeed", 40, level(61))}, false},
		{"ground speed", "ground_speed", []*ingest.Series{along("ground_speed", 40, level(61)), along("computed_airspeed", 40, straight(0, 160, 40, 100))}, true},
		// 600 ft/min make 600 ft in 60 s, half of which are 300.
		{"vertical speed", "vertical_speed", []*ingest.Series{along("vertical_speed", 60, level(600)), along("pressure_altitude", 60, straight(0, 5000, 60, 5299))}, true},
		{"vertical speed, climbs by half", "vertical_speed", []*ingest.Series{along("vertical_speed", 60, level(600)), along("pressure_altitude", 60, straight(0, 5000, 60, 5300))}, false},
		{"vertical speed of nothing", "vertical_speed", []*ingest.Series{along("vertical_speed", 60, level(-299)), along("pressure_altitude", 60, level(5000))}, false},
		{"vertical speed, down", "vertical_speed", []*ingest.Series{along("vertical_speed", 60, level(-300)), along("pressure_altitude", 60, level(5000))}, true},
		{"vertical speed alone", "vertical_speed", []*ingest.Series{along("vertical_speed", 60, level(-300))}, false},
		{"latitude", "latitude", []*ingest.Series{along("latitude", 60, level(51)), along("longitude", 60, level(7)), along("ground_speed", 60, level(81))}, true},
		{"latitude, due east", "latitude", []*ingest.Series{along("latitude", 60, level(51)), along("longitude", 60, straight(0, 7, 60, 7.1)), along("ground_speed", 60, level(81))}, false},
		{"latitude, slow", "latitude", []*ingest.Series{along("latitude", 60, level(51)), along("longitude", 60, level(7)), along("ground_speed", 60, level(80))}, false},
	} {
		end := 40.0
		if n := c.series[0].Len(); n > 41 {
			end = 60
		}
		f := flightOf(end, c.series...)
		got := false
		for _, w := range frozenSigns {
			if w.parameter == c.parameter {
				got = len(w.find(f)) > 0
			}
		}
		alike(t, c.name, got, c.want)
	}
}

// Gaps of a hundredth of the flight and more; the end of the range for 30 s and more.
func TestObservationsByHand(t *testing.T) {
	t.Parallel()
	kinds := func(f *Flight) (out []ObservationKind) {
		f.Profile = &schemas.Profile{}
		for _, o := range observations(f) {
			out = append(out, o.Kind)
		}
		return out
	}
	gap := func(seconds float64) *Flight {
		f := flightOf(400, along("computed_airspeed", 400-int(seconds), straight(0, 100)))
		return f
	}
	alike(t, "four seconds of 400", kinds(gap(4)), []ObservationKind{Dropouts})
	alike(t, "three", kinds(gap(3)), []ObservationKind{})
	top := func(seconds float64) *Flight {
		return flightOf(100, along("radio_altitude", 100, straight(50, 100, 60, 2500, 60+seconds, 2500, 61+seconds, 2400)))
	}
	alike(t, "30 s at the end of the range", kinds(top(30)), []ObservationKind{EndOfRange})
	alike(t, "29 s", kinds(top(29)), []ObservationKind{})
	horn := repeated(20, 0)
	for i := range 8 {
		horn = append(horn, float64(1-i%2))
	}
	alike(t, "chatter", kinds(flightOf(60, seconds("gear_horn", append(horn, repeated(33, 0)...)...))), []ObservationKind{Chatter})
	evidence := func(f *Flight) string { return observations(f)[0].Evidence }
	alike(t, "said of gaps", evidence(gap(40)), "no samples for 40 s of 400 s")
	alike(t, "said of the end of the range", evidence(top(31)), "reads 2500 ft for 31 s, the largest value of the recording; not a height")
	alike(t, "said of chatter", evidence(flightOf(60, seconds("gear_horn", append(horn, repeated(33, 0)...)...))), "8 or more changes within 10 s")
	frozen := flightOf(60, along("computed_airspeed", 60, straight(0, 100)), along("ground_speed", 60, straight(0, 100, 60, 200)))
	alike(t, "said of a frozen one", evidence(frozen), "the same value for 60 s while the ground speed changes by 60 kt or more")
	alike(t, "a constant run", constantRuns(flightOf(60, along("ground_speed", 60, straight(20, 5, 21, 6))).signals.Line("ground_speed"), stretch(0, 60), 20, func(v float64) bool { return v < 6 }), during(0, 20))
}

// The margin is a fiftieth of the plausible range, at most what can change in a second.
func TestSourcesByHand(t *testing.T) {
	t.Parallel()
	alike(t, "of the range", sourcesMargin(schemas.Parameter{Range: [2]float64{-100, 400}}), 10.0)
	alike(t, "of the rate", sourcesMargin(schemas.Parameter{Range: [2]float64{-100, 400}, MaxRate: 8}), 8.0)
	alike(t, "of a large rate", sourcesMargin(schemas.Parameter{Range: [2]float64{-100, 400}, MaxRate: 80}), 10.0)
	for x, want := range map[float64]string{1234.5: "1230", 0.012345: "0.0123", 99.96: "100", 0: "0", -2.345: "-2.35", 1234567: "1230000", 0.0000123: "0.0000123"} {
		alike(t, "three digits", threeDigits(x), want)
	}
	lever, _ := schemas.LookupParameter("gear_lever")
	horn, _ := schemas.LookupParameter("gear_horn")
	alike(t, "words", []string{codeWord(lever, 0), codeWord(lever, 99), codeWord(horn, 1), codeWord(horn, 0)}, []string{"UP", "false", "true", "false"})
	of := func(values ...float64) *samples.Set { return flightOf(40, seconds("gear_horn", values...)).signals }
	// They differ from 10 to 16 s, six seconds; of five between samples four are sure, and five usual.
	differ, known, how := compareCodes(of(repeated(10, 0, 6, 1, 25, 0)...), of(repeated(41, 0)...), horn, stretch(0, 40))
	alike(t, "six seconds", []any{differ, known, how}, []any{during(10, 16), during(0, 40), "(at first true and false) "})
	differ, _, _ = compareCodes(of(repeated(10, 0, 5, 1, 26, 0)...), of(repeated(41, 0)...), horn, stretch(0, 40))
	alike(t, "five seconds", differ, during(10, 15))
	differ, _, how = compareCodes(of(repeated(10, 0, 4, 1, 27, 0)...), of(repeated(41, 0)...), horn, stretch(0, 40))
	alike(t, "four seconds", []any{differ, how}, []any{readings.Spans(nil), ""})
	levers := func(values ...float64) *samples.Set { return flightOf(40, seconds("gear_lever", values...)).signals }
	_, _, how = compareCodes(levers(append(repeated(1, 1), repeated(40, 2)...)...), levers(append(repeated(1, 0), repeated(40, 1)...)...), lever, stretch(0, 40))
	alike(t, "at first", how, "(at first OFF and UP) ")
	speed, _ := schemas.LookupParameter("computed_airspeed")
	a, b := along("computed_airspeed", 40, straight(0, 100)), along("computed_airspeed", 40, straight(10, 100, 11, 130, 30, 130, 31, 100))
	spans, known, how := compareNumbers(flightOf(40, a).signals, flightOf(40, b).signals, speed, stretch(0, 40))
	if len(spans) != 1 || spans[0].Start < 10 || spans[0].Start > 11 || spans[0].End < 30 || spans[0].End > 31 || how != "by up to 30 kt " || known.Seconds() != 40 {
		t.Errorf("differ in %v of %v, %s", spans, known, how)
	}
	slow := along("computed_airspeed", 40, straight(0, 20))
	spans, _, _ = compareNumbers(flightOf(40, slow).signals, flightOf(40, along("computed_airspeed", 40, straight(0, 45))).signals, speed, stretch(0, 40))
	alike(t, "below 50 kt nothing is said", len(spans), 0)
	for _, c := range []struct {
		name string
		a, b float64
		want int
	}{
		{"computed_airspeed", 50, 20, 1}, {"computed_airspeed", 49, 20, 0}, {"radio_altitude", 4000, 2500, 0}, {"radio_altitude", 4000, 2499, 1}, {"mach", 0.5, 0.1, 1}, {"mach", 0.1, 0.2, 1}, {"mach", 0.19, 0.01, 0},
	} {
		p, _ := schemas.LookupParameter(c.name)
		of := func(v float64) *samples.Set { return flightOf(40, along(c.name, 40, straight(0, v))).signals }
		for _, pair := range [][2]float64{{c.a, c.b}, {c.b, c.a}} {
			spans, _, _ = compareNumbers(of(pair[0]), of(pair[1]), p, stretch(0, 40))
			alike(t, fmt.Sprint(c.name, pair), len(spans), c.want)
		}
	}
}

// Severity by a measure that rises or falls, at each threshold; lowered by one.
func TestSeverityByHand(t *testing.T) {
	t.Parallel()
	rising := SeverityRule{By: "m", Low: 0, Medium: 10, High: 30, HasMedium: true, HasHigh: true}
	falling := SeverityRule{By: "m", Low: 30, Medium: 10, High: 0, HasMedium: true, HasHigh: true}
	noMedium := SeverityRule{By: "m", Low: 0, High: 30, HasHigh: true}
	noHigh := SeverityRule{By: "m", Low: 30, Medium: 10, HasMedium: true}
	of := func(s SeverityRule, v float64) Severity {
		return s.of([]Measure{{Name: "other", Value: 99, Known: true}, {Name: "m", Value: v, Known: true}})
	}
	for v, want := range map[float64]Severity{9.9: Low, 10: Medium, 29.9: Medium, 30: High, -5: Low} {
		alike(t, "rising", of(rising, v), want)
	}
	for v, want := range map[float64]Severity{10.1: Low, 10: Medium, 0.1: Medium, 0: High, 99: Low} {
		alike(t, "falling", of(falling, v), want)
	}
	same := SeverityRule{By: "m", Low: 5, Medium: 5, High: 5, HasMedium: true, HasHigh: true} // neither falls
	alike(t, "all the same", []Severity{of(same, 4), of(same, 5), of(same, 6)}, []Severity{Low, High, High})
	same.HasHigh = false
	alike(t, "two the same", []Severity{of(same, 4), of(same, 5), of(same, 6)}, []Severity{Low, Medium, Medium})
	alike(t, "without medium", []Severity{of(noMedium, 29), of(noMedium, 30)}, []Severity{Low, High})
	alike(t, "without high, falling", []Severity{of(noHigh, 11), of(noHigh, 10), of(noHigh, -9)}, []Severity{Low, Medium, Medium})
	alike(t, "not known", rising.of([]Measure{{Name: "m", Value: 99}}), Low)
	alike(t, "always", SeverityRule{Always: High}.of(nil), High)
	alike(t, "lower", []Severity{High.lower(), Medium.lower(), Low.lower()}, []Severity{Medium, Low, Low})
	alike(t, "levels", rising.Levels(), []Severity{Low, Medium, High})
	alike(t, "levels without medium", noMedium.Levels(), []Severity{Low, High})
	noMedium.LoweredWhile = "airborne"
	alike(t, "levels, lowered", noMedium.Levels(), []Severity{Low, Medium, High})
	alike(t, "always high, lowered", SeverityRule{Always: High, LoweredWhile: "airborne"}.Levels(), []Severity{Medium, High})
	for want, s := range map[string]SeverityRule{"low at m ≥ 0, medium ≥ 10, high ≥ 30": rising, "low at m ≤ 30, medium ≤ 10, high ≤ 0": falling, "low at m ≤ 30, medium ≤ 10": noHigh,
		"low at m ≥ 0, high ≥ 30; one level lower while airborne": noMedium, "high": {Always: High}} {
		alike(t, "in words", s.String(), want)
	}
	alike(t, "origin", (&Rule{Pack: "b", Packs: []string{"a", "b", "c"}}).Origin(), "a, changed by b and c")
	alike(t, "origin of one", (&Rule{Pack: "b", Packs: []string{"b"}}).Origin(), "b")
	alike(t, "words", joinWords([]string{"a", "b", "c"}), "a, b and c")
}
