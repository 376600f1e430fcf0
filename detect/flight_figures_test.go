package detect

import (
	"math"
	"slices"
	"testing"

	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// along is a series of a function of time, exact to a thousandth so that none is estimated.
func along(name string, end int, value func(s float64) float64) *ingest.Series {
	values := make([]float64, end+1)
	for i := range values {
		values[i] = value(float64(i))
	}
	s := seconds(name, values...)
	s.Accuracy = 0.001
	return s
}

// straight runs through the points (time, value, time, value, ...), level beyond them.
func straight(points ...float64) func(float64) float64 {
	return func(s float64) float64 {
		for i := 2; i < len(points); i += 2 {
			if s <= points[i] {
				if s <= points[i-2] {
					return points[i-1]
				}
				return points[i-1] + (points[i+1]-points[i-1])*(s-points[i-2])/(points[i]-points[i-2])
			}
		}
		return points[len(points)-1]
	}
}

func stayOf(from, to float64) stay { return stay{exactly(from), exactly(to)} }

func nominals(all []stay) (out []float64) {
	for _, s := range all {
		out = append(out, s.begins.Nominal, s.ends.Nominal)
	}
	return out
}

// A roll by speed begins as it passes 40 kt; one that turns back is a rejected take-off from
// 50 kt on, and a taxi below it. The roll of a landing is none.
func TestRollsBySpeedByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		speed  func(float64) float64
		ground groundStay
		want   []float64 // begin, end
		ended  RollEnd
	}{
		{"lift-off", straight(10, 0, 30, 200), groundStay{stay{exactly(0), Time{30, 29.75, 30}}, true, false}, []float64{10 + 40.0/10, 30}, InLiftOff},
		{"rejected", straight(10, 0, 20, 60, 30, 0), groundStay{stayOf(0, 60), false, false}, []float64{10 + 40.0/6, 30 - 40.0/6}, Rejected},
		{"at fifty", straight(10, 0, 20, 50, 30, 0), groundStay{stayOf(0, 60), false, false}, []float64{18, 22}, Rejected},
		{"below fifty", straight(10, 0, 20, 49.9, 30, 0), groundStay{stayOf(0, 60), false, false}, nil, ""},
		{"the recording ends in it", straight(10, 0, 30, 200), groundStay{stayOf(0, 60), false, false}, []float64{14, 60}, RollsOn},
		{"a landing", straight(0, 120, 30, 0), groundStay{stayOf(0, 60), false, false}, nil, ""},
	} {
		f := flightOf(60, along("ground_speed", 60, c.speed))
		f.rollsBySpeed(c.ground, f.signals.Compare("ground_speed", readings.AtLeast, slowSpeed, readings.Spans{c.ground.span()}))
		var got []float64
		for _, r := range f.Rolls {
			got = append(got, math.Round(1e3*r.Begins.Nominal)/1e3, math.Round(1e3*r.Ends.Nominal)/1e3)
			alike(t, c.name, r.Ended, c.ended)
			if c.ground.flies {
				alike(t, c.name, r.Ends, c.ground.ends)
			}
		}
		for i := range c.want {
			c.want[i] = math.Round(1e3*c.want[i]) / 1e3
		}
		alike(t, c.name, got, c.want)
	}
}

// An airspeed of 60 kt or more is fast; where there is only a ground speed, one of 40 kt. The roll
// is from 30 to 50 s.
func TestSetOutByHand(t *testing.T) {
	t.Parallel()
	after, first := groundStay{stayOf(0, 60), false, true}, groundStay{stayOf(0, 60), false, false}
	for _, c := range []struct {
		name          string
		speed         *ingest.Series
		ground        groundStay
		from, perhaps bool
	}{
		{"fast", along("computed_airspeed", 60, straight(0, 60)), after, true, false},
		{"slow for a moment", along("computed_airspeed", 60, straight(0, 90, 10, 59, 20, 90)), after, false, false},
		{"slow later", along("computed_airspeed", 60, straight(0, 90, 31, 90, 40, 0)), after, true, false},
		{"fast over the ground", along("ground_speed", 60, straight(0, 40)), after, true, false},
		{"slow over the ground", along("ground_speed", 60, straight(0, 39.9)), after, false, false},
		{"no speed", along("radio_altitude", 60, straight(0, 0)), after, false, false},
		{"between stays in the air", along("computed_airspeed", 60, straight(0, 0)), groundStay{stayOf(0, 60), true, true}, true, false},
		{"fast from the start", along("computed_airspeed", 60, straight(0, 90, 50, 90, 51, 0)), first, false, true},
		{"fast from the start, then in the air", along("computed_airspeed", 60, straight(0, 90)), groundStay{stayOf(0, 60), true, false}, false, true},
		{"slow at the start", along("computed_airspeed", 60, straight(0, 59, 5, 90)), first, false, false},
		{"slow in the roll", along("ground_speed", 60, straight(0, 90, 45, 39, 50, 90)), first, false, false},
		{"no speed from the start", along("radio_altitude", 60, straight(0, 0)), first, false, false},
	} {
		r := TakeOffRoll{Begins: exactly(30), Ends: exactly(50)}
		flightOf(60, c.speed).setOut(&r, c.ground)
		alike(t, c.name, []bool{r.FromTouchdown, r.PerhapsFromTouchdown}, []bool{c.from, c.perhaps})
	}
}

