package soundness

import (
	"fmt"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// stuckInAir is the share of the air for which a lever cannot be down while the legs
// are up and locked.
const stuckInAir = 0.9

// leverAgainstPosition finds a lever that is DOWN while the legs are up and locked,
// in recordings without ground time to tell which of the two is reversed.
func leverAgainstPosition(s *samples.Set, r reference, before []Check) Check {
	c := Check{ID: "lever-against-position", Title: "gear lever against up-locks", Outcome: NotPossible, Parameters: []string{"gear_lever"}}
	var locked []readings.Condition
	for _, parameter := range schemas.Parameters() {
		if name := parameter.Name; s.Has(name) && strings.HasSuffix(name, "gear_up_locked") {
			locked = append(locked, s.Discrete(name, s.Window))
			c.Parameters = append(c.Parameters, name)
		}
	}
	if !s.Has("gear_lever") || len(locked) == 0 {
		c.Parameters, c.Evidence = []string{}, "lever and up-locks are not both recorded"
		return c
	}
	for _, b := range before {
		if b.ID == "lever-polarity" && b.Outcome != NotPossible {
			c.Evidence = "each was checked against the ground separately"
			return c
		}
	}
	up := readings.Intersect(readings.Every(locked, s.Window).True, r.air)
	down, seconds := shareOf(s.State("gear_lever", "DOWN", s.Window), up)
	c.Evidence = fmt.Sprintf("the lever is DOWN for %s of the %.0f s in the air with the legs up and locked", percent(down), seconds)
	switch {
	case seconds < leastAir:
		c.Evidence += fmt.Sprintf("; at least %.0f s are needed", leastAir)
	case down >= stuckInAir:
		c.Outcome, c.Hint = Failed, "either UP and DOWN in the states of gear_lever or true_when of the up-locks is the wrong way round"
	default:
		c.Outcome = Passed
	}
	return c
}
