package soundness

import (
	"fmt"
	"slices"
	"strings"

	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// columnsTwice finds a column that two parameters read alike: of one of them, and
// perhaps of both, it says nothing. A parameter that has failed a check before leaves
// the column to the other. Two values of one column are no such thing, as
// where a column of UP, TRANSIT and DOWN is an up-lock and a down-lock.
func columnsTwice(s *samples.Set, before []Check) Check {
	c := Check{ID: "column-twice", Title: "one column for two parameters", Outcome: Passed, Parameters: []string{},
		Evidence: "each parameter reads a column of its own, or another value of it"}
	var all []*ingest.Series
	for _, parameter := range schemas.Parameters() {
		if s.Has(parameter.Name) && !failed(before, parameter.Name) {
			all = append(all, s.Series(parameter.Name))
		}
	}
	var evidence []string
	for _, one := range all {
		if !slices.ContainsFunc(all, func(other *ingest.Series) bool { return other != one && alike(one, other) }) {
			continue
		}
		c.Parameters = append(c.Parameters, one.Parameter.Name)
		if said := fmt.Sprintf("column %q", one.Column); !slices.Contains(evidence, said) {
			evidence = append(evidence, said)
		}
	}
	if len(c.Parameters) > 0 {
		c.Outcome = Failed
		c.Evidence = strings.Join(c.Parameters, ", ") + " are the same samples, of " + strings.Join(evidence, " and ")
		c.Hint = "give each its own column; where the recorder has one for all of them, map the parameter that stands for all (weight_on_wheels, gear_down_locked, gear_up_locked)"
	}
	return c
}

// failed says that a parameter is one of those a check cannot trust.
func failed(checks []Check, name string) bool {
	return slices.ContainsFunc(checks, func(c Check) bool { return c.Outcome == Failed && slices.Contains(c.Parameters, name) })
}

// alike says that two series are the same values of one column.
func alike(a, b *ingest.Series) bool {
	if a.Column != b.Column || a.Parameter.Numeric() != b.Parameter.Numeric() || a.Len() != b.Len() || !slices.Equal(a.TimeValues(), b.TimeValues()) {
		return false
	}
	if a.Parameter.Numeric() {
		return slices.Equal(a.Numbers(), b.Numbers())
	}
	return slices.Equal(a.Codes(), b.Codes())
}