// By thrust: less than three seconds below the criterion are the same roll, and one that does
// not pass 30 kt was an engine run.
func TestRollsByThrustByHand(t *testing.T) {
	t.Parallel()
	is := func(ends ...float64) readings.Condition {
		return readings.Condition{Certain: during(ends...), True: during(ends...), False: during(ends...).Complement(readings.Spans{stretch(0, 60)}), Possible: during(ends...)}
	}
	lost := is(10, 20)
	lost.False = during(0, 10) // and then nothing is known
	fast, slow := along("computed_airspeed", 60, straight(0, 80)), along("computed_airspeed", 60, straight(0, 29))
	taxi := along("computed_airspeed", 60, straight(0, 30))
	for _, c := range []struct {
		name   string
		speed  *ingest.Series
		thrust readings.Condition
		want   []float64
		ended  RollEnd // the last one
		flies  bool
	}{
		{"rejected", fast, is(10, 20), []float64{10, 20}, Rejected, false},
		{"an engine run", slow, is(10, 20), nil, "", false},
		{"an engine run before", along("computed_airspeed", 60, straight(20, 0, 25, 80)), is(10, 20, 30, 40), []float64{30, 40}, Rejected, false},
		{"rejected at 30 kt", taxi, is(10, 20), []float64{10, 20}, Rejected, false},
		{"thrust wavers", fast, is(10, 20, 22.9, 30), []float64{10, 30}, Rejected, false},
		{"two rolls", fast, is(10, 20, 23, 30), []float64{10, 20, 23, 30}, Rejected, false},
		{"lift-off", slow, is(10, 60), []float64{10, 60}, InLiftOff, true},
		{"the recording ends in it", fast, is(10, 60), []float64{10, 60}, RollsOn, false},
		{"the thrust is known no more", fast, lost, []float64{10, 20}, RollsOn, false},
		{"thrust reduced before", fast, is(10, 50), []float64{10, 50}, Rejected, true},
	} {
		f := flightOf(60, c.speed)
		f.rollsByThrust(groundStay{stayOf(0, 60), c.flies, false}, c.thrust)
		var got []float64
		for _, r := range f.Rolls {
			got = append(got, r.Begins.Nominal, r.Ends.Nominal)
		}
		alike(t, c.name, got, c.want)
		if n := len(f.Rolls); n > 0 {
			alike(t, c.name, f.Rolls[n-1].Ended, c.ended)
		}
	}
	both := flightOf(60, fast, along("ground_speed", 60, straight(0, 99)))
	v, known := both.highestSpeed(stretch(0, 60))
	alike(t, "the airspeed", []any{v, known}, []any{80.0, true})
	v, known = flightOf(60, along("ground_speed", 60, straight(0, 99))).highestSpeed(stretch(0, 60))
	alike(t, "the ground speed", []any{v, known}, []any{99.0, true})
	_, known = flightOf(60).highestSpeed(stretch(0, 60))
	alike(t, "none", known, false)
}

// A climb ends in level flight of 90 s within 100 ft, at its begin, or at the top before a
// descent of more than 150 ft.
func TestClimbByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		shape func(float64) float64
		want  float64
	}{
		{"to the end", straight(0, 0, 300, 9000), 300},
		{"level for 90 s", straight(0, 0, 100, 3000, 190, 3000, 300, 9000), 100},
		{"level for 85 s", straight(0, 0, 100, 6000, 183, 6000, 300, 16000), 300},
		{"a descent", straight(0, 0, 100, 3000, 200, 2000, 300, 9000), 100},
		{"a small one", straight(0, 0, 100, 3000, 115, 2850, 300, 9000), 300},
		{"one of half a foot more", straight(0, 0, 100, 3000, 115, 2849.5, 300, 9000), 100},
		{"a descent from a level top", straight(0, 0, 100, 3000, 150, 3000, 250, 2000, 300, 9000), 100},
	} {
		f := flightOf(300, along("pressure_altitude", 300, c.shape))
		a := stayOf(0, 300)
		if got := f.climb(a, exactly(0)); got.ends.Nominal != c.want || got.begins.Nominal != 0 {
			t.Errorf("%s: %+v, want until %g", c.name, got, c.want)
		}
	}
	f := flightOf(300, along("pressure_altitude", 300, straight(0, 0, 100, 3000, 150, 500, 300, 9000)))
	f.air = []stay{stayOf(0, 300)}
	f.GoArounds = []GoAround{{Begins: exactly(145), Lowest: exactly(150)}}
	alike(t, "climbs", nominals(f.climbs()), []float64{0, 100, 145, 300})
	f.BeginsInAir = true
	alike(t, "climbs of a flight that begins in the air", nominals(f.climbs()), []float64{145, 300})
	f.air, f.GoArounds = []stay{stayOf(0, 150), stayOf(160, 300)}, nil
	alike(t, "climbs after its touch-and-go", nominals(f.climbs()), []float64{160, 300})
}

