package detect

import (
	"math"

	"downlock/detect/readings"
	"downlock/schemas"
)

// Where the air/ground parameters are missing, these stand in. The figures only
// need to lie well between the ground and the air: common practice.
const (
	airborneRadioAltitude = 10.0 // ft; on its wheels an aircraft reads within a few feet of zero
	airborneAirspeed      = 80.0 // kt; above taxi and below any lift-off speed the profiles are meant for
	radioAltitudeBlur     = 5.0  // s either side; a normal lift-off or flare passes 10 ft within it
	airspeedBlur          = 30.0 // s either side; from 80 kt to lift-off, or from touchdown to 80 kt
)

// airborneCondition finds where the aircraft is in the air, from the best
// parameters there are, and says in plain words what was used when it was not
// the main struts. ok is false when nothing tells air from ground.
func airborneCondition(s *signals, p *schemas.Profile) (c readings.Condition, note string, ok bool) {
	struts, missing := mainStruts(s, p)
	if len(struts) > 0 {
		onGround := readings.Never(s.window)
		for _, name := range struts {
			onGround = readings.Or(onGround, s.discrete(name, s.window))
		}
		if len(missing) > 0 {
			note = "air and ground from " + joinWords(struts) + " alone: " + joinWords(missing) + " not recorded"
		}
		return readings.Not(onGround, s.window), note, true
	}
	switch {
	case s.has("weight_on_wheels"):
		return readings.Not(s.discrete("weight_on_wheels", s.window), s.window), "air and ground from weight_on_wheels: no main strut recorded", true
	case s.has("radio_altitude"):
		return s.compare("radio_altitude", readings.Above, airborneRadioAltitude, s.window).Blurred(radioAltitudeBlur, s.window),
			"air and ground from radio altitude above 10 ft, right to within 5 s: no strut or air/ground parameter recorded", true
	case s.has("computed_airspeed"):
		return s.compare("computed_airspeed", readings.Above, airborneAirspeed, s.window).Blurred(airspeedBlur, s.window),
			"air and ground from airspeed above 80 kt, right to within 30 s: no better parameter recorded", true
	}
	return readings.Unknown(s.window), "nothing recorded tells air from ground", false
}

// mainStruts lists the strut switches of the type's main legs that were
// recorded, and those that were not.
func mainStruts(s *signals, p *schemas.Profile) (recorded, missing []string) {
	for _, leg := range p.Legs {
		if leg == "nose" {
			continue
		}
		if name := leg + "_strut_compressed"; s.has(name) {
			recorded = append(recorded, name)
		} else {
			missing = append(missing, name)
		}
	}
	return recorded, missing
}

// Shorter stays in the air or on the ground than these are a bounce or a
// chattering switch, not a flight or a landing.
const (
	shortestFlight = 10.0 // s
	shortestGround = 1.0  // s
)

// airSpans lists the stays in the air. What is unknown continues what was before
// it: a strut switch that drops out in cruise does not land the aircraft, and
// one that drops out on the ramp does not lift it off.
func airSpans(airborne readings.Condition, window readings.Spans) readings.Spans {
	var air readings.Spans
	for _, x := range airborne.False.Complement(window) {
		trues := airborne.True.Within(x)
		if len(trues) == 0 {
			continue
		}
		if x.Start > window[0].Start {
			x.Start = trues[0].Start
		}
		air = append(air, x)
	}
	return air.AtLeast(shortestFlight).Join(shortestGround)
}

// timeOf finds the moment with that nominal time and gives its bounds.
func timeOf(moments []readings.Moment, nominal float64) Time {
	for _, m := range moments {
		if math.Abs(m.Nominal-nominal) < 1e-9 {
			return Time{m.Nominal, floor(m.Earliest), m.Latest}
		}
	}
	return Time{nominal, nominal, nominal}
}

func joinWords(words []string) string {
	out := ""
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			out += " and "
		default:
			out += ", "
		}
		out += w
	}
	return out
}
