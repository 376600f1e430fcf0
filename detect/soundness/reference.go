package soundness

import (
	"fmt"

	"downlock/detect/readings"
	"downlock/detect/samples"
)

// The figures that tell air from ground beyond doubt, whatever the switches say
// and even where one of the two is in the wrong unit: common practice.
const (
	surelyFast = 100.0 // kt; no aircraft the profiles are meant for taxies at it
	surelySlow = 40.0  // kt; none of them flies at it, nor at twice it
	surelyHigh = 100.0 // ft of radio altitude; wheels off, even if it were metres
	surelyLow  = 50.0  // ft of radio altitude; with surelySlow on the ground
)

// Shorter stays (s) in the air or on the ground than these prove nothing.
const (
	leastAir    = 60.0
	leastGround = 30.0
)

// reference is where the aircraft is surely in the air and surely on the ground
// by its speed and radio altitude alone.
type reference struct {
	air, ground readings.Spans
	by          string // the parameters used, in plain words
	speed       string // the one speed among them
}

func newReference(s *samples.Set) reference {
	speed := ""
	for _, name := range []string{"computed_airspeed", "ground_speed"} {
		if s.Has(name) {
			speed = name
			break
		}
	}
	if speed == "" {
		return reference{}
	}
	r := reference{
		by:     speed,
		speed:  speed,
		air:    s.Compare(speed, readings.Above, surelyFast, s.Window).True,
		ground: s.Compare(speed, readings.Below, surelySlow, s.Window).True,
	}
	if speed != "ground_speed" && s.Has("ground_speed") {
		r.ground = readings.Intersect(r.ground, s.Compare("ground_speed", readings.Below, surelySlow, s.Window).True)
	}
	if s.Has("radio_altitude") {
		r.by += " and radio_altitude"
		low := s.Compare("radio_altitude", readings.AtMost, surelyHigh, s.Window).True
		high := s.Compare("radio_altitude", readings.Above, surelyLow, s.Window).True
		r.air = readings.Intersect(r.air, low.Complement(s.Window))
		r.ground = readings.Intersect(r.ground, high.Complement(s.Window))
	}
	// Single samples that jump are no stay.
	r.air, r.ground = r.air.AtLeast(5), r.ground.AtLeast(5)
	return r
}

// shares are the parts of the sure air and the sure ground in which a condition
// is true, of the time it is known; the seconds are that time.
type shares struct {
	air, ground               float64
	airSeconds, groundSeconds float64
}

func (r reference) shares(s *samples.Set, c readings.Condition) shares {
	var out shares
	out.air, out.airSeconds = shareOf(c, r.air)
	out.ground, out.groundSeconds = shareOf(c, r.ground)
	return out
}

func shareOf(c readings.Condition, within readings.Spans) (share, seconds float64) {
	held := readings.Intersect(c.True, within).Seconds()
	seconds = held + readings.Intersect(c.False, within).Seconds()
	if seconds == 0 {
		return 0, 0
	}
	return held / seconds, seconds
}

func (x shares) hasAir() bool    { return x.airSeconds >= leastAir }
func (x shares) hasGround() bool { return x.groundSeconds >= leastGround }

func percent(share float64) string { return fmt.Sprintf("%.0f %%", 100*share) }
