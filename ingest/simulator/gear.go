package simulator

import "slices"

// legTimes are one leg's own times in seconds: from the lever to the leg leaving
// its lock, then from one end to the other.
type legTimes struct{ unlock, extend, retract float64 }

// usualTimes are invented, and shorter than the profile's longest usual ones.
var usualTimes = map[string]legTimes{
	"nose":  {unlock: 0.9, extend: 6.4, retract: 7.1},
	"left":  {unlock: 1.1, extend: 6.9, retract: 7.6},
	"right": {unlock: 1.2, extend: 7.2, retract: 7.9},
}

// legMotion works out every leg's position: 0 is up and locked, 1 down and
// locked, anything between is in transit.
func (f *Flight) legMotion() []line {
	legs := make([]line, len(f.Profile.Legs))
	for i, name := range f.Profile.Legs {
		times := usualTimes[name]
		legs[i] = f.legTargets(i).followed(times.unlock, 1/times.extend, 1/times.retract)
	}
	return legs
}

// legTargets is where the lever, the alternate extension and a fault send a leg.
func (f *Flight) legTargets(leg int) steps {
	faults := f.Scenario.Faults
	first := f.settings[GearLever][0]
	if faults.PinsIn {
		return steps{{first.At, 1}}
	}
	down := 1.0
	if faults.Jam != nil && faults.Jam.Leg == leg {
		down = faults.Jam.At
	}
	var targets steps
	for i, k := range f.settings[GearLever] {
		switch {
		case i == 0: // standing or in the cruise: locked one way or the other
			targets = append(targets, Knot{k.At, map[bool]float64{true: 1}[k.Value == LeverDown]})
		case k.Value == LeverUp:
			targets = append(targets, Knot{k.At, 0})
		case k.Value == LeverDown:
			targets = append(targets, Knot{k.At, down})
		}
	}
	for _, k := range f.settings[AlternateExtension] {
		if k.Value == 1 {
			targets = append(targets, Knot{k.At, down})
		}
	}
	if down < 1 {
		targets = append(targets, Knot{faults.Jam.FreedAt, 1})
	}
	slices.SortStableFunc(targets, func(a, b Knot) int {
		if a.At < b.At {
			return -1
		}
		if a.At > b.At {
			return 1
		}
		return 0
	})
	return targets
}

// Down reports whether a leg is down and locked, Up whether it is up and locked.
func (f *Flight) Down(leg int, t float64) bool { return f.legs[leg].at(t) >= 1-1e-9 }
func (f *Flight) Up(leg int, t float64) bool   { return f.legs[leg].at(t) <= 1e-9 }

// AllDown reports whether every leg is down and locked.
func (f *Flight) AllDown(t float64) bool {
	for leg := range f.legs {
		if !f.Down(leg, t) {
			return false
		}
	}
	return true
}

// DoorsClosed reports whether the gear doors are closed: they open before a leg
// leaves its lock and close after it has locked, except that after an alternate
// extension nothing closes them.
func (f *Flight) DoorsClosed(t float64) bool {
	if f.setting(AlternateExtension, t) == 1 {
		return false
	}
	for leg := range f.legs {
		for _, near := range []float64{t - 0.7, t, t + 0.4} {
			if !f.Down(leg, near) && !f.Up(leg, near) {
				return false
			}
		}
	}
	return true
}

// Offsets in seconds of each leg's strut against lift-off and touchdown: the
// right main strut is the last to extend, the left one the first to compress.
var strutOffsets = map[string]struct{ extend, compress float64 }{
	"nose":  {-2.5, 3},
	"left":  {-0.15, 0},
	"right": {0, 0.25},
}

// Compressed reports whether a leg's strut is compressed.
func (f *Flight) Compressed(leg int, t float64) bool {
	offset := strutOffsets[f.Profile.Legs[leg]]
	for _, a := range f.Scenario.Airborne {
		if t >= a.LiftOff+offset.extend && t < a.Touchdown+offset.compress {
			return false
		}
	}
	return true
}

// InAir reports whether no main strut is compressed.
func (f *Flight) InAir(t float64) bool {
	for leg, name := range f.Profile.Legs {
		if name != "nose" && f.Compressed(leg, t) {
			return false
		}
	}
	return true
}
