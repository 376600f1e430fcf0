package trend

import (
	"fmt"
	"slices"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// explain looks whether a finding on the whole fleet, or on a group,
// is there only because of single aircraft that stand out themselves; then it says
// so and ranks the finding after them. One bad aircraft is one thing to look at: it raises
// the rate of its type and of all flights, and makes the other type look better.
func (t *Trend) explain() {
	for _, list := range [][]Finding{t.Findings, t.Improvements} {
		for i := range list {
			if f := &list[i]; f.comparison != nil {
				t.explainFinding(f)
			}
		}
	}
}

// explainFinding makes the comparison again without the aircraft that stand out.
// It rests on them when without them it would not be significant among as many.
func (t *Trend) explainFinding(f *Finding) {
	var alone []string
	var strata []int
	for _, g := range t.Findings {
		if g.Subject != f.Subject || g.Column != tally.RegistrationColumn || g.comparison == nil {
			continue
		}
		if f.Column == g.Column && f.Value == g.Value {
			return // stands out by itself
		}
		alone, strata = append(alone, g.Value), append(strata, g.comparison.Group.strata...)
	}
	if len(alone) == 0 {
		return
	}
	without := t.compareWithout(f.comparison, strata)
	names := "aircraft " + joined(alone)
	f.Beside += fmt.Sprintf(" Without %s the ratio is %s (%s to %s).", names, decimals(without.Ratio), decimals(without.Interval.Low), decimals(without.Interval.High))
	if without.P*float64(t.Tests) >= t.Level {
		f.Rests, f.Strength = names, 1
	}
}

// compareWithout makes a comparison again without some strata.
func (t *Trend) compareWithout(c *comparison, without []int) statistics.Comparison {
	left := func(p Period, strata []int) count {
		if strata == nil {
			for s := range t.Strata {
				strata = append(strata, s)
			}
		}
		kept := slices.DeleteFunc(slices.Clone(strata), func(s int) bool { return slices.Contains(without, s) })
		return t.of(c.Rule, p, append([]int{}, kept...))
	}
	first, second := left(t.Recent, nil), left(t.Before, nil)
	if c.Group != nil {
		first, second = left(t.Recent, c.Group.strata), left(t.Recent, c.Group.rest)
	}
	return statistics.Compare(first.in(c.Unit), second.in(c.Unit), Confidence)
}

func joined(names []string) string {
	switch n := len(names); n {
	case 1:
		return names[0]
	case 2:
		return names[0] + " and " + names[1]
	default:
		return fmt.Sprintf("%s and %d more", names[0], n-1)
	}
}