// A flight with an approach from 3000 ft at 100 s, given up at 200 ft at 190 s; the flap comes
// in at 180 s. All heights are pressure altitudes above sea level at an aerodrome there.
func TestGoAroundByHand(t *testing.T) {
	t.Parallel()
	shape := straight(0, 3000, 100, 3000, 190, 200, 300, 4000)
	f := flightOf(300, along("pressure_altitude", 300, shape))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 300)}}
	a := stayOf(0, 300)
	f.air = []stay{a}
	for _, c := range []struct {
		name string
		acts []readings.Moment
		want Time
	}{
		{"the first act", []readings.Moment{sure(150), sure(175), sure(185)}, exactly(175)},
		{"thirty seconds before", []readings.Moment{sure(160)}, exactly(160)},
		{"none", nil, exactly(190)},
		{"after the lowest point", []readings.Moment{sure(195)}, exactly(190)},
		{"one that need not be", []readings.Moment{moment(175, 174, 176, false)}, Time{175, 174, 190}},
	} {
		g := f.goAround(c.acts, a, 190, 0)
		if g.Begins.Nominal != c.want.Nominal || math.Abs(g.Begins.Latest-c.want.Latest) > 1.5 || math.Abs(g.Begins.Earliest-c.want.Earliest) > 1.5 {
			t.Errorf("%s: begins %+v, want %+v", c.name, g.Begins, c.want)
		}
		if g.Lowest.Nominal != 190 || !g.Known || math.Abs(g.Height-200) > 1e-6 {
			t.Errorf("%s: lowest %+v, %g ft", c.name, g.Lowest, g.Height)
		}
	}
	g := f.goAround([]readings.Moment{moment(191, 190, 192, false)}, a, 190, 0)
	alike(t, "perhaps at the lowest point", []float64{g.Begins.Nominal, g.Begins.Latest}, []float64{190, 192})
	alike(t, "below 1500 ft", []bool{f.below(1500, 190), f.below(1500, 50), f.below(200, 190), f.below(1500, 999)}, []bool{true, false, false, false})
	descends := func(start, end float64) bool { return f.shape(a).descends(stretch(start, end)) }
	alike(t, "descends", []bool{descends(100, 190), descends(0, 100), descends(100, 103), descends(100, 104), descends(190, 300)}, []bool{true, false, false, true, false})
	falls := f.crossings(readings.Below, 2500)
	// Level at 3000 ft until 100 s: the approach begins where that ends, or where the height
	// falls through 2500 ft, whichever is later.
	s := f.shape(a)
	begins, ok := f.approachBegins(s, nil, stretch(0, 190))
	if !ok || begins.Nominal != 100 || begins.Earliest != 80 {
		t.Errorf("begins %+v %v, want at 100, where it is level until", begins, ok)
	}
	begins, ok = f.approachBegins(s, falls, stretch(0, 190))
	if want := 100 + 500/(2800/90.0); !ok || math.Abs(begins.Nominal-want) > 1e-6 {
		t.Errorf("begins %+v %v, want at %g", begins, ok, want)
	}
	if begins, ok = f.approachBegins(s, []readings.Moment{sure(190)}, stretch(110, 190)); ok {
		t.Errorf("an approach without a length begins at %+v", begins)
	}
	begins, ok = f.approachBegins(s, nil, stretch(0, 101))
	alike(t, "level until a second before the end", []any{begins.Nominal, ok}, []any{100.0, true})
	begins, ok = f.approachBegins(s, nil, stretch(0, 100.5))
	alike(t, "level until the end", []any{begins.Nominal, ok}, []any{0.0, true})
	begins, ok = f.approachBegins(s, nil, stretch(110, 190))
	if !ok || begins.Nominal != 110 {
		t.Errorf("begins %+v %v, want at the highest point", begins, ok)
	}
	for level, want := range map[float64]float64{30: 90, 29: 0} { // s in which it is level, down by 200 ft a second before and after
		steep := flightOf(110, along("pressure_altitude", 110, straight(0, 16000, 60, 4000, 60+level, 4000, 80+level, 0)))
		steep.height = readings.Spliced{{Line: steep.signals.Line("pressure_altitude"), Where: during(0, 110)}}
		begins, ok := steep.approachBegins(steep.shape(stayOf(0, 110)), nil, stretch(0, 80+level))
		alike(t, "level for as long", []any{begins.Nominal, ok}, []any{want, true})
	}
	for height, want := range map[float64]float64{600: 100, 599: 0} { // ft at which it is level from 60 to 100 s
		steep := flightOf(110, along("pressure_altitude", 110, straight(0, 12600, 60, height, 100, height, 103, 0)))
		steep.height = readings.Spliced{{Line: steep.signals.Line("pressure_altitude"), Where: during(0, 110)}}
		begins, ok := steep.approachBegins(steep.shape(stayOf(0, 110)), nil, stretch(0, 103))
		alike(t, "level as low", []any{begins.Nominal, ok}, []any{want, true})
	}
	if low := flightOf(300, along("pressure_altitude", 300, straight(0, 2000, 50, 500, 150, 500, 190, 0))); true {
		low.height = readings.Spliced{{Line: low.signals.Line("pressure_altitude"), Where: during(0, 300)}}
		if begins, _ := low.approachBegins(low.shape(a), nil, stretch(0, 190)); begins.Nominal != 0 {
			t.Errorf("begins %+v, want at the highest point: level at a minimum is no beginning", begins)
		}
	}
}

