package rulecase

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// tolerance (s) is how far a found time may be from the expected one. Cases have
// times with three decimals.
const tolerance = 0.0006

// Run runs the case with a profile and rules. A profile in the case file replaces
// the given one, and a pack in it goes on top of the rules. Run returns the
// differences from the expected events, in words; a case that holds has none.
func (c *Case) Run(profile *schemas.Profile, rules *detect.RuleSet) ([]string, error) {
	detector, rules, err := c.prepare(profile, rules)
	if err != nil {
		return nil, err
	}
	for _, rule := range c.rulesNamed() {
		if rules.Rule(rule) == nil {
			return nil, &schemas.Problem{File: c.File, Line: c.lines[rule], Cause: fmt.Sprintf("%s: unknown rule %q", c.Name, rule),
				Hint: schemas.Suggest(rule, rules.IDs())}
		}
	}
	for _, m := range c.Measures {
		if rules.Measurement(m.ID) == nil {
			return nil, fmt.Errorf("%s: %s: unknown measurement %q", c.File, c.Name, m.ID)
		}
	}
	results := detector.Detect(c.recording())
	if len(results) == 0 {
		return []string{"no flight found"}, nil
	}
	return c.compare(results), nil
}

// prepare makes the detector of the case, and returns it with the rules in force.
func (c *Case) prepare(profile *schemas.Profile, rules *detect.RuleSet) (*detect.Detector, *detect.RuleSet, error) {
	if c.profile != nil {
		p, err := schemas.ParseProfile(profileName, c.profile.text)
		if err != nil {
			return nil, nil, c.placed(err)
		}
		profile = p
	}
	if c.rules != nil {
		r, err := rules.With(rulesName, c.rules.text)
		if err != nil {
			return nil, nil, c.placed(err)
		}
		rules = r
	}
	own := *profile
	own.Values = maps.Clone(profile.Values)
	if own.Values == nil {
		own.Values = map[string]float64{}
	}
	maps.Copy(own.Values, c.Values)
	detector, err := detect.New(&own, rules)
	if err != nil {
		return nil, nil, c.placed(err)
	}
	detector.TrustProfile()
	return detector, rules, nil
}

// placed moves problems of a member of the case file to their lines in the file.
func (c *Case) placed(err error) error {
	var found schemas.Problems
	if !errors.As(err, &found) {
		return err
	}
	members := map[string]*member{profileName: c.profile, rulesName: c.rules}
	moved := make(schemas.Problems, len(found))
	for i, p := range found {
		at := *p
		if m := members[p.File]; m != nil {
			at.File, at.Line = c.File, p.Line+m.below
		}
		moved[i] = &at
	}
	return moved
}

// recording makes the recording of the case.
func (c *Case) recording() *ingest.Recording {
	r := &ingest.Recording{Name: c.Name, SHA256: "case " + c.Name, Format: "rule case", Start: c.Start, End: c.End}
	last := map[string]int{} // a series given twice: the later one counts
	for i, s := range c.Series {
		last[s.Parameter.Name] = i
	}
	for i, s := range c.Series {
		if last[s.Parameter.Name] == i {
			r.Series = append(r.Series, s.series())
		}
	}
	return r
}

func (s Series) series() *ingest.Series {
	out := &ingest.Series{Parameter: s.Parameter, Column: s.Parameter.Name, Interval: s.Every, Gap: s.Gap, Accuracy: s.Accuracy, Exact: s.Accuracy == 0}
	times := array.NewFloat64Builder(memory.DefaultAllocator)
	times.AppendValues(s.Times, nil)
	out.Times = times.NewFloat64Array()
	if s.Parameter.Numeric() {
		values := array.NewFloat64Builder(memory.DefaultAllocator)
		values.AppendValues(s.Values, nil)
		out.Values = values.NewFloat64Array()
		return out
	}
	codes := array.NewUint8Builder(memory.DefaultAllocator)
	for _, v := range s.Values {
		codes.Append(uint8(v))
	}
	out.Values = codes.NewUint8Array()
	return out
}

