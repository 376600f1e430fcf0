package detect

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// expressionOf is an expression of the rule language.
func expressionOf(t *testing.T, text string, kind language.Kind) *language.Expression {
	t.Helper()
	x, err := language.Compile(text, vocabulary(), kind)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// The speed rises by 10 kt a second from 0, known to within 1; the horn is heard from 10 to
// 14 s, so perhaps after 9 s and until 15.
func TestExtremeByHand(t *testing.T) {
	t.Parallel()
	speed := along("computed_airspeed", 40, func(s float64) float64 { return 10 * s })
	speed.Accuracy = 1
	env := ReadTracks(flightOf(40, speed, seconds("gear_horn", repeated(10, 0, 5, 1, 26, 0)...)))
	of := func(take, text, while string) Measurement {
		rule := &MeasurementRule{Take: take, of: expressionOf(t, text, language.Number)}
		if while != "" {
			rule.while = expressionOf(t, while, language.Condition)
		}
		m := Measurement{Rule: rule, Certainty: Certain}
		extreme{env}.measure(&m, &part{whole: true})
		for _, x := range []*float64{&m.Lowest, &m.Highest} {
			*x = hundredths(*x)
		}
		return m
	}
	m := of("largest", "computed_airspeed", "gear_horn")
	alike(t, "largest", []any{m.Outcome, m.Certainty, m.Value, m.Lowest, m.Highest, m.At.Nominal, m.At.Earliest, m.UnknownSeconds}, []any{Measured, Certain, 150.0, 139.0, 151.0, 15.0, 9.0, 0.0})
	m = of("smallest", "computed_airspeed", "gear_horn")
	alike(t, "smallest", []any{m.Outcome, m.Value, m.Lowest, m.Highest, m.At.Nominal, m.At.Latest}, []any{Measured, 100.0, 89.0, 101.0, 10.0, 15.0})
	m = of("largest", "computed_airspeed", "")
	alike(t, "of the flight", []any{m.Value, m.Lowest, m.Highest}, []any{400.0, 399.0, 401.0})
	within := Measurement{Rule: &MeasurementRule{Take: "largest", of: expressionOf(t, "computed_airspeed", language.Number)}, Certainty: Certain}
	extreme{env}.measure(&within, &part{begins: exactly(10), ends: exactly(20)})
	alike(t, "of a part", []any{within.Value, within.At.Nominal, within.At.Earliest, within.At.Latest}, []any{200.0, 20.0, 10.0, 20.0})
	m = of("largest", "computed_airspeed", "gear_horn and computed_airspeed > 500")
	alike(t, "never", []any{m.Outcome, m.Certainty}, []any{DidNotHappen, Certain})
	// Perhaps faster than 400.5 at the very end: it did not happen, and that is not certain.
	m = of("largest", "computed_airspeed", "computed_airspeed > 400.5")
	alike(t, "perhaps", []any{m.Outcome, m.Certainty}, []any{DidNotHappen, Possible})
	m = of("largest", "pressure_altitude", "gear_horn")
	alike(t, "not recorded", []any{m.Outcome, m.UnknownSeconds}, []any{NotRecorded, 5.0})
	// Recorded until 12 s only: the largest seen is 120, and there may be more.
	env = ReadTracks(flightOf(40, seconds("computed_airspeed", repeated(12, 120)...), seconds("gear_horn", repeated(10, 0, 5, 1, 26, 0)...)))
	m = of("largest", "computed_airspeed", "gear_horn")
	alike(t, "partly recorded", []any{m.Outcome, m.Value, m.Highest, m.UnknownSeconds}, []any{Measured, 120.0, math.Inf(1), 3.0})
	added := addUp(env, &MeasurementRule{seconds: expressionOf(t, "gear_horn", language.Condition)})
	m = Measurement{}
	added.measure(&m, &part{whole: true})
	alike(t, "added up", []any{m.Outcome, m.Value, hundredths(m.Lowest), hundredths(m.Highest), m.UnknownSeconds}, []any{Measured, 5.0, 4.0, 6.0, 0.0})
	added = addUp(env, &MeasurementRule{seconds: expressionOf(t, "gear_horn", language.Condition), while: expressionOf(t, "computed_airspeed > 100", language.Condition)})
	added.measure(&m, &part{whole: true})
	alike(t, "added up while", []any{m.Value, m.UnknownSeconds}, []any{2.0, 3.0})
}

// Bounds of the largest value: of all that is possible above, of the certain times below, and of any possible
// time where none is certain. A number that is not known at a possible time has no bound there.
func TestExtremeBoundsByHand(t *testing.T) {
	t.Parallel()
	n := readings.Number{Low: readings.Curve{{Start: 0, End: 10, From: 0, To: 10}}, High: readings.Curve{{Start: 0, End: 10, From: 2, To: 12}}}
	for _, c := range []struct {
		name              string
		certain, possible readings.Spans
		lowest, highest   float64
	}{
		{"certain", during(3, 5), during(2, 7), 5, 9},
		{"certain twice", during(3, 5, 6, 8), during(2, 9), 8, 11},
		{"perhaps", nil, during(2, 7), 0, 9},
		{"perhaps where it is not known", nil, during(2, 12), math.Inf(-1), math.Inf(1)},
		{"known while certain", during(3, 5), during(2, 12), 5, math.Inf(1)},
		{"never known", during(20, 21), during(20, 22), math.Inf(-1), math.Inf(1)},
	} {
		lowest, highest := extremeBounds(n, readings.Condition{Certain: c.certain, Possible: c.possible})
		alike(t, c.name, []float64{lowest, highest}, []float64{c.lowest, c.highest})
	}
	odd := readings.Number{Low: readings.Curve{{Start: 0, End: 10, From: nan, To: nan}}, High: readings.Curve{{Start: 0, End: 10, From: nan, To: nan}}}
	lowest, highest := extremeBounds(odd, readings.Condition{Certain: during(3, 5), Possible: during(2, 7)})
	alike(t, "no number", []float64{lowest, highest}, []float64{math.Inf(-1), math.Inf(1)})
}

// How well two parameters were recorded: a speed known to within 5 kt from 0 to 20 s, of a flight from 5 to
// 30 s, and one in steps of 2 kt whose accuracy is estimated: half a step.
func TestRecordedByHand(t *testing.T) {
	t.Parallel()
	stated, estimated := seconds("computed_airspeed", repeated(21, 100)...), along("ground_speed", 30, func(s float64) float64 { return 2 * s })
	stated.Accuracy, estimated.Accuracy = 5, 0
	f := flightOf(30, stated, estimated, seconds("mach", repeated(31, 0.5)...), seconds("gear_horn", repeated(31, 0)...))
	f.Span = stretch(5, 30)
	env := ReadTracks(f)
	env.Compare("computed_airspeed", readings.Above, 50)
	env.Compare("ground_speed", readings.Above, 50)
	type found struct {
		name      string
		samples   int
		accuracy  float64
		estimated string
		gaps      readings.Spans
	}
	var got []found
	for _, r := range env.Recorded() {
		got = append(got, found{r.Parameter.Name, r.Samples, r.Accuracy, r.Estimated, r.Gaps})
	}
	want := []found{
		{"computed_airspeed", 16, 5, "", during(20, 30)},
		{"ground_speed", 26, 1, "written in steps of 2 kt", nil},
		{"mach", 26, 0, "", nil}, // nothing was compared with it
		{"gear_horn", 26, 0, "", nil},
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(found{}), cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
	times, values := env.Samples("ground_speed", stretch(9, 11))
	alike(t, "samples", [][]float64{times, values}, [][]float64{{9, 10, 11}, {18, 20, 22}})
	times, values = env.Samples("gear_horn", stretch(9, 11))
	alike(t, "samples of a discrete", []any{times, values == nil}, []any{[]float64{9, 10, 11}, true})
	_, known := env.Envelope("ground_speed")
	alike(t, "envelope", known, true)
	_, known = env.Envelope("gear_horn")
	alike(t, "no envelope of a discrete", known, false)
	_, known = env.Envelope("hottest_brake")
	alike(t, "no envelope of one that is worked out", known, false)
}

// Detents at 0, 5, 15 and 30 deg, reached 2 deg before their angle: of 5 and 6 deg, 1 deg
// apart, the second not before the middle.
func TestFlapsByHand(t *testing.T) {
	t.Parallel()
	profile := &schemas.Profile{Flaps: schemas.Flaps{Parameters: []string{"flap_handle", "flap_angle"}, Tolerance: 2, Detents: []schemas.Detent{
		{Name: "0", Angle: 0, Classes: []string{"up"}}, {Name: "5", Angle: 5, Classes: []string{"takeoff"}}, {Name: "6", Angle: 6, Classes: []string{"takeoff", "intermediate"}},
		{Name: "30", Angle: 30, Classes: []string{"landing"}},
	}}}
	f := flightOf(40, along("flap_angle", 40, func(s float64) float64 { return s }))
	f.Profile = profile
	env := newTracks(f, nil)
	for i, want := range []float64{math.Inf(-1), 3, 5.5, 28} {
		alike(t, "from", env.detentFrom(i), want)
	}
	for value, want := range map[float64]string{-9: "0", 2.9: "0", 3: "5", 5.4: "5", 5.5: "6", 27.9: "6", 28: "30", 99: "30"} {
		alike(t, "reached", env.reached(value).Name, want)
	}
	for name, want := range map[string]readings.Spans{"flap_up": during(0, 3), "takeoff_flap": during(3, 28), "intermediate_flap": during(5.5, 28), "landing_flap": during(28, 40)} {
		alike(t, name, env.Condition(name).True, want)
	}
	name, note := env.flapSource()
	const instead = "flap setting from flap_angle; flap_handle: not mapped in the profile"
	alike(t, "source", []string{name, note}, []string{"flap_angle", instead})
	missing, fallbacks := env.needsOf("flap_up")
	alike(t, "needs", [][]string{missing, fallbacks}, [][]string{nil, {instead}})
	held, ok := env.Flap()
	alike(t, "values", []any{ok, len(held.Values), held.Values[1].Name, held.Values[1].Is.True, held.From[0]}, []any{true, 4, "5", during(3, 5.5), "flap_angle"})
	steps := flightOf(40, seconds("flap_handle", repeated(10, 0, 10, 5, 21, 30)...))
	steps.Profile = profile
	env = newTracks(steps, nil)
	alike(t, "of a handle", env.Condition("landing_flap").True, during(20, 40))
	name, note = env.flapSource()
	alike(t, "source", []string{name, note}, []string{"flap_handle", ""})
	missing, fallbacks = env.needsOf("flap_up")
	alike(t, "needs", [][]string{missing, fallbacks}, [][]string{nil, nil})
	none := newTracks(flightOf(40), nil)
	missing, _ = none.needsOf("flap_up")
	alike(t, "no detents", missing, []string{noDetents})
	_, ok = none.Flap()
	alike(t, "no flap", ok, false)
	none.flight.Profile = profile
	alike(t, "no flap recorded", newTracks(none.flight, nil).Condition("flap_up"), readings.Unknown(during(0, 40)))
	missing, _ = none.needsOf("flap_up")
	alike(t, "no flap recorded", missing, []string{"flap_handle: not mapped in the profile", "flap_angle: not mapped in the profile"})
	steps.Profile = &schemas.Profile{Flaps: schemas.Flaps{Parameters: []string{"flap_handle"}}}
	alike(t, "a flap without detents", newTracks(steps, nil).Condition("flap_up"), readings.Unknown(during(0, 40)))
	// Two detents of a class beside one another are one range, at the end of the list, too: passing from one to
	// the other leaves no doubt about the class.
	two := &schemas.Profile{Flaps: schemas.Flaps{Parameters: []string{"flap_angle"}, Tolerance: 2, Detents: []schemas.Detent{
		{Name: "0", Angle: 0, Classes: []string{"up"}}, {Name: "10", Angle: 10, Classes: []string{"up"}}, {Name: "20", Angle: 20, Classes: []string{"landing"}}, {Name: "30", Angle: 30, Classes: []string{"landing"}},
	}}}
	moving := seconds("flap_angle", f.signals.Line("flap_angle").Values...) // a degree a second
	moving.Accuracy = 0.5
	f = flightOf(40, moving)
	f.Profile = two
	env = newTracks(f, nil)
	up, landing := env.Condition("flap_up"), env.Condition("landing_flap")
	alike(t, "up", []readings.Spans{up.Certain, up.True, up.Possible}, []readings.Spans{during(0, 17.5), during(0, 18), during(0, 18.5)})
	alike(t, "landing", []readings.Spans{landing.Certain, landing.True, landing.Possible}, []readings.Spans{during(18.5, 40), during(18, 40), during(17.5, 40)})
}

// The hottest of the brakes recorded: 200 deg C of the first, or the second, which rises from 100 at
// 10 deg a second and passes it at 10 s. The third is mapped and not recorded, the others are not mapped.
func TestHottestBrakeByHand(t *testing.T) {
	t.Parallel()
	first, second := along("brake_temperature_1", 40, straight(0, 200)), along("brake_temperature_2", 40, straight(0, 100, 40, 500))
	of := func(mapped []string, series ...*ingest.Series) *Tracks {
		f := flightOf(40, series...)
		f.Profile = &schemas.Profile{Columns: map[string]schemas.Sources{}}
		for _, name := range mapped {
			f.Profile.Columns[name] = schemas.Sources{{Column: "T"}}
		}
		return newTracks(f, nil)
	}
	const absent3, absent4 = "brake_temperature_3: not mapped in the profile", "brake_temperature_4: not mapped in the profile"
	for _, c := range []struct {
		name               string
		env                *Tracks
		at5, at30          float64
		missing, fallbacks []string
	}{
		{"two", of(nil, first, second, along("computed_airspeed", 40, straight(0, 900))), 200, 400, nil, nil},
		{"the second alone", of(nil, second), 150, 400, nil, nil},
		{"a third not recorded", of([]string{"brake_temperature_3"}, first, second), 200, 400, nil, []string{absent3 + partlyNote}},
		{"a third and a fourth", of([]string{"brake_temperature_3", "brake_temperature_4"}, first), 200, 200, nil, []string{absent3 + "; " + absent4 + partlyNote}},
		{"none recorded", of([]string{"brake_temperature_4", "brake_temperature_3", "mach"}), nan, nan, []string{absent3, absent4}, nil},
		{"none mapped", of([]string{"mach"}), nan, nan, []string{"brake_temperature_1: not mapped in the profile"}, nil},
	} {
		missing, fallbacks := c.env.needsOf("hottest_brake")
		alike(t, c.name+": missing", missing, c.missing)
		alike(t, c.name+": fallbacks", fallbacks, c.fallbacks)
		hottest := c.env.Number("hottest_brake", during(0, 40)).Nominal
		for at, want := range map[float64]float64{5: c.at5, 30: c.at30} {
			got, known := hottest.At(at)
			if known != !math.IsNaN(want) || known && got != want {
				t.Errorf("%s: %g at %g s, known %v, want %g", c.name, got, at, known, want)
			}
		}
	}
	alike(t, "above 300 deg", of(nil, first, second).Compare("hottest_brake", readings.Above, 300).True, during(20, 40))
}

// The placard speed of the flap set: none with the flap in, 250 kt from 3 deg, 240 kt from 5.5 and 200 kt from
// 28 deg on. The surface moves by a degree a second, the handle is at 30 from 20 s on. Stretches of 16 s.
func TestPlacardsByHand(t *testing.T) {
	t.Parallel()
	of := func(series ...*ingest.Series) *Tracks {
		f := flightOf(48, series...)
		f.Profile = &schemas.Profile{Flaps: schemas.Flaps{Parameters: []string{"flap_handle", "flap_angle"}, Tolerance: 2, Detents: []schemas.Detent{
			{Name: "0"}, {Name: "5", Angle: 5, Placard: 250}, {Name: "6", Angle: 6, Placard: 240}, {Name: "30", Angle: 30, Placard: 200}}}}
		return newTracks(f, nil)
	}
	surface, handle := along("flap_angle", 48, func(s float64) float64 { return s }), seconds("flap_handle", repeated(20, 0, 29, 30)...)
	inf := math.Inf(1)
	for _, c := range []struct {
		name      string
		env       *Tracks
		at        map[float64]float64
		low, high []float64
	}{
		{"surface", of(surface), map[float64]float64{2: inf, 4: 250, 10: 240, 27: 240, 30: 200}, []float64{240, 200, 200}, []float64{inf, 240, 200}},
		{"handle", of(handle), map[float64]float64{2: inf, 19: inf, 21: 200}, []float64{inf, 200, 200}, []float64{inf, inf, 200}},
		{"both", of(handle, surface), map[float64]float64{2: inf, 4: 250, 19: 240, 21: 200, 30: 200}, []float64{240, 200, 200}, []float64{inf, 240, 200}},
	} {
		n := c.env.Number("flap_placard_speed", during(0, 40)).Nominal
		for at, want := range c.at {
			got, known := n.At(at)
			alike(t, c.name, []any{at, got, known}, []any{at, want, true})
		}
		e, known := c.env.Envelope("flap_placard_speed")
		alike(t, c.name+": bounds", []any{known, e.Low, e.High}, []any{true, c.low, c.high})
	}
	e, known := of().Envelope("flap_placard_speed")
	alike(t, "no flap", []any{known, e.Low}, []any{false, []float64(nil)})
	// As limits they are drawn where they are numbers: infinite less infinite is none.
	flying := of(surface, along("computed_airspeed", 48, straight(0, 200)))
	for text, want := range map[string]readings.Curve{
		"computed_airspeed > flap_placard_speed":                      {{Start: 3, End: 5.5, From: 250, To: 250}, {Start: 5.5, End: 28, From: 240, To: 240}, {Start: 28, End: 48, From: 200, To: 200}},
		"computed_airspeed > 100 - flap_placard_speed":                {{Start: 3, End: 5.5, From: -150, To: -150}, {Start: 5.5, End: 28, From: -140, To: -140}, {Start: 28, End: 48, From: -100, To: -100}},
		"computed_airspeed > flap_placard_speed - flap_placard_speed": {{Start: 3, End: 48}},
	} {
		limits := flying.Limits(&Rule{when: expressionOf(t, text, language.Condition)})
		if len(limits) != 1 {
			t.Fatalf("%s: limits %v", text, limits)
		}
		alike(t, text, limits[0].Curve, want)
	}
	alike(t, "slower than the placard", of(handle, surface).Compare("flap_placard_speed", readings.Above, 245).True, during(0, 5.5))
}

// The line that is drawn of a number is its nominal reading, of whatever kind the number is.
func TestNominalByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100, 40, 140)), along("pressure_altitude", 40, straight(0, 0, 40, 4000)), along("brake_temperature_1", 40, straight(0, 30)))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Shift: -500, Where: during(0, 40)}}
	f.Profile = &schemas.Profile{Values: map[string]float64{"visual_stabilisation_height": 600},
		Limits: map[string]schemas.Limit{"gear_extended_speed": {By: "pressure_altitude", Points: [][2]float64{{0, 300}, {4000, 260}}}}}
	env := newTracks(f, nil)
	for name, want := range map[string]float64{"computed_airspeed": 110, "pressure_altitude": 1000, "height": 500, "hottest_brake": 30, "visual_stabilisation_height": 600, "gear_extended_speed": 290} {
		drawn, ok := env.Nominal(name, during(5, 15)).At(10)
		read, known := env.Number(name, during(5, 15)).Nominal.At(10)
		alike(t, name, []any{drawn, ok, read, known}, []any{want, true, want, true})
	}
	// The height changes its aerodrome where the part of another elevation begins, and is the same one's until then.
	line, radio := f.signals.Line("pressure_altitude"), seconds("radio_altitude", repeated(41, 100)...)
	parts := readings.Spliced{{Line: line, Shift: -500, Where: during(0, 5, 6, 10)}, {Line: line, Shift: -300, Where: during(12, 20)}, {Line: line, Shift: -300, Where: during(20, 30)}, {Line: line, Shift: -700, Where: during(30, 40)}}
	low := flightOf(40, radio)
	low.height = append(readings.Spliced{{Where: during(5, 6, 10, 12)}}, parts...)
	f.height = parts
	alike(t, "aerodromes", [][]float64{env.HeightReferences(), newTracks(low, nil).HeightReferences(), newTracks(flightOf(40, radio), nil).HeightReferences()}, [][]float64{{12, 30}, {12, 30}, nil})
	alike(t, "height is known", []bool{env.HasHeight(), newTracks(flightOf(40, radio), nil).HasHeight()}, []bool{true, false})
	f.height[0].Shift = 0 // an aerodrome at sea level is one, too
	alike(t, "sea level", env.HeightReferences(), []float64{12, 30})
	e, known := env.Envelope("gear_extended_speed") // 1600 ft higher after 16 s: 16 kt less
	alike(t, "a limit that changes", []any{known, e.Low[0] <= 284, e.Low[0] > 283, e.High[0] >= 300, e.High[0] < 301}, []any{true, true, true, true, true})
	e, known = env.Envelope("visual_stabilisation_height")
	alike(t, "a value", []any{known, e.Low, e.High}, []any{true, []float64{600}, []float64{600}})
	alike(t, "slower than the limit", env.Compare("gear_extended_speed", readings.Below, 280).True, during(20, 40))
}

