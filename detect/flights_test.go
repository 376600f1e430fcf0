package detect_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect"
	"downlock/ingest"
)

// ofTwo is a flight of 1000 s: stand to 100, taxi at 20 kt, run from 200 and
// lift-off at 230, 9000 ft at 500, landing at 800, taxi from 830, stand from 950.
// The aerodromes lie at 300 and 700 ft of pressure altitude. 9000 ft above 300 in
// 270 s is 33.333 ft a second; 8600 ft in 300 s down to 700 is 28.667.
func ofTwo() []*ingest.Series {
	const end = 1000
	return append(struts(end, 230, 800),
		sampledEvery("ground_speed", 1, end, through(100, 0, 110, 20, 200, 20, 230, 150, 800, 140, 840, 20, 940, 20, 950, 0)),
		sampledEvery("pressure_altitude", 1, end, through(230, 300, 500, 9300, 800, 700)),
		sampledEvery("radio_altitude", 1, end, func(t float64) float64 { return min(heightOfTwo(t), 2500) }),
		sampledEvery("gear_lever", 1, end, func(t float64) float64 { return 2 - 2*during(240, 700)(t) }), // DOWN 2, UP 0
	)
}

// heightOfTwo is the height above the aerodrome of departure, then of arrival.
func heightOfTwo(t float64) float64 {
	if t < 500 {
		return through(230, 0, 500, 9000)(t)
	}
	return through(500, 8600, 800, 0)(t)
}