func (c *Case) rulesNamed() []string {
	names := slices.Clone(c.None)
	for _, e := range c.Events {
		names = append(names, e.Rule)
	}
	for _, e := range c.Evaluations {
		names = append(names, e.Rule)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// compare lists the differences between the case and the results, in words.
func (c *Case) compare(results []*detect.Result) []string {
	var differences []string
	for _, rule := range c.rulesNamed() {
		expected, found := c.events(rule, results)
		if !slices.EqualFunc(expected, found, Event.matches) && c.looksAtEvents(rule) {
			differences = append(differences, fmt.Sprintf("%s\n  expected: %s\n  found:    %s", rule, listOr(expected), listOr(found)))
		}
	}
	for _, want := range c.Evaluations {
		for _, got := range results[0].Evaluations {
			if got.Rule.ID == want.Rule {
				differences = append(differences, want.differences(got)...)
			}
		}
	}
	for _, want := range c.Measures {
		differences = append(differences, want.differences(results[0].Measurements)...)
	}
	return differences
}

// events returns the events of a rule that the case expects, and those found.
func (c *Case) events(rule string, results []*detect.Result) (expected, found []Event) {
	for _, e := range c.Events {
		if e.Rule == rule {
			expected = append(expected, e)
		}
	}
	for _, r := range results {
		for _, e := range r.Events {
			if e.Rule.ID == rule {
				found = append(found, Event{rule, e.Certainty, e.Severity, e.Start, e.End, e.Moment})
			}
		}
	}
	return expected, found
}

// looksAtEvents reports whether the case says what events the rule has.
func (c *Case) looksAtEvents(rule string) bool {
	return slices.Contains(c.None, rule) || slices.ContainsFunc(c.Events, func(e Event) bool { return e.Rule == rule })
}

func (w Evaluation) differences(got detect.Evaluation) (out []string) {
	if got.Coverage != w.Coverage {
		out = append(out, fmt.Sprintf("%s\n  expected: %s\n  found:    %s %s", w.Rule, w.Coverage, got.Coverage, strings.Join(got.Missing, "; ")))
	}
	if w.Because != "" && !strings.Contains(strings.Join(slices.Concat(got.Missing, got.Fallbacks), "; "), w.Because) {
		out = append(out, fmt.Sprintf("%s\n  expected because: %s\n  found:    %s", w.Rule, w.Because, strings.Join(slices.Concat(got.Missing, got.Fallbacks), "; ")))
	}
	if w.Seconds >= 0 && math.Abs(got.UnknownSeconds-w.Seconds) > tolerance {
		out = append(out, fmt.Sprintf("%s\n  expected: %.3f s unknown\n  found:    %.3f s %v", w.Rule, w.Seconds, got.UnknownSeconds, got.Unknown))
	}
	return out
}

func listOr(events []Event) string {
	if len(events) == 0 {
		return "no event"
	}
	lines := make([]string, len(events))
	for i, e := range events {
		lines[i] = e.String()
	}
	return strings.Join(lines, "\n            ")
}

// matches compares an expected event with a found one.
func (e Event) matches(found Event) bool {
	near := func(a, b detect.Time) bool {
		return math.Abs(a.Nominal-b.Nominal) <= tolerance && math.Abs(a.Earliest-b.Earliest) <= tolerance && math.Abs(a.Latest-b.Latest) <= tolerance
	}
	return e.Certainty == found.Certainty && (e.Severity == "" || e.Severity == found.Severity) &&
		e.Moment == found.Moment && near(e.Start, found.Start) && near(e.End, found.End)
}

// String writes an event as a case has it.
func (e Event) String() string {
	time := func(t detect.Time) string { return fmt.Sprintf("%.3f in %.3f..%.3f", t.Nominal, t.Earliest, t.Latest) }
	severity := ""
	if e.Severity != "" {
		severity = string(e.Severity) + " "
	}
	if e.Moment {
		return fmt.Sprintf("%s %sat %s", e.Certainty, severity, time(e.Start))
	}
	return fmt.Sprintf("%s %sstart %s end %s", e.Certainty, severity, time(e.Start), time(e.End))
}