// The lowest height of a go-around is looked for within 30 s of the lowest altitude, at 190 s, in
// the stay in the air and after the go-around before. Radio altitude is 500 ft but for five
// samples, the lower ones further away.
func TestLowestHeightOfAGoAroundByHand(t *testing.T) {
	t.Parallel()
	low := map[float64]float64{159: 50, 165: 100, 190: 200, 210: 150, 221: 60}
	f := flightOf(300, along("radio_altitude", 300, func(s float64) float64 {
		if h, ok := low[s]; ok {
			return h
		}
		return 500
	}))
	f.height = readings.Spliced{{Line: f.signals.Line("radio_altitude"), Where: during(0, 300)}}
	for _, c := range []struct {
		name        string
		a           stay
		from        float64
		at, height  float64
		early, late float64
	}{
		{"within 30 s", stayOf(0, 300), 0, 165, 100, 164, 166},
		{"after the one before", stayOf(0, 300), 170, 210, 150, 209, 211},
		{"after the lift-off", stayOf(170, 300), 0, 210, 150, 209, 211},
		{"before the touchdown", stayOf(0, 200), 170, 190, 200, 189, 191},
		{"at the lift-off", stayOf(165, 300), 0, 165, 100, 165, 166},
	} {
		g := f.goAround(nil, c.a, 190, c.from)
		alike(t, c.name, []any{g.Lowest, g.Begins, g.Height, g.Known}, []any{Time{c.at, c.early, c.late}, Time{c.at, c.early, c.late}, c.height, true})
	}
	level := flightOf(300, along("radio_altitude", 300, func(s float64) float64 { return map[bool]float64{true: 100, false: 500}[s == 165 || s == 210] }))
	level.height = readings.Spliced{{Line: level.signals.Line("radio_altitude"), Where: during(0, 300)}}
	alike(t, "one sample", f.goAround(nil, stayOf(189.5, 190.5), 190, 0).Lowest, Time{190, 189.5, 190.5})
	alike(t, "the first of two as low", level.goAround(nil, stayOf(0, 300), 190, 0).Lowest, Time{165, 164, 166})
	f.height = nil
	g := f.goAround(nil, stayOf(0, 300), 190, 0)
	alike(t, "no height", []any{g.Lowest, g.Height, g.Known}, []any{exactly(190), 0.0, false})
}