func near0(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if got < want-within || got > want+within {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestOneFlight(t *testing.T) {
	t.Parallel()
	f := oneFlight(t, recordingOf(1000, ofTwo()...))
	if f.Number != 1 || f.BeginsInAir || f.EndsInAir || f.Span != (detect.Span{Start: 0, End: 1000}) {
		t.Errorf("%+v", f)
	}
	// The first sample in the air is at 230, the last on the ground at 229.75.
	if diff := cmp.Diff(&detect.Time{Nominal: 230, Earliest: 229.75, Latest: 230}, f.LiftOff, cmpopts.EquateApprox(0, 1e-4)); diff != "" {
		t.Errorf("lift-off (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(&detect.Time{Nominal: 800, Earliest: 799.75, Latest: 800}, f.Touchdown, cmpopts.EquateApprox(0, 1e-4)); diff != "" {
		t.Errorf("touchdown (-want +got):\n%s", diff)
	}
	if len(f.Notes) != 0 || len(f.TouchedDown(detect.TouchAndGo)) != 0 || len(f.GoArounds) != 0 {
		t.Errorf("notes %v, touch-and-goes %v, go-arounds %v", f.Notes, f.TouchedDown(detect.TouchAndGo), f.GoArounds)
	}
	// 3000 ft above the arrival aerodrome is 3700 ft: 8600 ft in 300 s from 9300.
	if len(f.Approaches) != 1 || f.Approaches[0].Outcome != "landing" || f.Approaches[0].Span.End != 800 {
		t.Fatalf("approaches %v", f.Approaches)
	}
	near0(t, "approach begins", f.Approaches[0].Span.Start, 500+(9300-3700)/(8600.0/300), 0.01)
}

// TestPhases: names and order of the CAST/ICAO taxonomy; the times by hand.
func TestPhases(t *testing.T) {
	t.Parallel()
	f := oneFlight(t, recordingOf(1000, ofTwo()...))
	want := []struct {
		phase detect.Phase
		start float64
	}{
		{detect.Standing, 0},
		{detect.Taxi, 100.5},                                   // 1 kt, at 2 kt a second
		{detect.TakeOff, 200 + 20/(130.0/30)},                  // 40 kt in the run from 20 to 150 kt in 30 s
		{detect.InitialClimb, 230 + 35/(9000.0/270)},           // 35 ft, before the lever goes to UP at 240
		{detect.EnRoute, 230 + 1000/(9000.0/270)},              // 1000 ft
		{detect.ApproachPhase, 500 + (9300-3700)/(8600.0/300)}, // 3000 ft
		{detect.Landing, 800 - 50/(8600.0/300)},                // 50 ft
		{detect.Taxi, 800 + 100/3.0},                           // 40 kt in the roll from 140 to 20 kt in 40 s
		{detect.Standing, 949.5},                               // 1 kt, at 2 kt a second
	}
	if len(f.Phases) != len(want) {
		t.Fatalf("phases %v", f.Phases)
	}
	at := 0.0
	for i, p := range f.Phases {
		if p.Phase != want[i].phase {
			t.Errorf("%d: %s, want %s", i, p.Phase, want[i].phase)
		}
		near0(t, string(p.Phase), p.Span.Start, want[i].start, 0.02)
		if p.Span.Start != at || p.Span.End <= p.Span.Start {
			t.Errorf("%s is %v after %v: a hole or an overlap", p.Phase, p.Span, at)
		}
		at = p.Span.End
	}
	if at != 1000 {
		t.Errorf("the phases end at %v", at)
	}
}

// TestHeight: radio altitude below its ceiling of 2500 ft, beyond it pressure
// altitude less that of the aerodrome of departure before the highest point and
// of arrival after it.
func TestHeight(t *testing.T) {
	t.Parallel()
	r := detected(t, recordingOf(1000, ofTwo()...))[0]
	times, heights := r.Tracks.Samples("height", r.Flight.Span)
	if len(times) != len(heights) || len(times) < 1000 {
		t.Fatalf("%d times, %d heights", len(times), len(heights))
	}
	for i, at := range times {
		want, within := heightOfTwo(at), 0.01
		if want > 2470 && want < 2530 {
			within = 30 // a sample at the ceiling may be of anything above it
		}
		if at != 500 { // where departure turns into arrival
			near0(t, "height", heights[i], want, within)
		}
		if i > 0 && at < times[i-1] {
			t.Fatalf("time %v after %v", at, times[i-1])
		}
	}
}

func TestTwoFlightsAndAnHourApart(t *testing.T) {
	t.Parallel()
	series := append(struts(2000, 200, 600, 1200, 1600),
		sampledEvery("ground_speed", 1, 2000, through(150, 0, 200, 150, 600, 140, 700, 0, 1100, 0, 1200, 150, 1600, 140, 1700, 0)))
	results := detected(t, recordingOf(2000, series...))
	if len(results) != 2 {
		t.Fatalf("%d flights, want 2", len(results))
	}
	a, b := results[0].Flight, results[1].Flight
	// Below 40 kt from 600 + 100*100/140 to 1100 + 100*40/150: cut in the middle.
	cut := (600 + 100*100/140.0 + 1100 + 100*40/150.0) / 2
	near0(t, "end of the first", a.Span.End, cut, 0.01)
	if want := detect.FlightID(a.Recording.Content(), 2); b.ID != want {
		t.Errorf("the second is %s, want %s", b.ID, want)
	}
	if a.Span.Start != 0 || b.Span.Start != a.Span.End || b.Span.End != 2000 || a.Number != 1 || b.Number != 2 || a.ID == b.ID {
		t.Errorf("%v %v %d %d %s %s", a.Span, b.Span, a.Number, b.Number, a.ID, b.ID)
	}
	detector, _ := shippedDetector(t)
	for first, err := range detector.Results(recordingOf(2000, series...)) {
		if err != nil || first.Flight.Number != 1 {
			t.Errorf("%v, %v", first, err)
		}
		break // whoever wants no more gets no more
	}
	understood, err := detector.Understand(recordingOf(2000, series...))
	if want := []detect.FlightSpan{{Number: 1, Span: a.Span}, {Number: 2, Span: b.Span}}; err != nil || len(understood) != 1 || !cmp.Equal(understood[0].Flights, want) {
		t.Errorf("understood %v, %v, want the flights %v", understood, err, want)
	}
	if a.Touchdown.Nominal != 600 || b.LiftOff.Nominal != 1200 {
		t.Errorf("touchdown %v, lift-off %v", a.Touchdown, b.LiftOff)
	}
}

func TestGroundWithoutSpeed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		ground  float64
		flights int
	}{{"ninety seconds", 90, 1}, {"a moment more", 90.25, 2}} {
		series := struts(1000, 100, 400, 400+c.ground, 800)
		if results := detected(t, recordingOf(1000, series...)); len(results) != c.flights {
			t.Errorf("%s on the ground: %d flights, want %d", c.name, len(results), c.flights)
		}
	}
}

func TestTouchAndGo(t *testing.T) {
	t.Parallel()
	series := append(struts(1000, 200, 500, 510, 800),
		sampledEvery("ground_speed", 1, 1000, through(150, 0, 200, 150, 800, 140, 900, 0)))
	f := oneFlight(t, recordingOf(1000, series...))
	if len(f.TouchedDown(detect.TouchAndGo)) != 1 || f.TouchedDown(detect.TouchAndGo)[0].Nominal != 500 || f.LiftOff.Nominal != 200 || f.Touchdown.Nominal != 800 {
		t.Errorf("touch-and-goes %v, %v to %v", f.TouchedDown(detect.TouchAndGo), f.LiftOff, f.Touchdown)
	}
	if want := []string{"no pressure altitude recorded: height above the aerodrome is unknown beyond the range of radio altitude"}; !cmp.Equal(f.Notes, want) {
		t.Errorf("notes %q, want %q", f.Notes, want)
	}
}

// TestBounceAndChatter: hops of 3 s and less, and contacts under 1 s that nothing
// shows to be low, are neither a flight nor a landing.
func TestBounceAndChatter(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name               string
		inAir              []float64
		liftOff, touchdown float64
	}{
		{"a bounce of 3 s after the touchdown", []float64{100, 400, 401, 404}, 100, 400},
		{"a hop before the lift-off", []float64{95, 97, 100, 400}, 100, 400},
		{"a contact of 0.75 s in the air", []float64{100, 250, 250.75, 400}, 100, 400},
	} {
		f := oneFlight(t, recordingOf(500, struts(500, c.inAir...)...))
		if f.LiftOff.Nominal != c.liftOff || f.Touchdown.Nominal != c.touchdown || len(f.TouchedDown(detect.TouchAndGo)) != 0 {
			t.Errorf("%s: %v to %v, touch-and-goes %v", c.name, f.LiftOff, f.Touchdown, f.TouchedDown(detect.TouchAndGo))
		}
	}
	f := oneFlight(t, recordingOf(500, struts(500, 100, 250, 251, 400)...))
	if len(f.TouchedDown(detect.BalkedLanding)) != 1 {
		t.Errorf("a contact of 1 s: balked landings %v", f.TouchedDown(detect.BalkedLanding))
	}
}

