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
// perhaps of both, it says nothing. Two values of one column are no such thing, as
// where a column of UP, TRANSIT and DOWN is an up-lock and a down-lock.
func columnsTwice(s *samples.Set) Check {
	c := Check{ID: "column-twice", Title: "one column for two parameters", Outcome: Passed, Parameters: []string{},
		Evidence: "each parameter reads a column of its own, or another value of it"}
	byColumn := map[string][]*ingest.Series{}
	for _, parameter := range schemas.Parameters() {
		if s.Has(parameter.Name) {
			series := s.Series(parameter.Name)
			byColumn[series.Column] = append(byColumn[series.Column], series)
		}
	}
	var evidence []string
	for _, parameter := range schemas.Parameters() {
		if !s.Has(parameter.Name) {
			continue
		}
		one := s.Series(parameter.Name)
		for _, other := range byColumn[one.Column] {
			if other != one && alike(one, other) {
				c.Parameters = append(c.Parameters, parameter.Name)
				if said := fmt.Sprintf("column %q", one.Column); !slices.Contains(evidence, said) {
					evidence = append(evidence, said)
				}
				break
			}
		}
	}
	if len(c.Parameters) > 0 {
		c.Outcome = Failed
		c.Evidence = strings.Join(c.Parameters, ", ") + " are the same samples, of " + strings.Join(evidence, " and ")
		c.Hint = "give each its own column; where the recorder has one for all of them, map the parameter that stands for all (weight_on_wheels, gear_down_locked, gear_up_locked)"
	}
	return c
}

// alike says that two series have the same values at the same times.
func alike(a, b *ingest.Series) bool {
	if a.Parameter.Numeric() != b.Parameter.Numeric() || a.Len() != b.Len() || !slices.Equal(a.TimeValues(), b.TimeValues()) {
		return false
	}
	if a.Parameter.Numeric() {
		return slices.Equal(a.Numbers(), b.Numbers())
	}
	return slices.Equal(a.Codes(), b.Codes())
}
