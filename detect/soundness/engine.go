package soundness

import (
	"fmt"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// engineChecks hold throttles and fan speeds against the values they must have on the
// ground and in the air.
func engineChecks(s *samples.Set, r reference, profile *schemas.Profile) []Check {
	return []Check{throttleLevel(s, r, profile), fanSpeed(s, r)}
}

// numbered lists the recorded parameters of a family, one per engine.
func numbered(s *samples.Set, prefix string) (names []string) {
	for n := 1; n <= 4; n++ {
		if name := fmt.Sprintf("%s_%d", prefix, n); s.Has(name) {
			names = append(names, name)
		}
	}
	return names
}

// throttleLevel finds a unit or a level at which a throttle counts as retarded
// that cannot be: never retarded on the ground, or always retarded in the air.
func throttleLevel(s *samples.Set, r reference, profile *schemas.Profile) Check {
	c := Check{ID: "throttle-level", Title: "throttles against the level at which they count as retarded", Outcome: NotPossible, Parameters: []string{}}
	names := numbered(s, profile.Throttle.Parameter)
	if profile.Throttle.Parameter == "" || len(names) == 0 {
		c.Evidence = "no throttle is recorded, or the profile does not say when one is retarded"
		return c
	}
	c.Parameters = names
	level := profile.Throttle.RetardedBelow
	var each []readings.Condition
	for _, name := range names {
		each = append(each, s.Compare(name, readings.Below, level, s.Window))
	}
	some, all := r.shares(s, readings.Some(each, s.Window)), r.shares(s, readings.Every(each, s.Window))
	// Taxi is with closed throttles but for breaking away; a flight that was
	// recorded from the ground has its climb in it.
	const taxi, leastTaxi, glide, leastFlight = 0.02, 120.0, 0.98, 300.0
	c.Evidence = fmt.Sprintf("below %g %s a throttle is for %s of %.0f s on the ground, and all are for %s of %.0f s in the air",
		level, s.Series(names[0]).Parameter.Unit, percent(some.ground), some.groundSeconds, percent(all.air), all.airSeconds)
	switch {
	case some.groundSeconds >= leastTaxi && some.ground < taxi:
		c.Outcome, c.Hint = Failed, fmt.Sprintf("check unit, scale and column of %s, and retarded_below: on the ground the throttles are closed", profile.Throttle.Parameter)
	case all.airSeconds >= leastFlight && all.hasGround() && all.air > glide:
		c.Outcome, c.Hint = Failed, fmt.Sprintf("check unit, scale and column of %s, and retarded_below: no flight is without power throughout", profile.Throttle.Parameter)
	case some.groundSeconds >= leastTaxi && all.airSeconds >= leastFlight:
		c.Outcome = Passed
	}
	return c
}

// fanSpeed finds an N1 that is a fraction or the angle of a throttle: in the air
// no fan stands still, and none makes so little in a climb.
func fanSpeed(s *samples.Set, r reference) Check {
	c := Check{ID: "fan-speed", Title: "fan speed N1 in the air", Outcome: NotPossible, Parameters: []string{}}
	names := numbered(s, "engine_n1")
	if len(names) == 0 {
		c.Evidence = "no N1 is recorded"
		return c
	}
	c.Parameters = names
	// A fan idles above 20 % in the air; below 10 it windmills, and not all of them
	// do so for a minute. Common practice.
	const standing = 10.0 // %
	var each []readings.Condition
	for _, name := range names {
		each = append(each, s.Compare(name, readings.Below, standing, s.Window))
	}
	still := r.shares(s, readings.Every(each, s.Window))
	c.Evidence = fmt.Sprintf("every N1 is below %g %% for %s of %.0f s in the air", standing, percent(still.air), still.airSeconds)
	switch {
	case !still.hasAir():
	case still.air*still.airSeconds >= leastAir:
		c.Outcome, c.Hint = Failed, "check column and scale of engine_n1: it reads as a fraction (scale: 100) or as the angle of a throttle"
	default:
		c.Outcome = Passed
	}
	return c
}