func TestGoAround(t *testing.T) {
	t.Parallel()
	lowest := func(height float64) *detect.Flight {
		series := append(struts(1000, 100, 900),
			sampledEvery("radio_altitude", 1, 1000, through(100, 0, 200, 2000, 300, height, 400, 2000, 800, 2000, 900, 0)))
		return oneFlight(t, recordingOf(1000, series...))
	}
	f := lowest(300)
	if len(f.GoArounds) != 1 || f.GoArounds[0].Lowest.Nominal != 300 {
		t.Fatalf("go-arounds %v", f.GoArounds)
	}
	if len(f.Approaches) != 2 || f.Approaches[0].Outcome != "go-around" || f.Approaches[0].Span.End != 300 || f.Approaches[1].Outcome != "landing" {
		t.Errorf("approaches %v", f.Approaches)
	}
	// Given up at 1500 ft it is no go-around; nor is a descent of 400 ft and a climb.
	for _, height := range []float64{1500, 1600} {
		if f := lowest(height); len(f.GoArounds) != 0 || len(f.Approaches) != 1 {
			t.Errorf("down to %v ft: go-arounds %v, approaches %v", height, f.GoArounds, f.Approaches)
		}
	}
	if f := lowest(1499); len(f.GoArounds) != 1 {
		t.Errorf("down to 1499 ft: go-arounds %v", f.GoArounds)
	}
}

func TestBeginsAndEndsInTheAir(t *testing.T) {
	t.Parallel()
	f := oneFlight(t, recordingOf(300, struts(300, 0, 200)...))
	if !f.BeginsInAir || f.EndsInAir || f.LiftOff != nil || f.Touchdown == nil || f.Touchdown.Nominal != 200 {
		t.Errorf("begins in the air: %+v", f)
	}
	f = oneFlight(t, recordingOf(300, struts(300, 0, 100, 120, 200)...))
	if l := f.LiftOffs(); !f.BeginsInAir || f.LiftOff != nil || len(l) != 1 || l[0].Nominal != 120 || f.Touchdown.Nominal != 200 {
		t.Errorf("begins in the air, with a touch-and-go: lift-offs %v, %+v", l, f)
	}
	f = oneFlight(t, recordingOf(300, struts(300, 100, 301)...))
	if f.BeginsInAir || !f.EndsInAir || f.LiftOff == nil || f.Touchdown != nil {
		t.Errorf("ends in the air: %+v", f)
	}
	d, _ := shippedDetector(t)
	if note, err := d.WhyNoFlight(recordingOf(300, struts(300)...)); err != nil || !strings.HasPrefix(note, "no flight in it: the aircraft does not leave the ground for long enough") || strings.Contains(note, "maintenance") {
		t.Errorf("on the ground: %q, %v", note, err)
	}
	f = oneFlight(t, recordingOf(300, struts(300, 0, 301)...))
	if !f.BeginsInAir || !f.EndsInAir || len(f.Phases) == 0 {
		t.Errorf("all in the air: %+v", f)
	}
}

