package simulator

import (
	"math"
	"slices"
	"sort"

	"downlock/schemas"
)

// detent returns the flap detent the handle is in.
func (f *Flight) detent(t float64) schemas.Detent {
	handle := f.setting(FlapHandle, t)
	for _, d := range f.Profile.Flaps.Detents {
		if d.Angle == handle {
			return d
		}
	}
	return schemas.Detent{}
}

// flapIs reports whether the flap handle is in a detent of the class.
func (f *Flight) flapIs(class string, t float64) bool {
	return slices.Contains(f.detent(t).Classes, class)
}

// anyRetarded reports whether a throttle is below the profile's angle.
func (f *Flight) anyRetarded(t float64) bool {
	return slices.ContainsFunc(f.throttle, func(l line) bool { return l.at(t) < f.Profile.Throttle.RetardedBelow })
}

// Horn is the gear warning by the truth table of a typical system (common practice).
// The cut-out can silence it at intermediate flap with a throttle retarded, but not
// at landing flap.
func (f *Flight) Horn(t float64) bool {
	if f.AllDown(t) {
		return false
	}
	silenceable := f.flapIs("intermediate", t) && f.anyRetarded(t) && f.setting(HornCutout, t) == 0
	return silenceable || f.flapIs("landing", t)
}

// floor returns the height below which an alert is required, ft, from a table of the
// profile. Straight lines join the points; the table is level beyond them.
func (f *Flight) floor(table string, airspeed float64) float64 {
	points := f.Profile.Tables[table]
	i := sort.Search(len(points), func(i int) bool { return points[i][0] > airspeed })
	if i == 0 {
		return points[0][1]
	}
	if i == len(points) {
		return points[i-1][1]
	}
	a, b := points[i-1], points[i]
	return a[1] + (b[1]-a[1])*(airspeed-a[0])/(b[0]-a[0])
}

// armed reports whether the alerts near the ground are armed: in the air, long enough
// after the last lift-off.
func (f *Flight) armed(t float64) bool {
	if !f.InAir(t) {
		return false
	}
	last := math.Inf(-1)
	for _, a := range f.Scenario.Airborne {
		if a.LiftOff <= t {
			last = a.LiftOff
		}
	}
	return t >= last+f.Profile.Values["too_low_gear_arming_time"]
}

// tooLow reports whether the height is between the cut-off and the floor of an alert.
// floor is its table, cutOff the value of the profile.
func (f *Flight) tooLow(t float64, floor, cutOff string) bool {
	h := f.Height(t)
	return f.armed(t) && h > f.Profile.Values[cutOff] && h < f.floor(floor, f.Airspeed(t))
}

// TooLowGear and TooLowFlaps report whether those alerts are required; they sound
// when they are. TooLowTerrain reports whether the voice calls "too low terrain", as
// it does where a floor rises with the airspeed. Without AlertsByHeight it does so
// for the gear only, and TooLowGear holds as well. The recorder has a column for the
// alert and one for these words.
func (f *Flight) TooLowGear(t float64) bool {
	if f.Scenario.AlertsByHeight {
		return f.inGearEnvelope(t) && f.slowVoice(t, "too_low_gear_floor")
	}
	return !f.AllDown(t) && f.tooLow(t, "too_low_gear_floor", "too_low_gear_cut_off")
}

func (f *Flight) TooLowFlaps(t float64) bool {
	if f.Scenario.AlertsByHeight {
		return f.inFlapEnvelope(t) && f.slowVoice(t, "too_low_flaps_floor")
	}
	return f.AllDown(t) && !f.flapIs("landing", t) && f.tooLow(t, "too_low_flaps_floor", "too_low_flaps_cut_off")
}

func (f *Flight) TooLowTerrain(t float64) bool {
	if f.Scenario.AlertsByHeight {
		return f.inGearEnvelope(t) && !f.slowVoice(t, "too_low_gear_floor") || f.inFlapEnvelope(t) && !f.slowVoice(t, "too_low_flaps_floor")
	}
	return f.TooLowGear(t) && f.Airspeed(t) >= f.Profile.Tables["too_low_gear_floor"][0][0]
}

// takeOffThrust (percent N1) is the thrust the shipped profiles' criteria ask of
// every engine.
const takeOffThrust = 80

// TakeOffWarning sounds when thrust is set on the ground with the flap outside
// the take-off range, the speedbrake out, the parking brake set or the trim
// outside the green band.
func (f *Flight) TakeOffWarning(t float64) bool {
	if f.InAir(t) || f.Scenario.AlertsByHeight && f.takeOffWarningStops(t) {
		return false
	}
	for engine := range f.throttle {
		if f.fanSpeed(engine, t) <= takeOffThrust {
			return false
		}
	}
	v, trim := f.Profile.Values, f.trim.at(t)
	return !f.flapIs("takeoff", t) || f.speedbrake.at(t) > v["speedbrake_extended_above"] || f.setting(ParkingBrake, t) == 1 ||
		trim < v["takeoff_trim_lowest"] || trim > v["takeoff_trim_highest"]
}
