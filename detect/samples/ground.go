package samples

import (
	"math"

	"downlock/detect/readings"
	"downlock/schemas"
)

// Where the air/ground parameters are missing, others stand in: more than this is the
// air. The figures only need to lie well between the ground and the air: common
// practice.
const (
	AirborneRadioAltitude = 10.0 // ft; on its wheels an aircraft reads within a few feet of zero
	AirborneAirspeed      = 80.0 // kt; above taxi and below any lift-off speed the profiles are meant for
)

// AirGroundStandIn is the parameter that stands in for the air/ground ones, "" where
// those are recorded, or nothing is.
func (s *Set) AirGroundStandIn(p *schemas.Profile) string {
	if struts, _ := s.MainStruts(p); len(struts) > 0 || s.Has("weight_on_wheels") {
		return ""
	}
	for _, name := range []string{"radio_altitude", "computed_airspeed"} {
		if s.Has(name) {
			return name
		}
	}
	return ""
}

// MainStruts lists the strut switches of the type's main legs that were
// recorded, and those that were not.
func (s *Set) MainStruts(p *schemas.Profile) (recorded, missing []string) {
	for _, leg := range p.Legs {
		if leg == "nose" {
			continue
		}
		if name := leg + "_strut_compressed"; s.Has(name) {
			recorded = append(recorded, name)
		} else {
			missing = append(missing, name)
		}
	}
	return recorded, missing
}

// No runway and no taxiway changes the altitude of an aircraft as fast as this: common
// practice.
const (
	ClimbsBy     = 50.0 // ft
	ClimbsWithin = 10.0 // s
)

// Climbing is where an altitude in ft changes faster than that of anything on the
// ground.
func Climbing(altitude *readings.Line) (out readings.Spans) {
	last := 0
	for i, t := range altitude.Times {
		if i > 0 && t-altitude.Times[i-1] > altitude.Gap {
			last = i
		}
		for t-altitude.Times[last] > ClimbsWithin {
			last++
		}
		x := readings.Span{Start: altitude.Times[last], End: t}
		switch n := len(out); {
		case math.Abs(altitude.Values[i]-altitude.Values[last]) < ClimbsBy:
		case n > 0 && x.Start <= out[n-1].End:
			out[n-1].End = t
		default:
			out = append(out, x)
		}
	}
	return out
}
