package samples

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/detect/readings"
	"downlock/ingest"
	"downlock/schemas"
)

// The radio altitude is no height from 2400 ft on, or from where the profile says; to
// within the last fiftieth of that it wavers.
func TestRadioCeiling(t *testing.T) {
	t.Parallel()
	stated := &schemas.Profile{Values: map[string]float64{"radio_altitude_ceiling": 1000}}
	for p, want := range map[*schemas.Profile][2]float64{{}: {2400, 2352}, stated: {1000, 980}} {
		if got := [2]float64{RadioCeiling(p), HeightBelow(p)}; math.Abs(got[0]-want[0]) > 1e-9 || math.Abs(got[1]-want[1]) > 1e-9 {
			t.Errorf("%v: %v, want %v", p.Values, got, want)
		}
	}
}

func line(values ...float64) *readings.Line {
	l := &readings.Line{Sampling: readings.Sampling{Interval: 1, Gap: 3}, Values: values}
	for i := range values {
		l.Times = append(l.Times, float64(i))
	}
	return l
}

func repeated(pairs ...float64) (out []float64) {
	for i := 0; i < len(pairs); i += 2 {
		for range int(pairs[i]) {
			out = append(out, pairs[i+1])
		}
	}
	return out
}

// At one sample a second a jump is 450 ft and more, away and back within 60 s, while the
// pressure altitude makes at most three tenths of it. Of a jump alone a side is doubted that takes
// at most 60 s from an end of the recording or an outage.
func TestExcursions(t *testing.T) {
	t.Parallel()
	level := func(n int) *readings.Line { return line(repeated(float64(n), 5000)...) }
	for _, c := range []struct {
		name     string
		radio    []float64
		pressure *readings.Line
		want     [][2]int
	}{
		{"away and back", repeated(5, 1000, 3, 1450, 5, 1000), level(13), [][2]int{{5, 7}}},
		{"not as fast", repeated(5, 1000, 3, 1449, 5, 1000), level(13), nil},
		{"down and back", repeated(5, 1000, 3, 100, 5, 1000), level(13), [][2]int{{5, 7}}},
		{"in two steps the same way", repeated(70, 1000, 70, 1500, 5, 2000, 70, 1500), level(215), [][2]int{{140, 144}}},
		{"back after 60 s", repeated(5, 1000, 60, 1500, 5, 1000), level(70), [][2]int{{5, 64}}},
		{"back after 61 s", repeated(70, 1000, 61, 1500, 70, 1000), level(201), nil},
		{"not back", repeated(70, 1000, 70, 1500), level(140), nil},
		{"not back when the samples end", repeated(70, 1000, 8, 1500), level(78), [][2]int{{70, 77}}},
		{"60 s before they end", repeated(70, 1000, 61, 1500), level(131), [][2]int{{70, 130}}},
		{"61 s before they end", repeated(70, 1000, 62, 1500), level(132), nil},
		{"as the samples begin", repeated(8, 1000, 70, 1500), level(78), [][2]int{{0, 7}}},
		{"60 s from the first", repeated(60, 1000, 70, 1500), level(130), [][2]int{{0, 59}}},
		{"61 s from the first", repeated(61, 1000, 70, 1500), level(131), nil},
		{"from the first sample", repeated(1, 1000, 70, 1500), level(71), [][2]int{{0, 0}}},
		{"to the last sample", repeated(70, 1000, 1, 1500), level(71), [][2]int{{70, 70}}},
		{"near both ends", repeated(8, 1000, 8, 1500), level(16), [][2]int{{0, 15}}},
		{"alone, and one away and back", repeated(8, 1000, 70, 1500, 3, 2000, 70, 1500), level(151), [][2]int{{0, 7}, {78, 80}}},
		{"the pressure altitude too", repeated(5, 1000, 3, 1500, 5, 1000), line(append(repeated(5, 5000, 3, 5151), repeated(5, 5000)...)...), nil},
		{"the pressure altitude a little", repeated(5, 1000, 3, 1500, 5, 1000), line(append(repeated(5, 5000, 3, 5150), repeated(5, 5000)...)...), [][2]int{{5, 7}}},
		{"no pressure altitude there", repeated(5, 1000, 3, 1500, 5, 1000), line(5000, 5000), nil},
	} {
		if got := excursions(line(c.radio...), c.pressure); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	// Nothing is sampled from 76 to 89 s: it jumps back there, or at 95 s.
	for want, back := range map[[2]int]float64{{70, 75}: 89, {70, 80}: 95} {
		var times, values []float64
		for s := range 200 {
			if at := float64(s); at < 76 || at > 89 {
				v := 1000.0
				if at >= 70 && at < back {
					v = 1500
				}
				times, values = append(times, at), append(values, v)
			}
		}
		outage := &readings.Line{Sampling: readings.Sampling{Times: times, Interval: 1, Gap: 2}, Values: values}
		if got := excursions(outage, level(200)); !slices.Equal(got, [][2]int{want}) {
			t.Errorf("an outage, back at %g s: %v, want %v", back, got, want)
		}
	}
	// Samples from 0 to 15 s, with a jump at 8 s, from 30 to 99 s, with one at 35 s, and away from 110 to 112 s.
	var times, values []float64
	for s := range 200 {
		at := float64(s)
		if at > 15 && at < 30 {
			continue
		}
		v := 1000.0
		if at >= 8 && at <= 15 || at >= 35 && at < 110 || at > 112 {
			v = 1500
		}
		times, values = append(times, at), append(values, v)
	}
	many := &readings.Line{Sampling: readings.Sampling{Times: times, Interval: 1, Gap: 2}, Values: values}
	if got, want := excursions(many, level(200)), [][2]int{{0, 20}, {96, 98}}; !slices.Equal(got, want) {
		t.Errorf("several jumps: %v, want %v", got, want)
	}
	// Slow samples: 300 ft and more is a jump where even that is too fast.
	quick := &readings.Line{Sampling: readings.Sampling{Times: []float64{0, 0.5, 1, 1.5}, Interval: 0.5, Gap: 2}, Values: []float64{0, 300, 300, 0}}
	// The pressure altitude is asked a second either side, from -1, when it has no sample yet.
	if got := excursions(quick, level(4)); !slices.Equal(got, [][2]int{{1, 2}}) {
		t.Errorf("pressure altitude known from 0 s on: %v", got)
	}
	radio, spans := plausible(line(repeated(5, 1000, 3, 1450, 5, 1000)...), level(13))
	if want := []float64{0, 1, 2, 3, 4, 8, 9, 10, 11, 12}; !slices.Equal(radio.Times, want) || len(radio.Values) != 10 || slices.Contains(radio.Values, 1450) {
		t.Errorf("left at %v: %v", radio.Times, radio.Values)
	}
	if want := (readings.Spans{{Start: 5, End: 7}}); !slices.Equal(spans, want) {
		t.Errorf("excursions in %v", spans)
	}
}

// Fifty feet within ten seconds is a climb.
func TestClimbing(t *testing.T) {
	t.Parallel()
	ramp := make([]float64, 40)
	for i := range ramp {
		ramp[i] = 5 * float64(min(max(i-10, 0), 10)) // from 10 to 20 s by 50 ft
	}
	// By 6 ft a second nine steps are 54 ft, and ten seconds reach a second back or on.
	for of, want := range map[float64]readings.Spans{1: {{Start: 10, End: 20}}, 0.99: nil, 1.2: {{Start: 9, End: 21}}} {
		scaled := make([]float64, len(ramp))
		for i, v := range ramp {
			scaled[i] = -of * v
		}
		got := Climbing(line(scaled...))
		if !slices.Equal(got, want) {
			t.Errorf("%g times: %v, want %v", of, got, want)
		}
	}
}

// What is taken out of a packed recording stays out of each flight's samples, with its
// reason, and what was estimated of the whole is still known.
func TestDistrustedInPackedFlights(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ParseProfile("test.yaml", []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\n"+
		"time: {column: time}\ncolumns:\n  computed_airspeed: {column: CAS, unit: kt}\n  gear_lever: {column: LEVER, states: {U: UP, D: DOWN}}\n"+
		"  flap_handle: {column: FLAP, unit: deg}\n  radio_altitude: {column: RA, unit: ft}\n"))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	text.WriteString("time,CAS,LEVER,FLAP,RA\n")
	for row := range 20_000 {
		fmt.Fprintf(&text, "%d,%d,%c,%d,%d\n", row, 100+row/7%9, "UD"[row/100%2], row/200%2*15, row/10%2300)
	}
	path := filepath.Join(t.TempDir(), "large.csv")
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := ingest.Limits{PackAbove: 1}.Read(path, profile)
	if err != nil || !r.Packed() {
		t.Fatal(err, "or not packed")
	}
	s := New(r)
	s.EstimateAccuracies()
	s.Distrust("flap_handle", "first reason")
	s.Distrust("flap_handle", "second reason")
	s.Distrust("vertical_speed", "not recorded at all")
	flight, err := s.Within(readings.Span{Start: 1000, End: 1100})
	if err != nil || flight == s {
		t.Fatal(err, "or the same set")
	}
	for _, set := range []*Set{s, flight} {
		if reason, ok := set.Distrusted("flap_handle"); !ok || reason != "first reason" {
			t.Errorf("flap_handle: %q %v", reason, ok)
		}
		if _, ok := set.Distrusted("vertical_speed"); ok || set.Has("flap_handle") || set.Step("flap_handle") != nil || set.Sampled("flap_handle") != nil {
			t.Error("flap_handle is used, or vertical_speed taken out though it is not there")
		}
		if !set.Has("computed_airspeed") || !set.Has("gear_lever") {
			t.Error("others are taken out too")
		}
	}
	if top := flight.Top("radio_altitude"); top != 1999 { // 19,999/10: of the whole recording
		t.Errorf("top of the radio altitude %v, want that of the recording", top)
	}
	if l := flight.Line("computed_airspeed"); l.Margins == nil {
		t.Error("the accuracy of the airspeed is not estimated in the flight")
	}
	// CAS changes each seven seconds, which are its interval: 100 + 143 mod 9 = 108 at 1001 s.
	if v, ok := flight.Line("computed_airspeed").At(1001); !ok || v != 108 {
		t.Errorf("airspeed at 1001 s: %v %v", v, ok)
	}
	if state := flight.State("gear_lever", "DOWN", readings.Spans{{Start: 1000, End: 1100}}); state.True.Seconds() != 0 {
		t.Errorf("lever down in %v", state.True) // 1000/100 is even
	}
	whole := New(&ingest.Recording{})
	if same, err := whole.Within(readings.Span{Start: 0, End: 1}); err != nil || same != whole {
		t.Error("a recording that is not packed has no other set for a flight")
	}
	if top := whole.Top("radio_altitude"); !math.IsInf(top, -1) {
		t.Errorf("top of nothing: %v", top)
	}
}

