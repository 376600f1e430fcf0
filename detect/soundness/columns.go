package soundness

import (
	"fmt"
	"slices"
	"strings"

	"downlock/detect/samples"
)

// columnsTwice finds a column that two parameters read alike: of one of them, and
// perhaps of both, it says nothing. A parameter that has failed a check before leaves
// the column to the other. Two values of one column are no such thing, as
// where a column of UP, TRANSIT and DOWN is an up-lock and a down-lock.
func columnsTwice(s *samples.Set, before []Check) Check {
	c := Check{ID: "column-twice", Title: "one column for two parameters", Outcome: Passed, Parameters: []string{},
		Evidence: "each parameter reads its own column, or its own value of a column"}
	var all []string
	for _, series := range s.Recording.Series {
		if name := series.Parameter.Name; s.Has(name) && !failed(before, name) {
			all = append(all, name)
		}
	}
	var evidence []string
	for _, one := range all {
		if !slices.ContainsFunc(all, func(other string) bool { return other != one && alike(s, one, other) }) {
			continue
		}
		c.Parameters = append(c.Parameters, one)
		if said := fmt.Sprintf("column %q", s.Series(one).Column); !slices.Contains(evidence, said) {
			evidence = append(evidence, said)
		}
	}
	if len(c.Parameters) > 0 {
		c.Outcome = Failed
		c.Evidence = strings.Join(c.Parameters, ", ") + " have the same samples, from " + strings.Join(evidence, " and ")
		c.Hint = "give each its own column; if the recorder has one for all of them, map the parameter for all (weight_on_wheels, gear_down_locked, gear_up_locked)"
	}
	return c
}

// failed says that a parameter is one of those a check cannot trust.
func failed(checks []Check, name string) bool {
	return slices.ContainsFunc(checks, func(c Check) bool { return c.Outcome == Failed && slices.Contains(c.Parameters, name) })
}

// alike says that two parameters are the same values of one column.
func alike(s *samples.Set, one, other string) bool {
	a, b := s.Series(one), s.Series(other)
	if a.Column != b.Column || a.Parameter.Numeric() != b.Parameter.Numeric() || a.Len() != b.Len() {
		return false
	}
	x, u := s.Samples(one)
	y, v := s.Samples(other)
	if !slices.Equal(x.Times, y.Times) || !slices.Equal(u, v) {
		return false
	}
	return a.Parameter.Numeric() || slices.Equal(s.Code(one).Values(), s.Code(other).Values())
}
