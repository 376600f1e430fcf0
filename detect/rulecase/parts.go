package rulecase

import (
	"slices"

	"downlock/detect"
	"downlock/schemas"
)

// around (s) is the time shown before and after an event that differs.
const around = 5.0

// Parts is a rule of a case that failed, taken apart around the first event in which the
// case and the rule differ.
type Parts struct {
	Rule   *detect.Rule
	Trials []detect.Trial
}

// Parts takes the rules apart whose events differ from the expected ones, each around
// the first event that does.
func (c *Case) Parts(profile *schemas.Profile, rules *detect.RuleSet) ([]Parts, error) {
	detector, rules, err := c.prepare(profile, rules)
	if err != nil {
		return nil, err
	}
	recording := c.recording()
	results := detector.Detect(recording)
	var all []Parts
	for _, id := range c.rulesNamed() {
		rule := rules.Rule(id)
		expected, found := c.events(id, results)
		e := firstOther(expected, found)
		if rule == nil || e == nil || !c.looksAtEvents(id) {
			continue
		}
		between := detect.Span{Start: e.Start.Earliest - around, End: e.End.Latest + around}
		all = append(all, Parts{rule, detector.Try(recording, rule, between)})
	}
	return all, nil
}

// firstOther returns the first event that is expected and not found or, if there is none,
// found and not expected; nil where all are both.
func firstOther(expected, found []Event) *Event {
	for _, e := range expected {
		if !slices.ContainsFunc(found, e.matches) {
			return &e
		}
	}
	for _, f := range found {
		if !slices.ContainsFunc(expected, func(e Event) bool { return e.matches(f) }) {
			return &f
		}
	}
	return nil
}
