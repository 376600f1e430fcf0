package detect

import (
	"math"
	"testing"

	"downlock/detect/readings"
)

// What happened before a recording or happens after it may be known only as possible. All figures
// are worked out by hand.

// The altitude is known from 5 s to 190 s, and so are the lowest points by their time; the others need
// a larger descent or climb than the altitude has.
func TestPerhapsTurnsByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name             string
		altitude         func(float64) float64
		cameDown, climbs bool
		low              bool
		want             []float64
	}{
		{"turns in the recording", straight(0, 3000, 100, 300, 190, 3000), false, false, true, []float64{100}},
		{"turns in the recording and near its start", straight(0, 3000, 40, 300, 190, 3000), true, false, true, []float64{40}},
		{"comes down to it", straight(0, 650, 30, 264, 60, 700, 190, 3000), true, false, true, []float64{30}},
		{"took off", straight(0, 650, 30, 264, 60, 700, 190, 3000), false, false, true, nil},
		{"not low", straight(0, 650, 30, 264, 60, 700, 190, 3000), true, false, false, nil},
		{"long after", straight(0, 650, 65, 264, 95, 700, 190, 3000), true, false, true, nil},
		{"just not so long after", straight(0, 650, 64, 264, 95, 700, 190, 3000), true, false, true, []float64{64}},
		{"climbs as it begins", straight(0, 650, 190, 3000), true, false, true, []float64{5}},
		{"goes on down", straight(0, 3000, 190, 300), false, true, true, []float64{190}},
		{"lands", straight(0, 3000, 190, 300), false, false, true, nil},
		{"has begun to climb", straight(0, 3000, 150, 300, 190, 600), false, true, true, []float64{150}},
		{"has not climbed for long", straight(0, 3000, 130, 300, 190, 600), false, true, true, nil},
		{"both", straight(0, 650, 30, 264, 60, 2000, 190, 300), true, true, true, []float64{30, 190}},
	} {
		line := flightOf(190, along("pressure_altitude", 190, c.altitude)).signals.Line("pressure_altitude")
		shape := altitudes{readings.Sampling{Times: line.Times[5:]}, line.Values[5:]}
		var got []float64
		for _, k := range perhapsTurns(shape, c.cameDown, c.climbs, func(int) bool { return c.low }) {
			got = append(got, shape.Times[k])
		}
		alike(t, c.name, got, c.want)
	}
	alike(t, "no altitude", len(perhapsTurns(altitudes{}, true, true, nil)), 0)
}

// The recording begins at 650 ft in a descent to 264 ft at 20 s and a climb. A go-around may have
// begun before it. With the lowest point at 30 s, and no act of the crew, it begins there.
func TestPerhapsGoingAroundByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		lowest float64
		want   readings.Spans
	}{
		{"in the recording's first half minute", 20, during(0, 190)},
		{"later", 30, during(30, 190)},
	} {
		f := flightOf(190, along("pressure_altitude", 190, straight(0, 650, c.lowest, 264, 100, 2000, 190, 3000)))
		f.airborne = readings.Condition{Certain: during(0, 190), True: during(0, 190), Possible: during(0, 190)}
		f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 190)}}
		f.air, f.BeginsInAir, f.EndsInAir = []stay{stayOf(0, 190)}, true, true
		env := newTracks(f, nil)
		f.findApproaches(env, f.air)
		around := env.Condition("going_around")
		if len(f.GoArounds) != 0 || len(around.True) != 0 || len(around.Certain) != 0 {
			t.Errorf("%s: %+v, %+v", c.name, f.GoArounds, around)
		}
		if len(around.Possible) != 1 || math.Abs(around.Possible[0].Start-c.want[0].Start) > 1 || around.Possible[0].End != 190 {
			t.Errorf("%s: possible %v, want %v", c.name, around.Possible, c.want)
		}
	}
}

// A roll that a recording begins in, up to the lift-off at 20 s: a touchdown may come before it. The
// roll is nominal, not certain; and the touchdown is before the first sample.
func TestPerhapsTouchedDownByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(100)
	f.airborne = readings.Condition{Certain: during(20, 80), True: during(20, 80), False: during(0, 20, 80, 100), Possible: during(20, 80)}
	f.air = []stay{stayOf(20, 80)}
	f.Rolls = []TakeOffRoll{{Begins: exactly(0), Ends: Time{20, 19, 21}, Ended: InLiftOff, PerhapsFromTouchdown: true}, {Begins: exactly(85), Ends: exactly(90), Ended: Rejected}}
	f.Touchdowns = []Touchdown{{exactly(80), FullStop, false}}
	env := newTracks(f, nil)
	roll := env.Condition("takeoff_roll")
	alike(t, "nominal", roll.True, during(0, 20, 85, 90))
	alike(t, "certain", roll.Certain, during(85, 90))
	alike(t, "possible", roll.Possible, during(0, 21, 85, 90))
	for _, name := range []string{"touch_and_go", "balked_landing"} {
		m := env.Moments(name)
		if len(m) != 1 || m[0].InNominal() || m[0].Certain || m[0].Earliest != 0 || m[0].Latest != 0 {
			t.Errorf("%s: %+v", name, m)
		}
	}
	alike(t, "full stop", env.Moments("full_stop"), []readings.Moment{sure(80)})
	f.Rolls[0].Ended = Rejected
	alike(t, "no lift-off", len(newTracks(f, nil).Moments("touch_and_go")), 0)
	f.Rolls[0].PerhapsFromTouchdown = false
	alike(t, "from a stand", newTracks(f, nil).Condition("takeoff_roll").Certain, during(0, 19, 85, 90))
}

