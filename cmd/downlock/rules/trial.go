package rules

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"downlock/detect"
	"downlock/detect/language"
	"downlock/detect/readings"
)

// trialText writes one trial for people.
type trialText struct {
	to      io.Writer
	trial   detect.Trial
	moments []readings.Moment // of the clause at of the rule
}

func writeTrial(to io.Writer, rule *detect.Rule, t detect.Trial) {
	w := &trialText{to: to, trial: t}
	w.head(rule)
	for _, c := range t.Clauses {
		fmt.Fprintf(to, "\n%s\n", c.Role)
		for _, p := range c.Parts {
			w.part(p, c.Role == "when")
		}
		if c.Role == "at" {
			w.moments = c.Parts[0].Moments
		}
	}
}

// head writes the events, and the names that are missing.
func (w *trialText) head(rule *detect.Rule) {
	t, r := w.trial, w.trial.Flight.Recording
	writeWrapped(w.to, 0, fmt.Sprintf("%s: %s", rule.ID, oneLine(rule.Title)))
	at := "no UTC in this recording"
	if !r.Epoch.IsZero() {
		at = "0 s is " + r.Epoch.UTC().Format("2006-01-02 15:04:05.000") + " UTC"
	}
	writeWrapped(w.to, 0, fmt.Sprintf("%s, flight %d, %.3f to %.3f s; %s", oneLine(r.Name), t.Flight.Number, t.Window.Start, t.Window.End, at))
	fmt.Fprintln(w.to)
	fmt.Fprintln(w.to, t.Evaluation.Coverage)
	for _, m := range t.Evaluation.Missing {
		writeWrapped(w.to, 2, "missing: "+oneLine(m))
	}
	for _, f := range t.Evaluation.Fallbacks {
		writeWrapped(w.to, 2, oneLine(f))
	}
	if unknown := readings.Intersect(t.Evaluation.Unknown, readings.Spans{t.Window}); len(unknown) > 0 {
		w.list(2, "unknown", w.spans(unknown))
	}
	if len(t.Events) == 0 && t.Evaluation.Coverage != detect.NotEvaluable {
		fmt.Fprintln(w.to, "no event")
	}
	for _, e := range t.Events {
		w.event(e)
	}
}

func (w *trialText) event(e detect.Event) {
	times := fmt.Sprintf("%.3f to %.3f s", e.Start.Nominal, e.End.Nominal)
	if e.Moment {
		times = fmt.Sprintf("%.3f s", e.Start.Nominal)
	}
	writeWrapped(w.to, 0, fmt.Sprintf("event, %s, %s: %s%s", e.Certainty, e.Severity, times, w.clock("; ", e.Start.Nominal, e.End.Nominal)))
	bounds := func(t detect.Time) string { return fmt.Sprintf("between %.3f and %.3f s", t.Earliest, t.Latest) }
	if e.Moment {
		writeWrapped(w.to, 2, bounds(e.Start))
	} else {
		writeWrapped(w.to, 2, "start "+bounds(e.Start)+", end "+bounds(e.End))
	}
	var measures []string
	for _, m := range e.Measures {
		if m.Known {
			measures = append(measures, strings.TrimSpace(fmt.Sprintf("%s %s %s", m.Name, number(m.Value), m.Unit)))
		} else {
			measures = append(measures, m.Name+" unknown")
		}
	}
	if len(measures) > 0 {
		writeWrapped(w.to, 2, strings.Join(measures, ", "))
	}
}

// part writes the text of a part and its result below. With atMoments it also writes
// the result at each moment of the rule.
func (w *trialText) part(p detect.PartReading, atMoments bool) {
	indent := 2 + 2*p.Depth
	writeWrapped(w.to, indent, oneLine(p.Text))
	indent += 4
	for _, n := range p.Notes {
		writeWrapped(w.to, indent, oneLine(n))
	}
	switch {
	case p.Kind == language.Condition:
		w.condition(indent, p.Condition)
		if atMoments {
			w.list(indent, "at", w.atEach(func(m readings.Moment) string { return holdsAt(p.Condition, m) }))
		}
	case p.Kind == language.Moments:
		w.list(indent, "moments", w.momentLines(p.Moments))
	case p.Fixed && !p.Known:
		w.list(indent, "value", []string{"unknown"})
	case p.Fixed:
		w.list(indent, "value", []string{withUnit(p.Value, p.Unit)})
	default:
		w.list(indent, "value", []string{w.rangeOf(p)})
		if atMoments {
			w.list(indent, "at", w.atEach(func(m readings.Moment) string {
				v, ok := p.Number.Nominal.At(m.Nominal)
				if !ok {
					return "unknown"
				}
				return withUnit(v, p.Unit)
			}))
		}
	}
	if len(p.Unknown) > 0 {
		w.list(indent, "unknown", w.spans(p.Unknown))
	}
}

func (w *trialText) condition(indent int, c readings.Condition) {
	if slices.Equal(c.Certain, c.True) && slices.Equal(c.True, c.Possible) {
		w.list(indent, "holds", w.spansOr(c.True))
		return
	}
	w.list(indent, "nominal", w.spansOr(c.True))
	w.list(indent, "certain", w.spansOr(c.Certain))
	w.list(indent, "possible", w.spansOr(c.Possible))
}

// holdsAt returns the state of the condition at a moment, in words.
func holdsAt(c readings.Condition, m readings.Moment) string {
	reach := readings.Span{Start: m.Earliest, End: math.Nextafter(m.Latest, math.Inf(1))}
	sure, maybe := c.Certain.Covers(reach), len(c.Possible.Within(reach)) > 0
	switch {
	case sure:
		return "holds, certainly"
	case !m.InNominal() && maybe, c.False.Contains(m.Nominal) && maybe:
		return "holds only possibly"
	case !maybe:
		return "does not hold"
	case c.True.Contains(m.Nominal):
		return "holds, not certainly"
	}
	return "unknown"
}

// atEach returns a line for each moment, or one line where all would say the same.
func (w *trialText) atEach(what func(readings.Moment) string) []string {
	var lines, said []string
	for _, m := range w.moments {
		at := m.Nominal
		if !m.InNominal() {
			at = (m.Earliest + m.Latest) / 2
		}
		said = append(said, what(m))
		lines = append(lines, fmt.Sprintf("%.3f s: %s", at, what(m)))
	}
	if len(slices.Compact(slices.Clone(said))) == 1 && len(said) > 1 {
		return []string{fmt.Sprintf("each of the %d moments: %s", len(said), said[0])}
	}
	return lines
}

// rangeOf returns the least and the greatest value, and the time without one, in
// words.
func (w *trialText) rangeOf(p detect.PartReading) string {
	least, most, ok := p.Number.Nominal.Extremes()
	if !ok {
		return "unknown throughout"
	}
	text := fmt.Sprintf("%s to %s", number(least), withUnit(most, p.Unit))
	low, _, lok := p.Number.Low.Extremes()
	_, high, hok := p.Number.High.Extremes()
	if lok && hok && (low != least || high != most) {
		text += fmt.Sprintf(", in every history within %s to %s", number(low), number(high))
	}
	known := 0.0
	for _, piece := range p.Number.Nominal {
		known += piece.End - piece.Start
	}
	if rest := w.trial.Window.Seconds() - known; rest > 0.0005 {
		text += fmt.Sprintf("; unknown for %.3f s", rest)
	}
	return text
}
