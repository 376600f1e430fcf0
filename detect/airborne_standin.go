package detect

import (
	"math"
	"slices"

	"downlock/detect/readings"
	"downlock/detect/samples"
)

// The stand-in for the air/ground parameters is right to within these, in s: common
// practice.
const (
	rotation     = 5.0  // from the wheels leaving the ground to 10 ft
	softFlare    = 15.0 // from 10 ft to the wheels: 6 to 10 where it is soft
	airspeedBlur = 30.0 // either side; from 80 kt to lift-off, or from touchdown to 80 kt
)

// airborneByRadioAltitude is where the aircraft is in the air by its radio altitude:
// surely above 10 ft, perhaps for a rotation before it and a flare after it, and not
// where it is too slow to fly.
func airborneByRadioAltitude(s *samples.Set) readings.Condition {
	c := s.Compare("radio_altitude", readings.Above, samples.AirborneRadioAltitude, s.Window)
	c.Possible = readings.Intersect(c.Possible.Widen(-rotation, softFlare), slow(s).Complement(s.Window))
	c.Possible = readings.Union(c.Possible, c.True)
	return c
}

// slowestFlight (kt) is below any speed of an aircraft in the air: common practice.
const slowestFlight = 30.0

// slow is where the aircraft is surely too slow to fly.
func slow(s *samples.Set) (out readings.Spans) {
	for _, name := range []string{"ground_speed", "computed_airspeed"} {
		if s.Has(name) {
			out = readings.Union(out, s.Compare(name, readings.Below, slowestFlight, s.Window).Certain)
		}
	}
	return out
}

// touchAndGo is how long the wheels may be on the ground above 80 kt, s; a go-around
// looks the same to an airspeed.
const touchAndGo = 60.0

// No landing is without a descent to it and no lift-off without a climb: common
// practice.
const (
	descentWithin = 120.0 // s
	descentLeast  = 200.0 // ft
	groundLevel   = 100.0 // ft; how far an aerodrome is from level
)

// airborneByAirspeed is where the aircraft is in the air by its airspeed, and by its
// altitude where it is slower than is thought possible: it flies where that changes,
// and may fly where it has not come down to land.
func airborneByAirspeed(s *samples.Set) readings.Condition {
	c := s.Compare("computed_airspeed", readings.Above, samples.AirborneAirspeed, s.Window).Blurred(airspeedBlur, s.Window)
	altitude := s.Line("pressure_altitude")
	if altitude == nil {
		return c
	}
	climbs := samples.Climbing(altitude)
	surely := climbs.Widen(samples.ClimbsWithin, -samples.ClimbsWithin)
	air := slices.DeleteFunc(slices.Clone(c.True), func(roll Span) bool { // rejected take-offs
		return roll.Seconds() < touchAndGo && len(readings.Intersect(climbs, readings.Spans{roll})) == 0
	})
	var perhaps readings.Spans
	for _, ground := range air.Complement(s.Window) {
		if ground.Start > s.Window[0].Start && !descended(altitude, stretch(ground.Start-descentWithin, ground.Start), ground) ||
			ground.End < s.Window[0].End && !descended(altitude, stretch(ground.End, ground.End+descentWithin), ground) {
			perhaps = append(perhaps, ground)
		}
	}
	known := readings.Union(c.True, c.False)
	c.Certain = readings.Union(readings.Intersect(c.Certain, perhapsOnWheels(altitude).Complement(s.Window)), surely)
	c.True = readings.Intersect(known, readings.Union(readings.Union(air, surely), perhaps))
	c.False = readings.Intersect(known, c.True.Complement(s.Window))
	c.Possible = readings.Union(readings.Union(c.Possible, climbs), perhaps)
	return c
}

// perhapsOnWheels is where a touch-and-go may be: about the lowest point between a
// descent and a climb.
func perhapsOnWheels(altitude *readings.Line) readings.Spans {
	var about []Span
	for _, i := range turningPoints(altitude.Values, func(int) bool { return true }) {
		about = append(about, stretch(altitude.Times[i]-touchAndGo, altitude.Times[i]+touchAndGo))
	}
	return readings.UnionOf(about)
}

// descended says that an altitude is higher before or after a stay on the ground than
// during it, and nowhere lower by more than an aerodrome is.
func descended(altitude *readings.Line, air, ground Span) bool {
	from, to := altitude.Within(air)
	first, last := altitude.Within(ground)
	if from == to || first == last {
		return true // nothing says otherwise
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range altitude.Values[from:to] {
		low, high = min(low, v), max(high, v)
	}
	level := altitude.Values[first]
	for _, v := range altitude.Values[first:last] {
		level = min(level, v)
	}
	return high-level >= descentLeast && level-low <= groundLevel
}
