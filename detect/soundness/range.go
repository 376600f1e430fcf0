package soundness

import (
	"fmt"
	"strings"

	"downlock/detect/samples"
	"downlock/schemas"
)

// An instrument that fails reads nothing, or one value, or is noisy: a parameter whose
// samples nearly all lie where it cannot be is read in another unit or by another
// scale, or is another parameter.
const (
	leastOfRange = 20   // samples
	outOfRange   = 0.95 // at least this share of them
)

// plausibleRanges finds the parameters that are out of their range throughout. Such
// samples are left out as they are read, so that without this check the parameter would
// count as one that was not recorded.
func plausibleRanges(s *samples.Set, profile *schemas.Profile) Check {
	c := Check{ID: "plausible-range", Title: "values against the range their parameter can have", Outcome: NotPossible, Parameters: []string{}}
	var wrong, evidence, columns []string
	checked := 0
	for _, parameter := range profile.Parameters() {
		series := s.Series(parameter.Name)
		if series == nil || !parameter.Numeric() {
			continue
		}
		n := series.Len() + series.Dropped.Range + series.Dropped.Spike
		if n < leastOfRange {
			continue
		}
		c.Outcome = Passed // it names no parameter: to be in range shows for none that it is read rightly
		checked++
		if float64(series.Dropped.Range) < outOfRange*float64(n) {
			continue
		}
		low, high := rangeOf(profile, parameter, series.Column)
		wrong = append(wrong, parameter.Name)
		columns = append(columns, fmt.Sprintf("%s (column %q)", parameter.Name, series.Column))
		evidence = append(evidence, fmt.Sprintf("%d of %d samples of %s lie outside %g to %g %s", series.Dropped.Range, n, parameter.Name, low, high, parameter.Unit))
	}
	switch {
	case len(wrong) > 0:
		c.Outcome, c.Parameters, c.Evidence = Failed, wrong, strings.Join(evidence, "; ")
		c.Hint = "check column, unit, scale and offset of " + strings.Join(columns, " and ") + ", and the range where the profile gives one"
	case c.Outcome == Passed:
		c.Evidence = fmt.Sprintf("%d parameters are inside it for at least part of the recording", checked)
	default:
		c.Evidence = fmt.Sprintf("no number is recorded with at least %d samples", leastOfRange)
	}
	return c
}

// rangeOf is what a parameter read from a column may be, in its own unit.
func rangeOf(profile *schemas.Profile, parameter schemas.Parameter, column string) (low, high float64) {
	for _, source := range profile.Columns[parameter.Name] {
		if source.Column == column && source.Range != nil {
			return source.Range[0], source.Range[1]
		}
	}
	return parameter.Range[0], parameter.Range[1]
}
