package survey

import (
	"slices"
	"strings"

	"downlock/schemas"
)

// The ends of a position's travel, as shares of it: from reached on it is at the end,
// up to left it is not.
const (
	reached = 0.99
	left    = 0.98
)

// position reads a lock from a position from 0 to 1, or to 100, of a leg. The end that
// it is at on the ground is down.
func (j *judge) position(out *Suggestion, c *Column, p schemas.Parameter) bool {
	if !strings.HasSuffix(p.Name, "gear_down_locked") || !c.Numeric || !j.phases.usable() || c.Smallest < 0 {
		return false
	}
	travel := 1.
	if c.Largest > 1 {
		travel = 100
	}
	if c.Largest > travel || c.Smallest > (1-reached)*travel || c.Largest < reached*travel {
		return false
	}
	high := c.sketch.shareWithin(j.phases.ground, func(v float64) bool { return v >= reached*travel })
	low := c.sketch.shareWithin(j.phases.ground, func(v float64) bool { return v <= (1-reached)*travel })
	switch {
	case high > 0.9:
		out.TrueAbove, out.FalseBelow = number(reached*travel), number(left*travel)
		out.evidence("a position from 0 to %g, at %g for %.0f %% of the time on the ground (by %s), so that is down", travel, travel, 100*high, j.phases.by)
	case low > 0.9:
		out.TrueBelow, out.FalseAbove = number(rounded((1-reached)*travel)), number(rounded((1-left)*travel))
		out.evidence("a position from 0 to %g, at 0 for %.0f %% of the time on the ground (by %s), so that is down", travel, 100*low, j.phases.by)
	default:
		return false
	}
	out.atMostLikely()
	out.decide("a leg at the end of its travel is taken as locked: check the levels")
	return true
}

// otherEnds reads the lock at the other end of each position that is read for the
// down-lock, where no column of its own was found for it.
func otherEnds(suggestions []Suggestion) (more []Suggestion) {
	for _, one := range suggestions {
		leg, ok := strings.CutSuffix(one.Parameter, "gear_down_locked")
		up := leg + "gear_up_locked"
		if !ok || one.TrueAbove == nil && one.TrueBelow == nil ||
			slices.ContainsFunc(suggestions, func(s Suggestion) bool { return s.Parameter == up }) {
			continue
		}
		travel := 1.
		if one.TrueAbove != nil && *one.TrueAbove > 1 || one.FalseAbove != nil && *one.FalseAbove > 1 {
			travel = 100
		}
		other := one
		other.Parameter, other.Evidence, other.Decide = up, slices.Clone(one.Evidence), slices.Clone(one.Decide)
		if one.TrueAbove != nil {
			other.TrueAbove, other.FalseBelow = nil, nil
			other.TrueBelow, other.FalseAbove = number(rounded((1-reached)*travel)), number(rounded((1-left)*travel))
		} else {
			other.TrueBelow, other.FalseAbove = nil, nil
			other.TrueAbove, other.FalseBelow = number(reached*travel), number(left*travel)
		}
		other.evidence("the other end of the same travel is up")
		more = append(more, other)
	}
	return more
}

// legPosition adds the meaning of a position's end to a name that is only that of a
// leg, such as Gear_Left_Position, where the values are a position.
func legPosition(c *Column, said []string) []string {
	if i := slices.Index(said, "centre"); i >= 0 && slices.Contains(said, "gear") {
		said = slices.Clone(said)
		said[i] = "nose" // the leg in the middle
	}
	leg := func(word string) bool { return slices.Contains([]string{"left", "right", "nose"}, word) }
	other := func(word string) bool { return !leg(word) && word != "gear" && word != "main" && word != "body" }
	if c.Numeric && c.Distinct > 2 && slices.Contains(said, "gear") && slices.ContainsFunc(said, leg) && !slices.ContainsFunc(said, other) {
		return append(slices.Clone(said), "down", "locked")
	}
	return said
}

func number(v float64) *float64 { return &v }