// Approaches begin as the height falls through 3000 ft. The aircraft lifts off at 0 s, is at 4000 ft
// at 100 s and on the ground at 200 s, so below 3000 ft from 125 s on; it lifts off again at 210 s,
// is at 4000 ft at 310 s and comes down by 40 ft a second from then on, below 3000 ft from 335 s on.
func TestFindApproachesByHand(t *testing.T) {
	t.Parallel()
	shape := straight(0, 0, 100, 4000, 200, 0, 210, 0, 310, 4000, 410, 0)
	of := func(ends float64, endsInAir bool, more ...*ingest.Series) []Approach {
		f := flightOf(450, append(more, along("pressure_altitude", 450, shape))...)
		f.Profile.Flaps = schemas.Flaps{Parameters: []string{"flap_handle"}, Tolerance: 2, Detents: []schemas.Detent{{Name: "0", Angle: 0, Classes: []string{"up"}}, {Name: "30", Angle: 30, Classes: []string{"landing"}}}}
		f.Span = stretch(0, ends)
		f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 450)}}
		f.air, f.EndsInAir = []stay{stayOf(0, 200), stayOf(210, ends)}, endsInAir
		f.Touchdowns = []Touchdown{{exactly(200), TouchAndGo, false}}
		if !endsInAir {
			f.Touchdowns = append(f.Touchdowns, Touchdown{exactly(ends), FullStop, false})
		}
		f.findApproaches(newTracks(f, nil), f.air)
		return f.Approaches
	}
	type found struct {
		begins, ends float64
		outcome      ApproachOutcome
	}
	first := found{125, 200, EndsInTouchAndGo}
	set := seconds("flap_handle", repeated(329, 0, 122, 30)...) // landing flap from 329 s on
	for _, c := range []struct {
		name string
		got  []Approach
		want []found
	}{
		{"two landings", of(410, false), []found{first, {335, 410, EndsInLanding}}},
		{"ends 120 ft below 3000 ft", of(338, true), []found{first, {335, 338, EndsWithFlight}}},
		{"ends 100 ft below, as in turbulence", of(337.5, true), []found{first}},
		{"ends at 3000 ft", of(335, true), []found{first}},
		{"ends above 3000 ft", of(330, true), []found{first}},
		{"with landing flap a second before", of(330, true, set), []found{first, {310, 330, EndsWithFlight}}},
		{"with landing flap in the last second", of(329.5, true, set), []found{first}},
		{"ends in the climb", of(300, true, seconds("flap_handle", repeated(451, 30)...)), []found{first}},
	} {
		var got []found
		for _, a := range c.got {
			got = append(got, found{math.Round(1e3*a.Begins.Nominal) / 1e3, a.Ends.Nominal, a.Outcome})
			alike(t, c.name, a.Span, stretch(a.Begins.Nominal, a.Ends.Nominal))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// Level at 3000 ft until 100 s, then down to 300 ft, where the recording ends. The height above the
// aerodrome is known from 170 s on, within a radio altimeter's range.
func TestApproachWithoutItsEndByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(190, along("pressure_altitude", 190, straight(0, 3000, 100, 3000, 190, 300)))
	f.Span = stretch(0, 190)
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(170, 190)}}
	f.air, f.EndsInAir = []stay{stayOf(0, 190)}, true
	f.findApproaches(newTracks(f, nil), f.air)
	if len(f.Approaches) != 1 || f.Approaches[0].Outcome != EndsWithFlight || f.Approaches[0].Ends != exactly(190) || math.Abs(f.Approaches[0].Begins.Nominal-100) > 1 {
		t.Errorf("%+v", f.Approaches)
	}
}

// From 4000 ft at 100 s down by 40 ft a second to 400 ft at 190 s, through 3000 ft at 125 s; then up to 2500 ft at
// 260 s, where the second approach begins, as no height of 3000 ft is passed after the first; landing at 310 s.
func TestApproachAfterAGoAroundByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(310, along("pressure_altitude", 310, straight(0, 0, 100, 4000, 190, 400, 260, 2500, 310, 0)))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 310)}}
	f.air = []stay{stayOf(0, 310)}
	f.Touchdowns = []Touchdown{{exactly(310), FullStop, false}}
	f.findApproaches(newTracks(f, nil), f.air)
	var got []any
	for _, a := range f.Approaches {
		got = append(got, hundredths(a.Begins.Nominal), a.Ends.Nominal, a.Outcome)
	}
	alike(t, "approaches", got, []any{125.0, 190.0, EndsInGoAround, 260.0, 310.0, EndsInLanding})
	alike(t, "go-around", []any{len(f.GoArounds), f.GoArounds[0].Lowest.Nominal, hundredths(f.GoArounds[0].Height), f.GoArounds[0].Ends.Nominal}, []any{1, 190.0, 400.0, 260.0})
}

// A go-around ends with the flap up, the next approach or the stay in the air.
func TestEndGoAroundsByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(300)
	env := newTracks(f, nil)
	f.air = []stay{stayOf(0, 120), stayOf(130, 280)}
	f.GoArounds = []GoAround{{Lowest: exactly(50)}, {Lowest: exactly(200)}}
	f.Approaches = []Approach{{Begins: exactly(20), Ends: exactly(50)}, {Begins: exactly(90), Ends: exactly(120)}, {Begins: exactly(280)}}
	f.endGoArounds(env, f.air)
	alike(t, "ends", []float64{f.GoArounds[0].Ends.Nominal, f.GoArounds[1].Ends.Nominal}, []float64{90, 280})
	f.Approaches = f.Approaches[:1] // no other approach: the stay in the air ends it
	f.endGoArounds(env, f.air)
	alike(t, "ends with the stay", []float64{f.GoArounds[0].Ends.Nominal, f.GoArounds[1].Ends.Nominal}, []float64{120, 280})

	// The flap is up before the stay ends; an approach begun before that ends it, too.
	up := flightOf(300, seconds("flap_handle", repeated(71, 15, 230, 0)...))
	up.Profile.Flaps = schemas.Flaps{Parameters: []string{"flap_handle"}, Tolerance: 2, Detents: []schemas.Detent{{Name: "0", Angle: 0, Classes: []string{"up"}}, {Name: "15", Angle: 15, Classes: []string{"takeoff"}}}}
	env, f.GoArounds = newTracks(up, nil), f.GoArounds[:1]
	f.endGoArounds(env, f.air)
	alike(t, "ends with the flap up", f.GoArounds[0].Ends, Time{71, 70 + instant, 71})
	f.Approaches = append(f.Approaches, Approach{Begins: Time{71, 60, 80}})
	f.endGoArounds(env, f.air)
	alike(t, "not with an approach that begins as it ends", f.GoArounds[0].Ends, Time{71, 70 + instant, 71})
	f.Approaches = append(f.Approaches, Approach{Begins: exactly(50)})
	f.endGoArounds(env, f.air)
	alike(t, "not with one that begins at its lowest point", f.GoArounds[0].Ends.Nominal, 71.0)
	f.Approaches = append(f.Approaches, Approach{Begins: exactly(60)})
	f.endGoArounds(env, f.air)
	alike(t, "ends with the next approach", f.GoArounds[0].Ends.Nominal, 60.0)
	f.air = []stay{stayOf(50, 120)}
	f.GoArounds = []GoAround{{Lowest: exactly(50)}, {Lowest: exactly(120)}}
	f.endGoArounds(newTracks(f, nil), f.air)
	alike(t, "at either end of the stay in the air", []float64{f.GoArounds[0].Ends.Nominal, f.GoArounds[1].Ends.Nominal}, []float64{60, 120})
}

