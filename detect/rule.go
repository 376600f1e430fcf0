package detect

import (
	"fmt"
	"slices"
	"strings"

	"downlock/detect/language"
)

// Rule is the definition of an event in a pack, checked. A rule with
// At finds moments at which When holds; one without finds the spans on which it
// holds.
type Rule struct {
	ID      string
	Title   string
	Group   string // heading it is listed under
	Meaning string // one sentence
	When    string // expression of a condition
	At      string // expression of moments; "" for a rule of spans
	// ContinuesWhile, where given, keeps an event going after When has ceased, as
	// long as this looser condition holds: hysteresis.
	ContinuesWhile string
	AtLeast        float64 // s; a shorter span is no event
	MergeGap       float64 // s; spans closer together than this are one event
	// AlsoPossible asks for events found in the possible reading alone.
	AlsoPossible bool
	Severity     SeverityRule
	Measures     []MeasureRule
	// Audit, where given in place of When and At, makes an event of each finding of
	// that kind about a warning.
	Audit *AuditRule
	// FollowsFrom lists rules of whose events this rule's are a consequence.
	FollowsFrom []string
	// Opportunity is the thing a flight must contain for the rule to show anything.
	Opportunity OpportunityKind
	Systems     []string // optional systems the type must have
	Optional    []string // names the rule can be evaluated without
	Trace       []string // parameters to draw beside those the rule uses
	Basis       string   // regulation or standard with paragraph, or "common practice"
	Caution     string   // shown with the event where it may call for an inspection
	Requires    []string // names of the rule language it cannot do without
	Pack        string   // the last pack that had a say in it
	Packs       []string // every pack that had one: the first defined it, the others changed it

	when, at, continuesWhile *language.Expression
}

// Origin says in words which packs the rule is from.
func (r *Rule) Origin() string {
	if len(r.Packs) < 2 {
		return r.Pack
	}
	return r.Packs[0] + ", changed by " + joinWords(r.Packs[1:])
}

// SeverityRule sets one severity for all events, or one by a measure: the
// highest level whose threshold the measure has reached. Thresholds that fall
// from low to high mean that a smaller measure is worse.
type SeverityRule struct {
	Always            Severity
	By                string // name of a measure; "" when Always is given
	Low, Medium, High float64
	// HasMedium and HasHigh say whether the level can be reached at all.
	HasMedium, HasHigh bool
	// LoweredWhile is the expression of a condition at whose events the severity is
	// one level lower; "": none.
	LoweredWhile string

	loweredWhile *language.Expression
}

// Levels lists the severities an event of the rule can have, the lowest first.
func (s SeverityRule) Levels() (out []Severity) {
	levels := []Severity{s.Always}
	if s.By != "" {
		levels = []Severity{Low} // below the lowest threshold, too
		if s.HasMedium {
			levels = append(levels, Medium)
		}
		if s.HasHigh {
			levels = append(levels, High)
		}
	}
	for _, level := range []Severity{Low, Medium, High} {
		lowered := s.LoweredWhile != "" && slices.ContainsFunc(levels, func(l Severity) bool { return l.lower() == level })
		if lowered || slices.Contains(levels, level) {
			out = append(out, level)
		}
	}
	return out
}

// String says it in words.
func (s SeverityRule) String() string {
	lowered := ""
	if s.LoweredWhile != "" {
		lowered = "; one level lower while " + s.LoweredWhile
	}
	if s.By == "" {
		return string(s.Always) + lowered
	}
	sign := "≥"
	if s.falls() {
		sign = "≤"
	}
	parts := []string{fmt.Sprintf("low at %s %s %g", s.By, sign, s.Low)}
	if s.HasMedium {
		parts = append(parts, fmt.Sprintf("medium %s %g", sign, s.Medium))
	}
	if s.HasHigh {
		parts = append(parts, fmt.Sprintf("high %s %g", sign, s.High))
	}
	return strings.Join(parts, ", ") + lowered
}

func (s SeverityRule) falls() bool {
	return s.HasMedium && s.Medium < s.Low || s.HasHigh && s.High < s.Low
}

// of returns the severity of an event with these measures. Below the lowest
// threshold, or without the measure, it is the lowest.
func (s SeverityRule) of(measures []Measure) Severity {
	if s.By == "" {
		return s.Always
	}
	for _, m := range measures {
		if m.Name != s.By || !m.Known {
			continue
		}
		reached := func(threshold float64) bool {
			if s.falls() {
				return m.Value <= threshold
			}
			return m.Value >= threshold
		}
		switch {
		case s.HasHigh && reached(s.High):
			return High
		case s.HasMedium && reached(s.Medium):
			return Medium
		}
	}
	return Low
}

// lower is the severity one level below; low stays.
func (s Severity) lower() Severity {
	if s == High {
		return Medium
	}
	return Low
}

// MeasureRule is a value a rule keeps of its events.
type MeasureRule struct {
	Name string
	Of   string // expression of a number; "" for a duration
	Take string // start, end, largest, smallest or duration
	Unit string

	of *language.Expression
}

// AuditRule names a warning and a kind of finding about it.
type AuditRule struct {
	Warning string
	Finding Finding
}