// What a name needs that is not there, in words.
func TestNeedsByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(40, along("computed_airspeed", 40, straight(0, 100)))
	f.Profile = &schemas.Profile{Values: map[string]float64{"visual_stabilisation_height": 600}, Tables: map[string][][2]float64{"too_low_gear_floor": {{100, 500}}},
		Limits: map[string]schemas.Limit{"gear_extended_speed": {By: "pressure_altitude"}}}
	env := newTracks(f, nil)
	for name, want := range map[string][2][]string{
		"computed_airspeed":           {},
		"go_around":                   {{"radio_altitude: not mapped in the profile", "pressure_altitude: not mapped in the profile"}},
		"going_around":                {{"radio_altitude: not mapped in the profile", "pressure_altitude: not mapped in the profile"}},
		"airborne":                    {},
		"visual_stabilisation_height": {},
		"too_low_gear_floor":          {},
		"too_low_flaps_floor":         {{"too_low_flaps_floor: the profile gives no such table"}},
		"gear_extended_speed":         {{"pressure_altitude: not mapped in the profile"}},
		"gear_operating_mach":         {{"gear_operating_mach: the profile gives no such value"}},
	} {
		missing, fallbacks := env.needsOf(name)
		alike(t, name, [][]string{missing, fallbacks}, [][]string{want[0], want[1]})
	}
	missing, fallbacks := env.needs([]string{"pressure_altitude", "gear_extended_speed", "computed_airspeed", "pressure_altitude"})
	alike(t, "each once", [][]string{missing, fallbacks}, [][]string{{"pressure_altitude: not mapped in the profile"}, nil})
	missing, fallbacks = env.assuming([]string{"gear_horn_cutout"}).needsOf("gear_horn_cutout")
	alike(t, "done without", [][]string{missing, fallbacks}, [][]string{nil, {"gear_horn_cutout is not recorded: taken as not operated"}})
}

