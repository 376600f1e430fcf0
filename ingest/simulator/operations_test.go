package simulator

import (
	"math"
	"slices"
	"testing"
)

// seen holds the content of one row's flight. It is recounted from its functions in
// steps of 1/32 s, independent of the counts made while flying.
type seen struct {
	counts         Opportunities
	horn           int // s/32 each
	gear, flaps    int
	terrain        int
	takeOffWarning int
	quietAtLiftOff float64 // longest time from the warning's end to a lift-off, s
}

const seenStep = 1.0 / 32

// lookAt follows a flight. A stay in the air or on the ground of at most 3 s is a
// hop. Changes at 60 kt or less are no flight.
func lookAt(f *Flight) (s seen) {
	start, end := f.Scenario.Start, f.Scenario.End
	air, since := f.InAir(start), math.Inf(-1)
	lever, thrust, warned := f.setting(GearLever, start), false, math.NaN()
	for t := start; t <= end; t += seenStep {
		fast := f.Airspeed(t) > 60
		if now := f.InAir(t); now != air {
			if fast && now && !hop(f, t) {
				s.counts.LiftOffs++
				s.quietAtLiftOff = math.Max(s.quietAtLiftOff, t-warned)
			}
			if fast && !now && t-since > 3 {
				s.counts.Touchdowns++
			}
			air, since = now, t
		}
		if now := f.setting(GearLever, t); now != lever {
			switch {
			case air && fast && now == LeverUp:
				s.counts.GearRetractions++
			case air && fast && now == LeverDown:
				s.counts.GearExtensions++
			}
			lever = now
		}
		set := f.fanSpeed(0, t) > takeOffThrust && !air
		if thrust && !set && !air {
			s.counts.RejectedTakeOffs++
		}
		thrust = set
		s.horn += int(truth(f.Horn(t)))
		s.gear += int(truth(f.TooLowGear(t)))
		s.flaps += int(truth(f.TooLowFlaps(t)))
		s.terrain += int(truth(f.TooLowTerrain(t)))
		if f.TakeOffWarning(t) {
			s.takeOffWarning++
			warned = t
		}
	}
	s.counts.GoArounds = turns(f)
	return s
}

// hop reports whether the stay in the air that begins at a time lasts at most 3 s.
func hop(f *Flight, t float64) bool {
	for x := t; x < t+3; x += seenStep {
		if !f.InAir(x) {
			return true
		}
	}
	return false
}

// turns counts the lowest points of the altitude in the air, below 1500 ft, that
// 300 ft of climb follow.
func turns(f *Flight) (n int) {
	const step = 0.25
	lowest, top, falling := math.Inf(1), math.Inf(-1), false
	for t := f.Scenario.Start; t <= f.Scenario.End; t += step {
		h := f.Altitude(t) - aerodrome
		if !f.InAir(t) {
			lowest, top, falling = math.Inf(1), h, false
			continue
		}
		switch {
		case falling && h > lowest+300:
			if lowest < 1500 {
				n++
			}
			falling, top = false, h
		case falling:
			lowest = math.Min(lowest, h)
		case h < top-300:
			falling, lowest = true, h
		default:
			top = math.Max(top, h)
		}
	}
	return n
}

