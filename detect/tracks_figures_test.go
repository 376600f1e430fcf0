package detect

import (
	"math"
	"testing"

	"downlock/detect/language"
	"downlock/detect/readings"
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
	alike(t, "source", []any{name, note != ""}, []any{"flap_angle", true})
	held, ok := env.Flap()
	alike(t, "values", []any{ok, len(held.Values), held.Values[1].Name, held.Values[1].Is.True, held.From[0]}, []any{true, 4, "5", during(3, 5.5), "flap_angle"})
	steps := flightOf(40, seconds("flap_handle", repeated(10, 0, 10, 5, 21, 30)...))
	steps.Profile = profile
	env = newTracks(steps, nil)
	alike(t, "of a handle", env.Condition("landing_flap").True, during(20, 40))
	name, note = env.flapSource()
	alike(t, "source", []string{name, note}, []string{"flap_handle", ""})
	none := newTracks(flightOf(40), nil)
	missing, _ := none.needsOf("flap_up")
	alike(t, "no detents", missing, []string{noDetents})
	_, ok = none.Flap()
	alike(t, "no flap", ok, false)
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

	both := flightOf(100, along("pressure_altitude", 100, altitude), along("radio_altitude", 100, func(s float64) float64 { return min(2500, 5+250*max(0, min(s-10, 90-s))) }))
	height, note = heightAboveAerodrome(both.signals, both, air)
	alike(t, "note", note, "")
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
	}{"level": {0, 1}, "climbs by 200 ft": {200, 1}, "climbs by 210 ft": {210, 0}} {
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