// A leg is told by both locks, or by one; the throttle by the profile's figure.
func TestHeldTracksByHand(t *testing.T) {
	t.Parallel()
	down := seconds("left_gear_down_locked", repeated(10, 1, 31, 0)...)
	up := seconds("left_gear_up_locked", repeated(20, 0, 21, 1)...)
	f := flightOf(40, down, up, seconds("gear_horn", repeated(5, 0, 36, 1)...), seconds("gear_lever", repeated(9, 2, 32, 0)...), along("throttle_angle_1", 40, func(s float64) float64 { return 40 - s }))
	f.Profile = &schemas.Profile{Engines: 1, Throttle: schemas.Throttle{Parameter: "throttle_angle", RetardedBelow: 15}}
	f.Phases = []PhaseSpan{{Taxi, stretch(0, 10), exactly(0), exactly(10)}, {EnRoute, stretch(10, 20), exactly(10), exactly(20)}, {Taxi, stretch(20, 40), exactly(20), exactly(40)}}
	env := newTracks(f, nil)
	where := func(h Held, ok bool) map[string]readings.Spans {
		out := map[string]readings.Spans{}
		for _, v := range h.Values {
			if ok && len(v.Is.True) > 0 {
				out[v.Name] = v.Is.True
			}
		}
		return out
	}
	alike(t, "leg", where(env.Leg("left")), map[string]readings.Spans{LegDown: during(0, 10), LegTransit: during(10, 20), LegUp: during(20, 40)})
	h, _ := env.Leg("left")
	// Open between the samples of a change, and while it may be in transit for that.
	alike(t, "undecided", h.Undecided(), during(9+instant, 10, 19+instant, 20))
	_, ok := env.Leg("right")
	alike(t, "no such leg", ok, false)
	one := flightOf(40, down)
	alike(t, "one lock", where(newTracks(one, nil).Leg("left")), map[string]readings.Spans{LegDown: during(0, 10), LegNotDown: during(10, 40)})
	one = flightOf(40, up)
	alike(t, "the other", where(newTracks(one, nil).Leg("left")), map[string]readings.Spans{LegUp: during(20, 40), LegNotUp: during(0, 20)})
	alike(t, "discrete", where(env.Parameter("gear_horn")), map[string]readings.Spans{ValueOff: during(0, 5), ValueOn: during(5, 40)})
	alike(t, "state", where(env.Parameter("gear_lever")), map[string]readings.Spans{"DOWN": during(0, 9), "UP": during(9, 40)})
	lever, _ := env.Parameter("gear_lever")
	horn, _ := env.Parameter("gear_horn")
	alike(t, "from", [][]string{h.From, lever.From, horn.From}, [][]string{{"left_gear_down_locked", "left_gear_up_locked"}, {"gear_lever"}, {"gear_horn"}})
	_, ok = env.Parameter("throttle_angle_1")
	alike(t, "a number", ok, false)
	alike(t, "throttle", where(env.Throttle(1)), map[string]readings.Spans{ValueOff: during(0, 25), ValueRetarded: during(25, 40)})
	_, ok = env.Throttle(2)
	alike(t, "no such throttle", ok, false)
	alike(t, "phases", where(env.Phase(), true), map[string]readings.Spans{string(Taxi): during(0, 10, 20, 40), string(EnRoute): during(10, 20)})
	alike(t, "every throttle", env.Condition("all_throttles_retarded").True, during(25, 40))
	alike(t, "any throttle", env.Condition("any_throttle_retarded").True, during(25, 40))
	missing, _ := newTracks(flightOf(40), nil).needsOf("any_throttle_retarded")
	alike(t, "no throttle in the profile", missing, []string{noThrottle})
}

