package simulator

import "math"

// The alerts near the ground arm and give way at these heights (ft of radio
// altitude). The take-off warning arms below this ground speed (kt). From memory, as
// in testdata/operations/README.md: mode 4 of DO-161A gives way to mode 3 once the
// aircraft is below the lowest floor in landing configuration, and arms again in the
// climb.
const (
	alertsArmAbove   = 700
	alertsGiveWay    = 245
	takeOffArmsBelow = 40
)

// Ridge is terrain between two times that rises so many feet above the ground around
// it. It affects the radio altimeter, but neither the height above the aerodrome nor
// the pressure altitude.
type Ridge struct{ Start, End, Rise float64 }

// Load is a peak of the normal acceleration, g above one.
type Load struct{ At, Peak float64 }

// RadioHeight returns the height the radio altimeter measures, ft.
func (f *Flight) RadioHeight(t float64) float64 {
	h := f.Height(t)
	for _, r := range f.Scenario.Ridges {
		if t > r.Start && t < r.End {
			h -= r.Rise * (1 - math.Cos(2*math.Pi*(t-r.Start)/(r.End-r.Start))) / 2
		}
	}
	return math.Max(0, h)
}

// armSteps works out when the alerts near the ground and the take-off warning are
// armed, in steps of 1/16 s.
func (f *Flight) armSteps() (alerts, takeOff steps) {
	const step = 1.0 / 16
	start := f.Scenario.Start
	low, ready := f.RadioHeight(start) > alertsGiveWay, f.GroundSpeed(start) < takeOffArmsBelow
	alerts, takeOff = steps{{start, truth(low)}}, steps{{start, truth(ready)}}
	for t := start; t <= f.Scenario.End; t += step {
		r, air := f.RadioHeight(t), f.InAir(t)
		configured := f.AllDown(t) && (f.flapIs("landing", t) || f.setting(FlapOverride, t) == 1)
		switch {
		case !air || r < alertsGiveWay && configured:
			low = false
		case r > alertsArmAbove:
			low = true
		}
		ready = !air && (ready || f.GroundSpeed(t) < takeOffArmsBelow)
		for _, x := range []struct {
			to *steps
			is bool
		}{{&alerts, low}, {&takeOff, ready}} {
			if s := *x.to; s[len(s)-1].Value != truth(x.is) {
				*x.to = append(s, Knot{t, truth(x.is)})
			}
		}
	}
	return alerts, takeOff
}

// envelope reports whether the alerts are armed and the radio altitude is between
// the cut-off and the floor of a table.
func (f *Flight) envelope(t float64, floor, cutOff string) bool {
	r := f.RadioHeight(t)
	return f.alertsArmed.at(t) == 1 && r > f.Profile.Values[cutOff] && r < f.floor(floor, f.Airspeed(t))
}

// slowVoice reports whether the airspeed is below the one from which a floor rises.
// Below it the voice calls gear and flaps, from it on terrain.
func (f *Flight) slowVoice(t float64, floor string) bool {
	return f.Airspeed(t) < f.Profile.Tables[floor][0][0]
}

func (f *Flight) inGearEnvelope(t float64) bool {
	return !f.AllDown(t) && f.envelope(t, "too_low_gear_floor", "too_low_gear_cut_off")
}

func (f *Flight) inFlapEnvelope(t float64) bool {
	return f.AllDown(t) && !f.flapIs("landing", t) && f.setting(FlapOverride, t) == 0 &&
		f.envelope(t, "too_low_flaps_floor", "too_low_flaps_cut_off")
}

// takeOffWarningStops reports whether the warning is quiet for any configuration: not
// armed, the nose strut extended, or silenced by hand.
func (f *Flight) takeOffWarningStops(t float64) bool {
	return f.takeOffArmed.at(t) == 0 || !f.Compressed(0, t) || f.setting(WarningSilenced, t) == 1
}
