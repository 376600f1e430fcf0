package soundness

import (
	"fmt"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// A strut that is compressed for a good part of the flight has stuck, or stands in
// another's column. Where that other changes with air and ground as a strut does,
// and nothing else but a strut does, it is the column.
const (
	stuckShare   = 0.4  // of the air compressed
	leastStuck   = 8.0  // s of it
	followsShare = 0.95 // of the ground compressed, and of the air not
)

// strutElsewhere finds a strut and another discrete in each other's place.
func strutElsewhere(s *samples.Set, e evidence) Check {
	c := Check{ID: "strut-elsewhere", Title: "struts and other discretes that change with air and ground", Outcome: NotPossible, Parameters: []string{},
		Evidence: "no strut is recorded, or the recording has too little ground or air to tell"}
	if e.ground.Seconds() < leastSide || e.air.Seconds() < leastStuck {
		return c
	}
	var struts, others []string
	for _, p := range schemas.Parameters() {
		switch {
		case p.Kind != schemas.Discrete || !s.Has(p.Name):
		case isStrut(p.Name):
			c.Outcome, c.Parameters = Passed, append(c.Parameters, p.Name)
			if share, seconds := shareOf(s.Discrete(p.Name, s.Window), e.air); share >= stuckShare && share*seconds >= leastStuck {
				struts = append(struts, p.Name)
			}
		case follows(s.Discrete(p.Name, s.Window), e):
			others = append(others, p.Name)
		}
	}
	if c.Outcome == Passed {
		c.Evidence = "no strut stays compressed in the air while another discrete changes as a strut does"
	}
	if len(struts) > 0 && len(others) > 0 {
		c.Outcome, c.Parameters = Failed, append(struts, others...)
		c.Evidence = fmt.Sprintf("%s compressed in the air, while %s changes with air and ground", strings.Join(struts, ", "), strings.Join(others, ", "))
		c.Hint = "exchange their columns"
	}
	return c
}

// follows says that a discrete is true on the ground and false in the air.
func follows(is readings.Condition, e evidence) bool {
	ground, _ := shareOf(is, e.ground)
	air, _ := shareOf(is, e.air)
	return ground >= followsShare && air <= 1-followsShare
}
