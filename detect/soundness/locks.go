package soundness

import (
	"fmt"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// leastBoth (s) is longer than two switches of one leg overlap: common practice.
const leastBoth = 5.0

// legLocks finds a leg that is down and locked and up and locked at once. The lever and
// the other locks say which of the two is wrong; where they do not, neither counts. One
// that has failed a check before is left out.
func legLocks(s *samples.Set, e evidence, before []Check) Check {
	c := Check{ID: "both-locks", Title: "down-lock and up-lock of one leg", Outcome: NotPossible, Parameters: []string{}}
	var wrong, evidence []string
	for _, p := range schemas.Parameters() {
		down := p.Name
		up := strings.TrimSuffix(down, "down_locked") + "up_locked"
		if !isDownLock(down) || !s.Has(down) || !s.Has(up) || failed(before, down) || failed(before, up) {
			continue
		}
		c.Outcome, c.Parameters = Passed, append(c.Parameters, down, up)
		both := readings.And(s.Discrete(down, s.Window), s.Discrete(up, s.Window)).True.AtLeast(leastBoth)
		if len(both) == 0 {
			continue
		}
		mostly := func(spans readings.Spans) bool { return readings.Intersect(both, spans).Seconds() > both.Seconds()/2 }
		switch {
		case mostly(e.down):
			wrong = append(wrong, up)
		case mostly(e.up):
			wrong = append(wrong, down)
		default:
			wrong = append(wrong, down, up)
		}
		evidence = append(evidence, fmt.Sprintf("%s and %s at once for %.0f s", down, up, both.Seconds()))
	}
	switch c.Outcome {
	case NotPossible:
		c.Evidence = "no leg has both recorded and read correctly"
	case Passed:
		c.Evidence = "no leg is both at once"
	}
	if len(wrong) > 0 {
		c.Outcome, c.Parameters = Failed, wrong
		c.Evidence, c.Hint = strings.Join(evidence, "; "), wrongWay+", 0 when locked; or check the column"
	}
	return c
}
