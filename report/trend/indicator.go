package trend

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
	"downlock/report/trend/tally"
	"downlock/schemas"
)

// Indicator is one safety performance indicator, as its file states it, completed
// with the fields it leaves out.
type Indicator struct {
	ID, Title      string
	Rule           string
	Severity       []string
	Measurement    string
	Per            string
	Quantile       *float64
	Beyond         *float64
	Worse          string
	Period         string
	Current        int
	Preceding      int
	Target         *float64
	TargetChange   *float64 `yaml:"target_change"`
	AlertLevel     *float64 `yaml:"alert_level"`
	rule, measured int      // place in the tally; -1 where the archive has none
}

// Indicators is a file of them.
type Indicators struct {
	Title      string
	Indicators []Indicator
}

// ReadIndicators reads and checks a file of indicators against the archive. The
// error is schemas.Problems, or one of the file system.
func (t *Trend) ReadIndicators(path string) (*Indicators, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return t.parseIndicators(path, data)
}

func (t *Trend) parseIndicators(path string, data []byte) (*Indicators, error) {
	doc, err := schemas.ParseDocument(path, data)
	if err != nil {
		return nil, err
	}
	schema, err := schemas.Schema(schemas.IndicatorsSchema)
	if err != nil {
		return nil, err
	}
	if err := doc.Validate(schema); err != nil {
		return nil, err
	}
	out := &Indicators{Title: "Safety performance indicators"}
	if err := doc.Decode(out); err != nil {
		return nil, err
	}
	var problems schemas.Problems
	seen := map[string]bool{}
	for i := range out.Indicators {
		at := "/indicators/" + strconv.Itoa(i)
		in := &out.Indicators[i]
		problems = append(problems, t.checkIndicator(doc, at, in)...)
		if seen[in.ID] {
			problems = append(problems, doc.Problem(at+"/id", fmt.Sprintf("a second indicator %s", in.ID), "give each its own name"))
		}
		seen[in.ID] = true
		in.complete(t)
	}
	if len(problems) > 0 {
		return nil, problems.InOrder()
	}
	return out, nil
}

// checkIndicator finds mistakes a schema cannot: names nobody knows, and entries that
// exclude each other.
func (t *Trend) checkIndicator(doc *schemas.Document, at string, in *Indicator) (found schemas.Problems) {
	clash := func(both bool, entry, other string) {
		if both {
			found = append(found, doc.KeyProblem(at+"/"+entry, fmt.Sprintf("an indicator with %s takes no entry %q", other, entry), "leave one out"))
		}
	}
	clash(in.Rule != "" && in.Measurement != "", "measurement", "a rule")
	clash(in.Measurement != "" && in.Per != "", "per", "a measurement")
	clash(in.Rule != "" && in.Quantile != nil, "quantile", "a rule")
	clash(in.Rule != "" && in.Beyond != nil, "beyond", "a rule")
	clash(in.Quantile != nil && in.Beyond != nil, "beyond", "a quantile")
	clash(in.Measurement != "" && len(in.Severity) > 0, "severity", "a measurement")
	clash(in.Target != nil && in.TargetChange != nil, "target_change", "a target")
	known := func(entry, written string, names []string) {
		if written == "" || slices.Contains(names, written) {
			return
		}
		hint := schemas.Suggest(written, names)
		if hint == "" {
			hint = "`downlock rules` lists the rules, `downlock rules --measurements` the measurements"
		}
		found = append(found, doc.Problem(at+"/"+entry, fmt.Sprintf("no %s is called %q, in the archive or built in", entry, written), hint))
	}
	known("rule", in.Rule, t.rules)
	known("measurement", in.Measurement, t.measurements)
	in.rule = slices.Index(t.Rules, in.Rule)
	in.measured = slices.IndexFunc(t.Measured, func(m tally.Measured) bool { return m.Name == in.Measurement })
	for k, severity := range in.Severity {
		if !t.canBe(in, severity) {
			found = append(found, doc.Problem(fmt.Sprintf("%s/severity/%d", at, k), fmt.Sprintf("no event of %s is of %s severity, in the archive or by the built-in rule", in.Rule, severity),
				fmt.Sprintf("by the built-in rule it is %s; leave the entry out to count all events", inWords(t.severities[in.Rule]))))
		}
	}
	return found
}

// canBe reports whether a rule can have events of a severity: by its definition, if it
// is built in, or because the archive has some. Of a rule of the user's own nobody knows
// more than the archive shows.
func (t *Trend) canBe(in *Indicator, severity string) bool {
	levels, builtin := t.severities[in.Rule]
	if !builtin || slices.Contains(levels, detect.Severity(severity)) {
		return true
	}
	if in.rule < 0 {
		return false
	}
	return slices.ContainsFunc(t.monthly[in.rule], func(c count) bool {
		for s, n := range c.Severity {
			if n > 0 && tally.Severity(s).String() == severity {
				return true
			}
		}
		return false
	})
}

// inWords lists severities: low, or medium or high.
func inWords(levels []detect.Severity) string {
	words := make([]string, len(levels))
	for i, l := range levels {
		words[i] = string(l)
	}
	return strings.Join(words, " or ")
}

// The periods a point of an indicator may stand for.
const (
	aMonth   = "month"
	aQuarter = "quarter"
	aYear    = "year"
)

// worseLower is the entry worse of an indicator that gets worse as it falls.
const worseLower = "lower"

// periodsOf tells, by period, the months in one and the numbers of points that are
// watched and that come before them, where the indicator does not say.
var periodsOf = map[string]struct{ months, current, preceding int }{
	aMonth: {1, 12, 12}, aQuarter: {3, 4, 8}, aYear: {12, 1, 5},
}

func (in *Indicator) complete(t *Trend) {
	if in.Title == "" {
		in.Title = t.title(in.Rule + in.Measurement)
	}
	if in.Period == "" {
		in.Period = aMonth
	}
	if in.Current == 0 {
		in.Current = periodsOf[in.Period].current
	}
	if in.Preceding == 0 {
		in.Preceding = periodsOf[in.Period].preceding
	}
	if in.Measurement != "" && in.Quantile == nil && in.Beyond == nil {
		median := 0.5
		in.Quantile = &median
	}
}

// wants says whether events of a severity count.
func (in *Indicator) wants(s tally.Severity) bool {
	for _, word := range in.Severity {
		if word == s.String() {
			return true
		}
	}
	return len(in.Severity) == 0
}

// dividedBy is the divisor of the rate of an indicator: opportunities, unless the
// file says flights, or flights from before they were counted are among those read.
func (in *Indicator) dividedBy(t *Trend) string {
	if in.Per == byFlights {
		return byFlights
	}
	return t.Per()
}

// unit is the unit of the values of an indicator.
func (in *Indicator) unit(t *Trend) string {
	switch {
	case in.Rule != "" && len(in.Severity) > 0:
		return t.Nouns() + " of " + strings.Join(in.Severity, " or ") + " severity per 1,000 " + in.dividedBy(t)
	case in.Rule != "":
		return t.Nouns() + " per 1,000 " + in.dividedBy(t)
	case in.Beyond != nil:
		return "% of values"
	case in.measured >= 0:
		return t.Measured[in.measured].Unit
	}
	return ""
}