// Throttles: each engine's own, or one of them missing.
func TestThrottlesByHand(t *testing.T) {
	of := func(engines int, series ...*ingest.Series) *Tracks {
		f := flightOf(40, series...)
		f.Profile = &schemas.Profile{Engines: engines}
		f.Profile.Throttle.Parameter, f.Profile.Throttle.RetardedBelow = "throttle_angle", 10
		return newTracks(f, nil)
	}
	first, second := along("throttle_angle_1", 40, straight(10, 20, 30, 0)), along("throttle_angle_2", 40, straight(0, 0, 20, 20))
	env := of(2, first, second)
	// The first is below 10 from 20 s on, the second up to 10 s.
	alike(t, "one", env.Condition("any_throttle_retarded").True, during(0, 10, 20, 40))
	alike(t, "every", env.Condition("all_throttles_retarded").True, during())
	missing, fallbacks := env.needsOf("any_throttle_retarded")
	alike(t, "needs", []int{len(missing), len(fallbacks)}, []int{0, 0})
	missing, _ = of(2, second).needsOf("all_throttles_retarded")
	alike(t, "the first is missing", missing, []string{"throttle_angle_1: not mapped in the profile"})
	missing, _ = of(2, first).needsOf("all_throttles_retarded")
	alike(t, "the second is missing", missing, []string{"throttle_angle_2: not mapped in the profile"})
	missing, _ = of(0, first).needsOf("any_thrust_reverser_deployed")
	alike(t, "no engines", missing, []string{"the profile does not say how many engines the type has (engines)"})
	missing, _ = of(2, seconds("thrust_reverser_deployed_1", repeated(41, 0)...)).needsOf("any_thrust_reverser_deployed")
	alike(t, "one of two reversers", missing, []string{"thrust_reverser_deployed_2: not mapped in the profile"})
	deployed := func(engine string, from float64) *ingest.Series {
		return seconds("thrust_reverser_deployed_"+engine, repeated(from, 0, 41-from, 1)...)
	}
	alike(t, "one of two reversers", of(2, deployed("1", 30), deployed("2", 20)).Condition("any_thrust_reverser_deployed").True, during(20, 40))
	alike(t, "the reverser of one engine", of(1, deployed("1", 30), deployed("2", 20)).Condition("any_thrust_reverser_deployed").True, during(30, 40))
	alike(t, "no engines", of(0, deployed("1", 30)).Condition("any_thrust_reverser_deployed"), readings.Unknown(during(0, 40)))
	alike(t, "no engines", of(0, first).Condition("any_throttle_retarded"), readings.Unknown(during(0, 40)))
	alike(t, "of each engine", env.ofEngines("reverser"), []string{"reverser_1", "reverser_2"})
	env.flight.Profile.Throttle.Parameter = ""
	missing, _ = env.needsOf("any_throttle_retarded")
	alike(t, "no throttle", missing, []string{noThrottle})
	alike(t, "no throttle", newTracks(env.flight, nil).Condition("any_throttle_retarded"), readings.Unknown(during(0, 40)))
}