// The readings of the whole are let go before a flight is unpacked: else both would be in
// memory at once.
func TestForgetsTheWholeBeforeItUnpacksAFlight(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ParseProfile("test.yaml", []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\n"+
		"time: {column: time}\ncolumns:\n  computed_airspeed: {column: CAS, unit: kt}\n  gear_lever: {column: LEVER, states: {U: UP, D: DOWN}}\n"+
		"  flap_handle: {column: FLAP, unit: deg}\n"))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	text.WriteString("time,CAS,LEVER,FLAP\n")
	for row := range 20_000 {
		fmt.Fprintf(&text, "%d,%d,%c,%d\n", row, 100+row/7%9, "UD"[row/100%2], row/200%2*15)
	}
	path := filepath.Join(t.TempDir(), "large.csv")
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := ingest.Limits{PackAbove: 1}.Read(path, profile)
	if err != nil || !r.Packed() {
		t.Fatal(err, "or not packed")
	}
	s := New(r)
	held := func() int { return len(s.lines) + len(s.codes) + len(s.steps) + s.unpacked }
	s.Line("computed_airspeed")
	s.Code("gear_lever")
	s.Step("flap_handle")
	s.Further("flap_handle")
	if s.unpacked == 0 || len(s.lines) != 1 || len(s.codes) != 1 || len(s.steps) != 1 {
		t.Fatal("nothing to forget")
	}
	left := -1
	s.unpack = func(from, to float64) (*ingest.Recording, error) {
		left = held()
		return r.Between(from, to)
	}
	if _, err := s.Within(readings.Span{Start: 1000, End: 1100}); err != nil {
		t.Fatal(err)
	}
	// The highest radio altitude is asked for beforehand, and noted as not there.
	if left != 0 {
		t.Errorf("%d readings and samples of the whole are held while the flight is unpacked", left)
	}
}
