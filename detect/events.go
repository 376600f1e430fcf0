package detect

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"

	"downlock/detect/readings"
)

// spanEvents finds the events of a rule of spans, and the part of the flight in
// which missing samples leave it unknown.
func spanEvents(env *environment, rule *Rule) ([]Event, readings.Spans) {
	c := rule.when.Condition(env)
	unknown := c.Missing(env.windows())
	if rule.continuesWhile != nil {
		c = continued(c, rule.continuesWhile.Condition(env))
	}
	settle := func(s readings.Spans) readings.Spans { return s.Join(rule.MergeGap).AtLeast(rule.AtLeast) }
	nominal, sure, maybe := settle(c.True), settle(c.Certain), settle(c.Possible)
	var events []Event
	for _, p := range maybe {
		found := nominal.Within(p)
		for _, n := range found {
			events = append(events, spanEvent(env, rule, p, n, sure.Within(n)))
		}
		// What only some histories show must come from the sampling: where samples
		// are missing anything is possible, and the evaluation says so instead.
		if len(found) == 0 && rule.AlsoPossible && len(unknown.Within(p)) == 0 {
			events = append(events, spanEvent(env, rule, p, p, nil))
		}
	}
	for i := range events {
		e := &events[i]
		window := readings.Spans{stretch(e.Start.Earliest, e.End.Latest)}
		e.Sure = readings.Intersect(c.Certain, window)
		e.Maybe = readings.Intersect(c.Possible, window)
	}
	return events, unknown
}

// continued keeps c going while the looser condition holds without a break.
func continued(c, looser readings.Condition) readings.Condition {
	grow := func(s, while readings.Spans) readings.Spans {
		out := s
		for _, w := range readings.Union(s, while) {
			if inside := s.Within(w); len(inside) > 0 {
				out = readings.Union(out, readings.Spans{stretch(inside[0].Start, w.End)})
			}
		}
		return out
	}
	c.Certain = grow(c.Certain, looser.Certain)
	c.True = grow(c.True, looser.True)
	c.Possible = grow(c.Possible, looser.Possible)
	return c
}

// spanEvent makes the event of a nominal span inside a possible one; sure is
// the certain part of the nominal span.
func spanEvent(env *environment, rule *Rule, possible, nominal Span, sure readings.Spans) Event {
	e := Event{
		Rule:      rule,
		Certainty: Possible,
		Start:     Time{nominal.Start, possible.Start, possible.End},
		End:       Time{nominal.End, possible.Start, possible.End},
	}
	if len(sure) > 0 {
		e.Certainty = Certain
		e.Start.Latest = sure[0].Start
		e.End.Earliest = sure[len(sure)-1].End
	}
	e.complete(env)
	return e
}

// momentEvents finds the events of a rule of moments.
func momentEvents(env *environment, rule *Rule) ([]Event, readings.Spans) {
	moments, unknown := rule.at.Moments(env)
	var events []Event
	for _, m := range moments {
		window := around(env, m)
		c := rule.when.ConditionWithin(env, window)
		inNominal := m.InNominal() && c.True.Contains(m.Nominal)
		inPossible := len(c.Possible.Within(stretch(m.Earliest, math.Nextafter(m.Latest, math.Inf(1))))) > 0
		if m.InNominal() && !c.True.Contains(m.Nominal) && !c.False.Contains(m.Nominal) {
			unknown = readings.Union(unknown, readings.Spans{stretch(m.Nominal, math.Nextafter(m.Nominal, math.Inf(1)))})
			inPossible = false
		}
		if !inNominal && !(inPossible && rule.AlsoPossible) {
			continue
		}
		if !m.InNominal() {
			m.Nominal = (m.Earliest + m.Latest) / 2
		}
		t := Time{m.Nominal, m.Earliest, m.Latest}
		e := Event{Rule: rule, Certainty: Possible, Start: t, End: t, Moment: true}
		if inNominal && m.Certain && c.Certain.Covers(stretch(m.Earliest, m.Latest)) {
			e.Certainty = Certain
		}
		e.Sure, e.Maybe = c.Certain.Within(stretch(m.Earliest, m.Latest)), c.Possible.Within(stretch(m.Earliest, m.Latest))
		e.complete(env)
		events = append(events, e)
	}
	return events, unknown
}

// around is a window that holds the moment and a little on both sides.
func around(env *environment, m readings.Moment) readings.Spans {
	const margin = 1.0 // s
	return readings.Intersect(readings.Spans{stretch(m.Earliest-margin, m.Latest+margin)}, env.windows())
}

// complete fills in what follows from rule and times.
func (e *Event) complete(env *environment) {
	f := env.flight
	sum := sha256.Sum256(fmt.Appendf(nil, "event %s %s %.3f", f.ID, e.Rule.ID, e.Start.Nominal))
	e.ID = "E" + hex.EncodeToString(sum[:6])
	e.Phase = string(f.phaseAt(e.Start.Nominal))
	for _, m := range e.Rule.Measures {
		e.Measures = append(e.Measures, e.measure(env, m))
	}
	e.Severity = e.Rule.Severity.of(e.Measures)
}

// measure takes a value over the event, in the nominal reading.
func (e *Event) measure(env *environment, rule MeasureRule) Measure {
	m := Measure{Name: rule.Name, Unit: rule.Unit}
	if rule.Take == "duration" {
		m.Value, m.Known = e.End.Nominal-e.Start.Nominal, true
		return m
	}
	span := stretch(e.Start.Nominal, e.End.Nominal)
	const margin = 1.0 // s, so that a curve has a piece at the very ends
	window := readings.Intersect(readings.Spans{stretch(span.Start-margin, span.End+margin)}, env.windows())
	curve := rule.of.Number(env, window).Nominal
	switch {
	case rule.Take == "end":
		m.Value, m.Known = curve.At(span.End)
	case rule.Take == "start" || e.Moment:
		m.Value, m.Known = curve.At(span.Start)
	default:
		smallest, largest, known := curve.Within(readings.Spans{span}).Extremes()
		m.Value, m.Known = largest, known
		if rule.Take == "smallest" {
			m.Value = smallest
		}
	}
	if math.IsInf(m.Value, 0) || math.IsNaN(m.Value) {
		m.Value, m.Known = 0, false
	}
	return m
}