// Conditions named after the flight, from its parts as they are.
func TestFlightNamesByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(100, along("ground_speed", 100, straight(0, 0, 10, 0, 20, 100)))
	f.airborne = readings.Condition{Certain: during(20, 80), True: during(20, 80), False: during(0, 20, 80, 100), Possible: during(20, 80)}
	f.air = []stay{stayOf(20, 80)}
	f.Rolls = []TakeOffRoll{{Begins: exactly(12), Ends: exactly(20), Ended: InLiftOff}, {Begins: exactly(85), Ends: exactly(90), Ended: RollsOn, FromTouchdown: true}, {Begins: exactly(92), Ends: exactly(95), Ended: Rejected}}
	f.GoArounds = []GoAround{{Begins: exactly(50), Lowest: exactly(55), Ends: exactly(60)}}
	f.Approaches = []Approach{{Begins: exactly(40), Ends: exactly(50), Outcome: EndsInGoAround}, {Begins: exactly(65), Ends: exactly(80), Outcome: EndsInLanding}}
	f.Touchdowns = []Touchdown{{exactly(80), FullStop, false}, {exactly(30), TouchAndGo, false}, {exactly(35), BalkedLanding, false}}
	f.Phases = []PhaseSpan{{Taxi, stretch(0, 20), exactly(0), exactly(20)}, {EnRoute, stretch(20, 100), exactly(20), exactly(100)}}
	f.height = readings.Spliced{}
	env := newTracks(f, nil)
	for name, want := range map[string]readings.Spans{
		"airborne": during(20, 80), "on_ground": during(0, 20, 80, 100), "stationary": during(0, 10.5), "takeoff_roll": during(12, 20, 92, 95),
		"going_around": during(50, 60), "approach_given_up": during(40, 55), "departing": during(20, 80), "taxi": during(0, 20), "enroute": during(20, 100),
	} {
		if _, ok := derivedNames()[name]; !ok {
			name = "en_route"
		}
		alike(t, name, env.Condition(name).True, want)
	}
	for name, want := range map[string]float64{"go_around": 55, "go_around_begun": 50, "rejected_takeoff": 95, "full_stop": 80, "touch_and_go": 30, "balked_landing": 35} {
		m := env.Moments(name)
		if len(m) != 1 || m[0].Nominal != want || !m[0].Certain {
			t.Errorf("%s: %v, want at %g", name, m, want)
		}
	}
	f.BeginsInAir = true
	alike(t, "departing, not in the recording", newTracks(f, nil).Condition("departing").True, during())
	again := *f
	again.air = []stay{stayOf(20, 50), stayOf(60, 80)}
	alike(t, "departing after a touch-and-go", newTracks(&again, nil).Condition("departing").True, during(60, 80))
	air := flightOf(100, along("computed_airspeed", 100, straight(0, 0, 10, 0, 20, 100)))
	air.airborne, air.air = f.airborne, f.air
	alike(t, "stationary by airspeed", newTracks(air, nil).Condition("stationary").True, during(0, 13))
	none := flightOf(100)
	none.airborne, none.air, none.Rolls = f.airborne, f.air, f.Rolls
	alike(t, "stationary without a speed", newTracks(none, nil).Condition("stationary").True, during(0, 12, 80, 92, 95, 100))
}

// The wheels touch at 20 s. Off them again from 22 to 24 s the aircraft bounces, and from 29 to 32 s, which begins
// within ten seconds; not from 31 s on in another flight, nor in the air.
func TestBouncingByHand(t *testing.T) {
	t.Parallel()
	of := func(name string, wheels ...float64) *Tracks {
		f := flightOf(60, seconds(name, repeated(wheels...)...))
		f.Profile.Legs = []string{"nose", "left", "right"}
		f.airborne = readings.Condition{Certain: during(0, 20), True: during(0, 20), False: during(20, 60), Possible: during(0, 20)}
		f.touchdowns = []readings.Moment{sure(20)}
		return newTracks(f, nil)
	}
	for _, c := range []struct {
		env  *Tracks
		want readings.Spans
	}{
		{of("weight_on_wheels", 20, 0, 2, 1, 2, 0, 5, 1, 3, 0, 29, 1), during(22, 24, 29, 32)},
		{of("left_strut_compressed", 20, 0, 2, 1, 1, 0, 38, 1), during(22, 23)},
		{of("right_strut_compressed", 20, 0, 11, 1, 2, 0, 28, 1), during()},
		{of("right_strut_compressed", 20, 0, 41, 1), during()},
	} {
		alike(t, "bouncing", c.env.Condition("bouncing").True, c.want)
		missing, fallbacks := c.env.needsOf("bouncing")
		alike(t, "needs", []int{len(missing), len(fallbacks)}, []int{0, 0})
	}
	soon := of("weight_on_wheels", 20, 0, 1, 1, 2, 0, 38, 1)
	soon.flight.touchdowns = []readings.Moment{sure(20.5)}
	alike(t, "at once", soon.Condition("bouncing").True, during(21, 23))
	early := of("weight_on_wheels", 20, 0, 1, 1, 2, 0, 38, 1)
	early.flight.touchdowns = []readings.Moment{sure(23.5)}
	alike(t, "over before the touchdown", early.Condition("bouncing").Possible, during())
	missing, _ := of("nose_strut_compressed", 20, 0, 41, 1).needsOf("bouncing")
	alike(t, "no switch on the main wheels", missing, []string{"no main strut switch and no weight_on_wheels is recorded"})
}

