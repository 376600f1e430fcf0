package simulator

import (
	"errors"
	"fmt"
	"slices"

	"downlock/schemas"
)

// Boundary is a rule and two flights: one just meets the rule and one just misses it.
// The flights differ in one figure. It lies on either side of a limit, a little
// further off than the error of sampling and accuracy.
type Boundary struct {
	Rule        string
	Met, Missed *Flight

	onset onset
}

// onset is a scenario with one open figure, and the values of the figure that just
// meet and just miss the rule.
type onset struct {
	rule        string
	scenario    func(x float64) Scenario
	met, missed float64
	profile     string // "" for the TH-120
}

// Boundaries returns the two flights of every rule in Rules.
func Boundaries() ([]Boundary, error) {
	var out []Boundary
	for _, o := range slices.Concat(selectionOnsets(), approachOnsets(), lowOnsets(), limitOnsets(), takeOffOnsets(), healthOnsets(), hornOnsets(), alertOnsets()) {
		b := Boundary{Rule: o.rule, onset: o}
		var errs [2]error
		b.Missed, errs[0] = b.Between(0)
		b.Met, errs[1] = b.Between(1)
		if err := errors.Join(errs[:]...); err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, nil
}

// Between returns the flight whose figure lies at a share of the way from Missed to
// Met. The truth of the flight says whether the rule is met.
func (b Boundary) Between(share float64) (*Flight, error) {
	o := b.onset
	if o.profile == "" {
		o.profile = "th120"
	}
	p, err := schemas.ShippedProfileNamed(o.profile)
	if err != nil {
		return nil, err
	}
	x := o.missed + share*(o.met-o.missed)
	s := o.scenario(x)
	s.Name, s.Seed = fmt.Sprintf("%s at %g", o.rule, x), 1
	return New(s, p)
}

// boundaryDay is arbitrary: the day of these flights does not matter.
var boundaryDay = day(8, 1, 12, 0)

// leave, arrive and circle make the parts of flights that the onsets use. crew
// changes the acts of the crew, then changes anything else; either may be nil.
func leave(until float64, crew func(*departure, float64), then func(*script, float64)) func(float64) Scenario {
	return func(x float64) Scenario {
		s := leaving(boundaryDay, 0, until, func(d *departure) {
			if crew != nil {
				crew(d, x)
			}
		})
		return s.and(then, x)
	}
}

func arrive(before float64, crew func(*arrival, float64), then func(*script, float64)) func(float64) Scenario {
	return func(x float64) Scenario {
		s := arriving(boundaryDay, before, func(a *arrival) {
			if crew != nil {
				crew(a, x)
			}
		})
		return s.and(then, x)
	}
}

func circle(crew func(*arrival, *climbAway, float64), then func(*script, float64)) func(float64) Scenario {
	return func(x float64) Scenario {
		s := circling(boundaryDay, func(a *arrival, c *climbAway) { crew(a, c, x) })
		return s.and(then, x)
	}
}

func (s *script) and(then func(*script, float64), x float64) Scenario {
	if then != nil {
		then(s, x)
	}
	return s.done()
}

// lowestAt puts the lowest point of a circling flight at a height, ft.
func (s *script) lowestAt(height float64) {
	for i, k := range s.Height {
		switch k.Value {
		case 1000:
			s.Height[i].Value = height + 350
		case 650:
			s.Height[i].Value = height
		case 760:
			s.Height[i].Value = height + 110
		}
	}
}

// force holds a column at a value from start to end.
func (s *script) force(column string, start, end, value float64) {
	s.Faults.Forced = append(s.Faults.Forced, Force{column, start, end, value})
}