// Every row is flown with several figures. The counts made while flying must agree
// with its functions of time. No limit of the type is exceeded unless the row is
// about that limit. The figures of the limits are those of the profile.
func TestOperationsAreAsTold(t *testing.T) {
	t.Parallel()
	for row := 1; row <= Operations(); row++ {
		for seed := range uint64(2) { // the two ways of each row
			o := fly(t, row, seed)
			s, want := lookAt(o.Flight), o.Truth.Opportunities
			s.warnings(t, o)
			if want.Approaches != want.Touchdowns+want.GoArounds || want.Touchdowns != want.Landings+want.TouchAndGoes+want.BalkedLandings {
				t.Errorf("%s: approaches and touchdowns do not add up: %+v", o.Truth.Recording, want)
			}
			if want.TakeOffRolls != want.LiftOffs+want.RejectedTakeOffs {
				t.Errorf("%s: take-off rolls do not add up: %+v", o.Truth.Recording, want)
			}
			want.Approaches, want.TakeOffRolls, want.Landings, want.TouchAndGoes, want.BalkedLandings = 0, 0, 0, 0, 0
			if s.counts != want {
				t.Errorf("%s: seen %+v, told %+v", o.Truth.Recording, s.counts, want)
			}
			limits := map[string]bool{"gear-extension-speed": true, "gear-retraction-speed": true, "gear-extended-speed": true, "flap-placard-speed": true,
				"gear-altitude": true, "flap-altitude": true, "gear-late-visual": true, "gear-not-locked-at-touchdown": true, "extension-slow": true}
			for _, e := range o.Flight.Happened() {
				due := slices.ContainsFunc(o.Truth.Must, func(d Due) bool { return d.Rule != nil && *d.Rule == e.Rule })
				if limits[e.Rule] && !due {
					t.Errorf("%s: %s at %.1f s", o.Truth.Recording, e.Rule, e.Start)
				}
			}
		}
	}
}

func fly(t *testing.T, row int, seed uint64) Operation {
	t.Helper()
	o, err := FlyOperation(row, seed)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// warnings checks that the warnings agree with the row: the voices by speed and
// arming, the horn, and the take-off warning that stops before the lift-off.
func (s seen) warnings(t *testing.T, o Operation) {
	for _, x := range []struct {
		what        string
		got         int
		sounds, may []int // rows
	}{
		{"too low gear", s.gear, nil, []int{12}},
		{"too low flaps", s.flaps, nil, []int{16}},
		{"too low terrain", s.terrain, []int{2}, nil},
		{"take-off warning", s.takeOffWarning, []int{3, 4}, nil},
		{"horn", s.horn, []int{14, 24}, nil},
	} {
		if !slices.Contains(x.may, o.Row) && slices.Contains(x.sounds, o.Row) != (x.got > 0) {
			t.Errorf("%s: %s sounds for %.1f s", o.Truth.Recording, x.what, float64(x.got)*seenStep)
		}
	}
	if o.Row == 4 && s.quietAtLiftOff < 2.2 { // longer than the usual delay of a warning, 2 s
		t.Errorf("%s: the warning stops %.1f s before the lift-off", o.Truth.Recording, s.quietAtLiftOff)
	}
}

// Rows whose point is a figure have that figure.
func TestOperationsFigures(t *testing.T) {
	t.Parallel()
	for seed := range uint64(8) {
		if g := fly(t, 1, seed).Truth.Facts.GoArounds[0]; g.LowestHeight < 15 || g.LowestHeight > 250 {
			t.Errorf("seed %d: lowest height %.0f ft", seed, g.LowestHeight)
		}
		o := fly(t, 3, seed)
		if v := o.Truth.Facts.Rolls[0].Highest; v < 40 || v > 120 || math.Abs(highest(o.Flight, 0, o.Truth.Facts.Rolls[0].End+5)-v) > 0.1 {
			t.Errorf("seed %d: rejected at %.1f kt", seed, v)
		}
		o = fly(t, 8, seed) // 230 kt is the retraction speed; the legs take 9.1 s
		up := o.Truth.Must[0].Start
		if o.Flight.Airspeed(up) > 226 || highest(o.Flight, up, up+9) < 234 {
			t.Errorf("seed %d: UP at %.1f kt, %.1f kt in transit", seed, o.Flight.Airspeed(up), highest(o.Flight, up, up+9))
		}
		o = fly(t, 18, seed)
		down := o.Truth.Facts.Touchdowns[0].At
		low := down
		for ; o.Flight.Height(low) < 10; low -= seenStep {
		}
		if down-low < 6-2*seenStep || down-low > 10+2*seenStep {
			t.Errorf("seed %d: %.1f s from 10 ft to the wheels", seed, down-low)
		}
	}
}

func highest(f *Flight, from, to float64) (v float64) {
	for t := from; t < to; t += seenStep {
		v = math.Max(v, f.Airspeed(t))
	}
	return v
}