// The lever is at UP until 10 s, at OFF until 20 s, then at DOWN.
func TestOperatingSpeedByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(40, seconds("gear_lever", repeated(10, 0, 10, 1, 21, 2)...))
	f.Profile = &schemas.Profile{Values: map[string]float64{"gear_retraction_speed": 220, "gear_extension_speed": 250}}
	n := newTracks(f, nil).Number("gear_operating_speed", during(0, 40)).Nominal
	for at, want := range map[float64]float64{5: 220, 15: nan, 25: 250} {
		got, known := n.At(at)
		if known == math.IsNaN(want) || known && got != want {
			t.Errorf("%g at %g s, known %v, want %g", got, at, known, want)
		}
	}
	f.Profile = &schemas.Profile{}
	missing, _ := newTracks(f, nil).needsOf("gear_operating_speed")
	alike(t, "missing", missing, []string{"gear_retraction_speed" + noValue, "gear_extension_speed" + noValue})
}

// Legs: all three, two of them with the third unknown, or one that stands for all.
func TestLegsByHand(t *testing.T) {
	t.Parallel()
	of := func(series ...*ingest.Series) *Tracks {
		f := flightOf(40, series...)
		f.Profile = &schemas.Profile{Legs: []string{"nose", "left", "right"}}
		return newTracks(f, nil)
	}
	down := func(name string, from int) *ingest.Series {
		return seconds(name, repeated(float64(from), 0, 41-float64(from), 1)...)
	}
	nose, left, right := down("nose_gear_down_locked", 10), down("left_gear_down_locked", 12), down("right_gear_down_locked", 14)
	i := instant
	env := of(nose, left, right)
	alike(t, "every", env.Condition("gear_down_locked"), readings.Condition{Certain: during(14, 40), True: during(14, 40), False: during(0, 14), Possible: during(13+i, 40)})
	alike(t, "some", env.Condition("any_gear_down_locked"), readings.Condition{Certain: during(10, 40), True: during(10, 40), False: during(0, 10), Possible: during(9+i, 40)})
	env = of(nose, left)
	alike(t, "every of two", env.Condition("gear_down_locked"), readings.Condition{True: during(12, 40), False: during(0, 12), Possible: during(11+i, 40)})
	alike(t, "some of two", env.Condition("any_gear_down_locked"), readings.Condition{Certain: during(10, 40), True: during(10, 40), False: during(0, 10), Possible: during(0, 40)})
	missing, fallbacks := env.needsOf("gear_down_locked")
	alike(t, "notes", []int{len(missing), len(fallbacks)}, []int{0, 1})
	alike(t, "left out", leavesOut(fallbacks), true)
	env = of(nose, down("gear_down_locked", 20))
	alike(t, "combined", env.Condition("gear_down_locked").True, during(20, 40))
	missing, fallbacks = env.needsOf("gear_down_locked")
	alike(t, "notes", []int{len(missing), len(fallbacks)}, []int{0, 1})
	alike(t, "none left out", leavesOut(fallbacks), false)

	env = of(down("nose_gear_door_closed", 10), down("left_gear_door_closed", 12), down("right_gear_door_closed", 14))
	alike(t, "every door", env.Condition("gear_door_closed").True, during(14, 40))
	_, known := env.Envelope("nothing")
	alike(t, "no envelope", known, false)
	env = of(nose, left, right, down("gear_down_locked", 20))
	alike(t, "the legs' own, and combined", env.Condition("gear_down_locked").True, during(14, 40))
	missing, fallbacks = env.needsOf("gear_down_locked")
	alike(t, "no notes", []int{len(missing), len(fallbacks)}, []int{0, 0})
	env = of()
	missing, _ = env.needsOf("gear_down_locked")
	alike(t, "none recorded", len(missing), 3)
	alike(t, "none recorded", env.Condition("gear_down_locked"), readings.Unknown(during(0, 40)))
	strut := down("left_strut_compressed", 5)
	env.flight.Profile.Legs = []string{"left"}
	alike(t, "the one leg is not recorded", newTracks(env.flight, nil).Condition("gear_down_locked"), readings.Unknown(during(0, 40)))
	env = of(strut, seconds("right_strut_compressed", repeated(41, 0)...))
	missing, fallbacks = env.needsOf("main_strut_compressed")
	alike(t, "the nose is no main leg", []int{len(missing), len(fallbacks)}, []int{0, 0})
	alike(t, "main struts", env.Condition("main_strut_compressed").True, during(5, 40))
	env = of(strut, down("nose_strut_compressed", 3), seconds("right_strut_compressed", repeated(41, 0)...))
	alike(t, "any strut", env.Condition("any_strut_compressed").True, during(3, 40))
	alike(t, "main struts beside it", env.Condition("main_strut_compressed").True, during(5, 40))
}

// instant is the length of a sample in the readings.
const instant = 1e-6