// A climb of 100 ft/s of which nothing is known from 20 to 40 s: it passes 3000 ft within that, and
// is above as it is known again.
func TestOutageInAClimbByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(190, along("pressure_altitude", 190, straight(0, 0, 190, 19000)))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 20, 40, 190)}}
	for _, c := range []struct {
		level  float64
		within Span
		want   Time
		ok     bool
	}{
		{1000, stretch(0, 190), exactly(10), true},
		{3000, stretch(0, 190), Time{40, 20, 40}, true},
		{3000, stretch(50, 190), Time{50, 20, 50}, true},
		{3000, stretch(0, 15), Time{}, false},
		{20000, stretch(0, 190), Time{}, false},
	} {
		got, ok := f.passes(c.level, c.within)
		for i, x := range []float64{got.Nominal - c.want.Nominal, got.Earliest - c.want.Earliest, got.Latest - c.want.Latest} {
			if math.Abs(x) > 0.1 || ok != c.ok {
				t.Errorf("%g ft within %v: %+v, %v, want %+v (%d)", c.level, c.within, got, ok, c.want, i)
			}
		}
	}
	early := flightOf(190, along("pressure_altitude", 190, straight(0, 0, 190, 19000)))
	early.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 8, 40, 190)}}
	early.air = []stay{stayOf(5, 190)}
	alike(t, "the climb from a lift-off ends", early.climbed(exactly(5)).Nominal, 40.0)
	// The samples up to 7 s tell of 9 and 12 s: at most 700 ft.
	alike(t, "below, beside an outage", []bool{early.below(701, 9), early.below(700, 9), early.below(701, 12), early.below(5000, 13)}, []bool{true, false, true, false})
}

// The radio altimeter reads 2500 ft, the end of its range, up to 10 s, 1400 ft up to 20 s and then
// nothing; the height is known from 10 to 20 s.
func TestPerhapsBelowByHand(t *testing.T) {
	t.Parallel()
	radio := along("radio_altitude", 20, straight(10, 2500, 11, 1400))
	f := flightOf(60, radio)
	f.height = readings.Spliced{{Line: f.signals.Line("radio_altitude"), Where: during(11, 20)}}
	got := []bool{f.perhapsBelow(1500, 3), f.perhapsBelow(1500, 15), f.perhapsBelow(1300, 15), f.perhapsBelow(1500, 22), f.perhapsBelow(1300, 22), f.perhapsBelow(1300, 40)}
	alike(t, "perhaps below", got, []bool{false, true, false, true, false, true})
	f.height[0].Where = during(18, 20)
	alike(t, "no height, but a reading", []bool{f.perhapsBelow(1500, 12), f.perhapsBelow(1300, 12)}, []bool{true, false})
	none := flightOf(60)
	alike(t, "no height at all", []bool{none.perhapsBelow(1500, 3), none.below(1500, 3)}, []bool{true, false})
}

// The gear is selected up at 12 s, in an outage of the height from 4 to 20 s: not before the
// outage does the initial climb begin, nor end.
func TestPhasesAfterAnOutageByHand(t *testing.T) {
	t.Parallel()
	f := flightOf(190, along("pressure_altitude", 190, straight(4, 0, 190, 18600)), seconds("gear_lever", repeated(12, 2, 179, 0)...))
	f.height = readings.Spliced{{Line: f.signals.Line("pressure_altitude"), Where: during(0, 4.2, 20, 190)}}
	marks := map[Phase]Time{}
	f.markClimb(func(at Time, p Phase) { marks[p] = at }, stayOf(2, 190))
	if c, e := marks[InitialClimb], marks[EnRoute]; c.Nominal != 12 || e.Nominal != 20 || c.Earliest < 4 || e.Earliest < 4 {
		t.Errorf("initial climb from %+v, en route from %+v", c, e)
	}
	// Down again and up: the height is above 3000 ft from 40 s on, and rises through it at 110 s too.
	again := flightOf(190, along("pressure_altitude", 190, straight(0, 0, 60, 6000, 80, 0, 190, 11000)))
	again.height = readings.Spliced{{Line: again.signals.Line("pressure_altitude"), Where: during(0, 20, 40, 190)}}
	at, _ := again.passes(3000, stretch(0, 190))
	alike(t, "the first time above", at.Nominal, 40.0)
}
