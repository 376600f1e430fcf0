package simulator

import (
	"math"
	"testing"

	"downlock/schemas"
)

func flown(t testing.TB, s Scenario) *Flight {
	t.Helper()
	p, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	f, err := New(s, p)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The times follow by hand from the lever's times and each leg's own times.
func TestGearSequence(t *testing.T) {
	t.Parallel()
	f := flown(t, outward(day(1, 1, 0, 0), nil).done())
	up, down := usualLiftOff+4.3, usualTouchdown-190
	const nose, left, right = 0, 1, 2
	for _, c := range []struct {
		what   string
		at     float64
		before bool
		is     func(float64) bool
	}{
		{"nose leaves its down-lock", up + 0.9, true, func(t float64) bool { return f.Down(nose, t) }},
		{"right leaves its down-lock", up + 1.2, true, func(t float64) bool { return f.Down(right, t) }},
		{"left up-locked", up + 1.1 + 7.6, false, func(t float64) bool { return f.Up(left, t) }},
		{"right up-locked", up + 1.2 + 7.9, false, func(t float64) bool { return f.Up(right, t) }},
		{"left leaves its up-lock", down + 1.1, true, func(t float64) bool { return f.Up(left, t) }},
		{"all down-locked", down + 1.2 + 7.2, false, f.AllDown},
		{"doors open", up + 0.9 - 0.4, true, f.DoorsClosed},
		{"doors closed", up + 1.2 + 7.9 + 0.7, false, f.DoorsClosed},
		{"in the air", usualLiftOff, false, f.InAir},
		{"on the ground", usualTouchdown, true, f.InAir},
	} {
		if f, g := c.is(c.at-0.01), c.is(c.at+0.01); f != c.before || g == c.before {
			t.Errorf("%s at %.2f s: %v just before and %v just after", c.what, c.at, f, g)
		}
	}
}

// The table of a typical system; common practice.
func TestHorn(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		flap     float64
		lever    float64
		throttle [2]float64
		cutout   float64
		want     bool
	}{
		{"flap up, advanced", 0, LeverUp, [2]float64{20, 20}, 0, false},
		{"flap up, retarded", 0, LeverUp, [2]float64{0, 0}, 0, false},
		{"intermediate, advanced", 15, LeverUp, [2]float64{20, 20}, 0, false},
		{"intermediate, one retarded", 15, LeverUp, [2]float64{20, 9}, 0, true},
		{"intermediate, both retarded", 20, LeverUp, [2]float64{0, 0}, 0, true},
		{"intermediate, one retarded, isolated", 15, LeverUp, [2]float64{20, 9}, 1, false},
		{"landing, advanced", 30, LeverUp, [2]float64{20, 20}, 0, true},
		{"landing, advanced, isolated", 40, LeverUp, [2]float64{20, 20}, 1, true},
		{"intermediate, retarded, locked", 15, LeverDown, [2]float64{0, 0}, 0, false},
		{"landing, retarded, locked", 30, LeverDown, [2]float64{0, 0}, 0, false},
	} {
		flat := []Knot{{0, 0}}
		f := flown(t, Scenario{Name: c.name, Height: []Knot{{0, 2000}}, Terrain: flat, Speed: []Knot{{0, 160}},
			Airborne: []Airborne{{math.Inf(-1), math.Inf(1)}}, End: 10,
			Actions: []Action{{0, GearLever, c.lever}, {0, FlapHandle, c.flap}, {0, Throttle1, c.throttle[0]},
				{0, Throttle2, c.throttle[1]}, {0, HornCutout, c.cutout}}})
		if got := f.Horn(5); got != c.want {
			t.Errorf("%s: horn %v, want %v", c.name, got, c.want)
		}
	}
}

// The envelope of mode 4A for common transport aircraft, from a training guide:
// 500 ft up to 190 kt, 1000 ft from 250 kt, a straight line between.
func TestTooLowGearFloor(t *testing.T) {
	t.Parallel()
	f := flown(t, outward(day(1, 1, 0, 0), nil).done())
	for _, want := range [][2]float64{{140, 500}, {190, 500}, {220, 750}, {250, 1000}, {300, 1000}} {
		if got := f.floor("too_low_gear_floor", want[0]); math.Abs(got-want[1]) > 1e-9 {
			t.Errorf("at %g kt: got %g ft, want %g", want[0], got, want[1])
		}
	}
}

func TestScenarioErrors(t *testing.T) {
	t.Parallel()
	good := outward(day(1, 1, 0, 0), nil).done()
	for name, spoil := range map[string]func(*Scenario){
		"no height":             func(s *Scenario) { s.Height = nil },
		"time runs back":        func(s *Scenario) { s.Speed = []Knot{{5, 1}, {4, 1}} },
		"actions out of order":  func(s *Scenario) { s.Actions = []Action{{5, GearLever, 0}, {4, GearLever, 2}} },
		"nothing is flown":      func(s *Scenario) { s.Airborne = nil },
		"two knots at one time": func(s *Scenario) { s.Terrain = []Knot{{5, 1}, {5, 2}} },
	} {
		s := good
		spoil(&s)
		p, _ := schemas.ShippedProfile()
		if _, err := New(s, p); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
