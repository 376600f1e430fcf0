package simulator

import (
	"math"
	"slices"
	"sort"

	"downlock/schemas"
)

// detent is the flap detent the handle is in.
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

// retarded reports whether a throttle is below the profile's angle.
func (f *Flight) retarded(engine int, t float64) bool {
	return f.throttle[engine].at(t) < f.Profile.Throttle.RetardedBelow
}

func (f *Flight) anyRetarded(t float64) bool { return f.retarded(0, t) || f.retarded(1, t) }

// Horn is the gear warning by the truth table of a typical system (common
// practice): intermediate flap with a throttle retarded can be silenced by the
// isolation switch, landing flap cannot.
func (f *Flight) Horn(t float64) bool {
	if quiet := f.Scenario.Faults.HornSilent; quiet != nil && t >= quiet[0] && t < quiet[1] {
		return false
	}
	if f.AllDown(t) {
		return false
	}
	silenceable := f.flapIs("intermediate", t) && f.anyRetarded(t) && f.setting(HornCutout, t) == 0
	return silenceable || f.flapIs("landing", t)
}

// floor is the height below which the too-low-gear alert is due, ft.
func (f *Flight) floor(airspeed float64) float64 {
	points := f.Profile.Tables["too_low_gear_floor"]
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

// armed reports whether the too-low-gear alert is armed: in the air, long enough
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

// TooLowGear reports whether the too-low-gear alert is due; it always sounds
// when it is.
func (f *Flight) TooLowGear(t float64) bool {
	h := f.Height(t)
	return f.armed(t) && !f.AllDown(t) && h > f.Profile.Values["too_low_gear_cut_off"] && h < f.floor(f.Airspeed(t))
}

// TakeOffWarning sounds when thrust is set on the ground with the flap outside
// the take-off range, the speedbrake out or the parking brake set.
func (f *Flight) TakeOffWarning(t float64) bool {
	if f.InAir(t) || math.Max(f.throttle[0].at(t), f.throttle[1].at(t)) < 30 {
		return false
	}
	return !f.flapIs("takeoff", t) || f.speedbrake.at(t) > 2 || f.setting(ParkingBrake, t) == 1
}
