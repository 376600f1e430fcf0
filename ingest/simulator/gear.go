package simulator

import "slices"

// legTimes are one leg's own times in seconds: from the lever movement until the leg
// leaves its lock, then from one end to the other.
type legTimes struct{ unlock, extend, retract float64 }

// usualTimes are invented. They are shorter than the longest usual times of the
// profiles.
var usualTimes = map[string]legTimes{
	"nose":       {unlock: 0.9, extend: 6.4, retract: 7.1},
	"left":       {unlock: 1.1, extend: 6.9, retract: 7.6},
	"right":      {unlock: 1.2, extend: 7.2, retract: 7.9},
	"left_body":  {unlock: 1.3, extend: 7.5, retract: 8.3},
	"right_body": {unlock: 1.4, extend: 7.7, retract: 8.4},
}

// legMotion works out every leg's position: 0 is up and locked, 1 down and locked.
// Values between are in transit.
func (f *Flight) legMotion() []line {
	legs := make([]line, len(f.Profile.Legs))
	for i, name := range f.Profile.Legs {
		times := usualTimes[name]
		for _, slow := range f.Scenario.Faults.Slow {
			if slow.Leg == i {
				times.extend, times.retract = slow.Extend, slow.Retract
			}
		}
		legs[i] = f.legTargets(i).followed(times.unlock, 1/times.extend, 1/times.retract)
	}
	return legs
}

// legTargets lists the positions to which the lever, another way of extension or a
// fault sends a leg.
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
		case i == 0: // standing or in the cruise: down and locked or up and locked
			targets = append(targets, Knot{k.At, truth(k.Value == LeverDown)})
		case k.Value == LeverUp:
			targets = append(targets, Knot{k.At, 0})
		case k.Value == LeverDown:
			targets = append(targets, Knot{k.At, down})
		}
	}
	for _, k := range slices.Concat(f.settings[AlternateExtension], f.settings[EmergencyPressure]) {
		if k.Value == 1 {
			targets = append(targets, Knot{k.At, down})
		}
	}
	if down < 1 {
		targets = append(targets, Knot{faults.Jam.FreedAt, 1})
	}
	if sag := faults.Sag; sag != nil && sag.Leg == leg {
		targets = append(targets, Knot{sag.From, 0.03}, Knot{sag.To, 0})
	}
	slices.SortStableFunc(targets, func(a, b Knot) int { return compareTimes(a.At, b.At) })
	return targets
}

// Down reports whether a leg is down and locked, Up whether it is up and locked.
func (f *Flight) Down(leg int, t float64) bool { return f.legs[leg].at(t) >= 1-1e-9 }
func (f *Flight) Up(leg int, t float64) bool   { return f.legs[leg].at(t) <= 1e-9 }

func (f *Flight) AllDown(t float64) bool {
	for leg := range f.legs {
		if !f.Down(leg, t) {
			return false
		}
	}
	return true
}

// DoorsClosed reports whether the gear doors are closed. They open before a leg
// leaves its lock and close after it has locked. After an alternate extension they
// stay open.
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

// Offsets in seconds of each leg's strut from lift-off and touchdown. The right main
// strut is the last to extend, the left one the first to compress.
var strutOffsets = map[string]struct{ extend, compress float64 }{
	"nose":       {-2.5, 3},
	"left":       {-0.15, 0},
	"right":      {0, 0.25},
	"left_body":  {-0.4, 0.3},
	"right_body": {-0.35, 0.4},
}

func (f *Flight) Compressed(leg int, t float64) bool {
	return f.onGround(t, strutOffsets[f.Profile.Legs[leg]].extend, strutOffsets[f.Profile.Legs[leg]].compress)
}

// onGround reports whether the aircraft is on the ground as a device sees it that
// notices lift-offs and touchdowns so many seconds late.
func (f *Flight) onGround(t, afterLiftOff, afterTouchdown float64) bool {
	for _, a := range f.Scenario.Airborne {
		if t >= a.LiftOff+afterLiftOff && t < a.Touchdown+afterTouchdown {
			return false
		}
	}
	return true
}

// InAir reports whether no main strut is compressed.
func (f *Flight) InAir(t float64) bool { return !f.onGround(t, 0, 0) }

// Tilted reports whether the main trucks hang in the position that fits into their
// bays. They need a moment after the struts have extended.
func (f *Flight) Tilted(t float64) bool { return !f.onGround(t, 0.8, 0) }

// BodyGearAligned reports whether the body-gear steering is straight. It turns with
// the nose wheel while the aircraft taxies.
func (f *Flight) BodyGearAligned(t float64) bool {
	speed := f.Airspeed(t)
	return speed < 1 || speed > 20
}

// LeverLockReleased reports whether UP can be selected: in the air and, where the
// type has them, with the trucks tilted and the body gear aligned.
func (f *Flight) LeverLockReleased(t float64) bool {
	if f.Profile.HasSystem("truck_tilt") && !f.Tilted(t) {
		return false
	}
	if f.Profile.HasSystem("body_gear_steering") && !f.BodyGearAligned(t) {
		return false
	}
	return f.InAir(t)
}

func compareTimes(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