// Pressure altitude 1000 ft at lift-off and 400 ft at touchdown, highest at 50 s: heights are
// from the first until then, and from the other after it. Radio altitude stands for them
// below 2352 ft.
func TestHeightByHand(t *testing.T) {
	t.Parallel()
	altitude := straight(10, 1000, 50, 9000, 90, 400)
	f := flightOf(100, along("pressure_altitude", 100, altitude))
	air := []stay{stayOf(10, 90)}
	parts := aerodromeParts(f, air, f.signals.Line("pressure_altitude"))
	alike(t, "parts", []any{len(parts), parts[0].span, parts[0].elevation, parts[1].span, parts[1].elevation, parts[2].span, parts[2].elevation},
		[]any{3, stretch(0, 50), 1000.0, stretch(50, 90), 400.0, stretch(90, 100), 400.0})
	height, note := heightAboveAerodrome(f.signals, f, air)
	for at, want := range map[float64]float64{10: 0, 20: 2000, 49: 7800, 51: 8385, 70: 4300, 90: 0, 95: 0} {
		v, ok := height.At(at)
		alike(t, "height", []any{v, ok}, []any{want, true})
	}
	alike(t, "note", note != "", true)
	f.BeginsInAir = true
	parts = aerodromeParts(f, air, f.signals.Line("pressure_altitude"))
	alike(t, "begins in the air", []float64{parts[0].elevation, parts[1].elevation}, []float64{400, 400})
	f.EndsInAir = true
	alike(t, "begins and ends in the air", len(aerodromeParts(f, air, f.signals.Line("pressure_altitude"))), 0)
	f.BeginsInAir = false
	parts = aerodromeParts(f, air, f.signals.Line("pressure_altitude"))
	alike(t, "ends in the air", []float64{parts[0].elevation, parts[1].elevation, parts[2].elevation}, []float64{1000, 1000, 1000})
	// Two stays: the second one's parts begin where the first one ends.
	f.EndsInAir = false
	parts = aerodromeParts(f, []stay{stayOf(10, 40), stayOf(60, 90)}, f.signals.Line("pressure_altitude"))
	alike(t, "two stays", []any{len(parts), parts[2].span.Start, parts[4].span}, []any{5, 40.0, stretch(90, 100)})

	// Of an altitude in steps of 20 ft that of an aerodrome is known to half a step; where the lift-off is that of a
	// stand-in, by as much worse as the altitude changes between its bounds. A stated accuracy is of both ends.
	steps := func(more ...*ingest.Series) (*Flight, *readings.Line) {
		s := along("pressure_altitude", 100, straight(0, 1000, 100, 3000))
		s.Accuracy = 0
		f := flightOf(100, append(more, s)...)
		f.Profile.Legs = []string{"nose", "left", "right"}
		ReadTracks(f)
		return f, f.signals.Line("pressure_altitude")
	}
	by, line := steps(seconds("left_strut_compressed", repeated(101, 1)...))
	alike(t, "estimated", by.elevationAccuracy(line, Time{10, 8, 12}), 10.0)
	by, line = steps(along("radio_altitude", 100, straight(0, 0)))
	alike(t, "estimated, by a stand-in", by.elevationAccuracy(line, Time{10, 8, 12}), 10.0+80)
	line.Accuracy = 5
	alike(t, "stated, by a stand-in", by.elevationAccuracy(line, Time{10, 8, 12}), 80.0)
	alike(t, "at a time that is known", by.elevationAccuracy(line, exactly(10)), 0.0)
	// Where one of the two aerodromes is not in the recording the other stands for it, with its accuracy: here
	// 20 ft a second for the two seconds of a lift-off, or the four of a touchdown.
	for _, c := range []struct {
		begins, ends bool
		want         []float64
	}{{false, false, []float64{40, 80, 80}}, {true, false, []float64{80, 80, 80}}, {false, true, []float64{40, 40, 40}}} {
		by.BeginsInAir, by.EndsInAir = c.begins, c.ends
		var got []float64
		for _, p := range aerodromeParts(by, []stay{{Time{10, 9, 11}, Time{90, 88, 92}}}, line) {
			got = append(got, p.accuracy)
		}
		alike(t, "accuracies", got, c.want)
	}

	both := flightOf(100, along("pressure_altitude", 100, altitude), along("radio_altitude", 100, func(s float64) float64 { return min(2500, 5+250*max(0, min(s-10, 90-s))) }))
	height, note = heightAboveAerodrome(both.signals, both, air)
	alike(t, "note", note, "")
	alike(t, "three parts beside the radio altitude, none without a time", len(height), 3)
	for at, want := range map[float64]float64{5: 5, 15: 1255, 85: 1255, 30: 4000, 95: 5} {
		v, ok := height.At(at)
		alike(t, "height with radio altitude", []any{math.Round(v), ok}, []any{want, true})
	}
	radio := flightOf(100, along("radio_altitude", 100, func(s float64) float64 { return min(2500, 250*s) }))
	height, note = heightAboveAerodrome(radio.signals, radio, nil)
	_, known := height.At(50)
	alike(t, "radio altitude alone", []any{known, note != ""}, []any{false, true})
	low := flightOf(100, along("radio_altitude", 100, func(s float64) float64 { return 100 }))
	if _, note = heightAboveAerodrome(low.signals, low, nil); note != "" {
		t.Errorf("radio altitude throughout: %s", note)
	}
	alike(t, "middle of nothing", highestTime(readings.Spliced{}, stretch(10, 30)), Time{20, 10, 30})
	tops := readings.Spliced{{Line: flightOf(40, along("pressure_altitude", 40, straight(10, 0, 11, 500, 20, 500, 21, 300, 29, 300, 30, 500, 31, 0))).signals.Line("pressure_altitude"), Where: during(0, 40)}}
	alike(t, "the first of the highest", highestTime(tops, stretch(0, 40)), Time{11, 10, 21})
	alike(t, "one sample", highestTime(tops, stretch(29.5, 30.5)), Time{30, 29.5, 30.5})
	alike(t, "highest", highestTime(readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 100)}}, stretch(0, 100)).Nominal, 50.0)
}

// The radio altitude dips by more than 400 ft and comes back while the pressure altitude stays,
// or climbs by 200 ft: the ground rises. With a larger climb it is the aircraft that does.
func TestTerrainByHand(t *testing.T) {
	t.Parallel()
	radio := along("radio_altitude", 100, straight(40, 2000, 50, 1500, 60, 2000))
	for name, c := range map[string]struct {
		climb float64
		want  int
	}{"level": {0, 1}, "climbs by 200 ft": {200, 1}, "climbs by 201 ft": {201, 0}} {
		f := flightOf(100, radio, along("pressure_altitude", 100, straight(50, 5000, 58, 5000+c.climb)))
		f.air = []stay{stayOf(0, 100)}
		found := terrain(f)
		alike(t, name, len(found), c.want)
		if len(found) > 0 {
			alike(t, name, readings.Spans(found[0].Spans), during(42, 58)) // 400 ft above the lowest point, at 50 ft a second
		}
	}
	f := flightOf(100, radio)
	f.air = []stay{stayOf(0, 100)}
	alike(t, "no pressure altitude", len(terrain(f)), 0)
}