// TestClimbIsNoApproach: a recording that ends in the climb has none.
func TestClimbIsNoApproach(t *testing.T) {
	t.Parallel()
	series := append(struts(200, 100, 201), sampledEvery("radio_altitude", 1, 200, through(100, 0, 200, 2000)))
	if f := oneFlight(t, recordingOf(200, series...)); len(f.Approaches) != 0 {
		t.Errorf("approaches %v", f.Approaches)
	}
}

// TestDescentCutShort: a recording that ends in a descent from level flight at 400 s. With
// landing flap, or below 3000 ft, the aircraft is on an approach and not en route.
func TestDescentCutShort(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name       string
		flap, ends float64 // deg from 550 s on; ft at the end, 600 s
		phase      detect.Phase
		begins     float64
	}{
		{"landing flap at 4500 ft", 30, 4500, detect.ApproachPhase, 400},
		{"landing flap at 2000 ft", 30, 2000, detect.ApproachPhase, 400 + 200*5.0/6}, // 3000 ft on the way from 8000
		{"flap 15 at 4500 ft", 15, 4500, detect.EnRoute, 0},
		{"flap 15 at 2000 ft", 15, 2000, detect.ApproachPhase, 400 + 200*5.0/6},
		{"landing flap in level flight", 30, 8000, detect.EnRoute, 0},
	} {
		series := append(struts(600, 100, 601),
			sampledEvery("pressure_altitude", 1, 600, through(100, 0, 300, 8000, 400, 8000, 600, c.ends)),
			sampledEvery("computed_airspeed", 1, 600, through(60, 0, 110, 160, 300, 220, 400, 220, 600, 150)),
			sampledEvery("flap_handle", 1, 600, func(t float64) float64 { return c.flap * during(550, 601)(t) }))
		f := oneFlight(t, recordingOf(600, series...))
		last := f.Phases[len(f.Phases)-1]
		if last.Phase != c.phase {
			t.Errorf("%s: the recording ends in %s, want %s", c.name, last.Phase, c.phase)
			continue
		}
		if c.begins > 0 && (last.Span.Start < c.begins-2 || last.Span.Start > c.begins+20) {
			t.Errorf("%s: it begins at %v, want %v", c.name, last.Span.Start, c.begins)
		}
	}
}

func TestNoFlight(t *testing.T) {
	t.Parallel()
	for name, r := range map[string]*ingest.Recording{
		"never in the air":          recordingOf(300, struts(300)...),
		"a hop of 3 s":              recordingOf(300, struts(300, 100, 103)...),
		"nothing recorded":          recordingOf(300),
		"nothing that tells":        recordingOf(300, sampledEvery("gear_lever", 1, 300, during(0, 100))),
		"no time":                   recordingOf(0, struts(0, 0, 1)...),
		"an empty series of struts": recordingOf(300, sampledEvery("left_strut_compressed", 1, -1, during())),
	} {
		if results := detected(t, r); len(results) != 0 {
			t.Errorf("%s: %d flights", name, len(results))
		}
	}
}

// TestFallbacksAreNoted: what stood in for the main struts is said.
func TestFallbacksAreNoted(t *testing.T) {
	t.Parallel()
	air := during(100, 400)
	for _, c := range []struct {
		series *ingest.Series
		says   string
	}{
		{sampledEvery("left_strut_compressed", 0.25, 500, otherwise(air)), "right_strut_compressed not recorded"},
		{sampledEvery("weight_on_wheels", 1, 500, otherwise(air)), "from weight_on_wheels"},
		{sampledEvery("radio_altitude", 1, 500, func(t float64) float64 { return 1000 * air(t) }), "radio altitude above 10 ft"},
		{sampledEvery("computed_airspeed", 1, 500, func(t float64) float64 { return 200 * air(t) }), "airspeed above 80 kt"},
	} {
		f := oneFlight(t, recordingOf(500, c.series))
		if !strings.Contains(strings.Join(f.Notes, "; "), c.says) {
			t.Errorf("%s: notes %q do not say %q", c.series.Column, f.Notes, c.says)
		}
		near0(t, c.series.Column+" lift-off", f.LiftOff.Nominal, 100, 1)
		near0(t, c.series.Column+" touchdown", f.Touchdown.Nominal, 400, 1)
	}
}
