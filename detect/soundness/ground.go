package soundness

import (
	"fmt"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// leastClimbing (s) on the ground shows that it is none: a pressure that changes with
// the attitude on a take-off run does so for some seconds.
const leastClimbing = 60.0

// groundStaysLevel holds the stand-in for the air/ground parameters against the
// pressure altitude: on the ground that does not change as in a climb. There is no
// such check where the air/ground parameters themselves are recorded.
func groundStaysLevel(s *samples.Set, profile *schemas.Profile) []Check {
	name := s.AirGroundStandIn(profile)
	if name == "" {
		return nil
	}
	c := Check{ID: "ground-altitude", Title: "pressure altitude on the ground", Outcome: NotPossible, Parameters: []string{name}}
	altitude := s.Line("pressure_altitude")
	if altitude == nil {
		c.Parameters, c.Evidence = []string{}, "no pressure altitude is recorded"
		return []Check{c}
	}
	limit := map[string]float64{"radio_altitude": samples.AirborneRadioAltitude, "computed_airspeed": samples.AirborneAirspeed}[name]
	ground := s.Compare(name, readings.AtMost, limit, s.Window).True
	climbs := readings.Intersect(samples.Climbing(altitude), ground).AtLeast(samples.ClimbsWithin).Seconds()
	c.Outcome = Passed
	c.Evidence = fmt.Sprintf("by %s the aircraft is on the ground for %.0f s; for %.0f s of that the pressure altitude changes by %.0f ft in %.0f s or faster", name, ground.Seconds(), climbs, samples.ClimbsBy, samples.ClimbsWithin)
	if climbs >= leastClimbing {
		c.Outcome = Failed
		c.Hint = "check unit and scale of " + name + "; if the aircraft flies that slowly, map a strut switch, weight_on_wheels or radio_altitude"
	}
	return []Check{c}
}
