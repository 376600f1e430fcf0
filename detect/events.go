package detect

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"

	"downlock/detect/readings"
)

// spanEvents finds the events of a rule of spans, and the part of the flight in
// which missing samples leave it unknown.
func spanEvents(env *Tracks, rule *Rule) ([]Event, readings.Spans) {
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
		if shown := decidable(c.Possible.Within(p), unknown); len(found) == 0 && rule.AlsoPossible && len(shown) > 0 {
			events = append(events, spanEvent(env, rule, p, shown.Hull()[0], nil))
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

// decidable keeps the possible spans that do not rest on missing samples: those
// that no unknown time is part of.
func decidable(possible, unknown readings.Spans) readings.Spans {
	var out readings.Spans
	for _, p := range possible {
		if len(unknown.Within(p)) == 0 {
			out = append(out, p)
		}
	}
	return out
}

// continued keeps c going while the looser condition holds without a break.
func continued(c, looser readings.Condition) readings.Condition {
	grow := func(s, while readings.Spans) readings.Spans {
		longer := slices.Clone([]Span(s))
		for _, w := range readings.Union(s, while) {
			if inside := s.Within(w); len(inside) > 0 {
				longer = append(longer, stretch(inside[0].Start, w.End))
			}
		}
		return readings.UnionOf(longer)
	}
	c.Certain = grow(c.Certain, looser.Certain)
	c.True = grow(c.True, looser.True)
	c.Possible = grow(c.Possible, looser.Possible)
	return c
}

// spanEvent makes the event of a nominal span inside a possible one; sure is
// the certain part of the nominal span.
func spanEvent(env *Tracks, rule *Rule, possible, nominal Span, sure readings.Spans) Event {
	earliest := floor(possible.Start)
	e := Event{
		Rule:      rule,
		Certainty: Possible,
		Start:     Time{nominal.Start, earliest, possible.End},
		End:       Time{nominal.End, earliest, possible.End},
	}
	if len(sure) > 0 {
		// In the history in which no more than these are true, the event is one of them.
		e.Certainty = Certain
		e.Start.Latest = sure[len(sure)-1].Start
		e.End.Earliest = floor(sure[0].End)
	}
	e.complete(env)
	return e
}

// floor rounds an earliest time down to 10 µs, which takes off the length of a sample
// in the readings.
func floor(t float64) float64 { return math.Floor(t*1e5) / 1e5 }

// around is a window that holds the moment and a little on both sides, so that
// samples missing beside it show.
func around(env *Tracks, m readings.Moment) readings.Spans {
	const margin = 5.0 // s
	return readings.Intersect(readings.Spans{stretch(m.Earliest-margin, m.Latest+margin)}, env.windows())
}

// complete fills in the fields that follow from rule and times.
func (e *Event) complete(env *Tracks) {
	f := env.flight
	e.ID = EventID(f.ID, e.Rule.ID, e.Start.Nominal)
	e.Phase = string(f.phaseAt(e.Start.Nominal))
	for _, m := range e.Rule.Measures {
		e.Measures = append(e.Measures, e.measure(env, m))
	}
	e.Severity = e.Rule.Severity.of(e.Measures)
	if x := e.Rule.Severity.loweredWhile; x != nil && x.Condition(env).True.Contains(e.Start.Nominal) {
		e.Severity = e.Severity.lower()
	}
}

// EventID returns the id of an event, which is stable: it follows from the id of its flight,
// its rule and its start in seconds, to the millisecond.
func EventID(flight, rule string, start float64) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "event %s %s %.3f", flight, rule, start))
	return "E" + hex.EncodeToString(sum[:6])
}

// measure takes a value over the event, in the nominal reading.
func (e *Event) measure(env *Tracks, rule MeasureRule) Measure {
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
