package detect

import (
	"math"

	"downlock/detect/readings"
)

// candidate is a moment at which the rule's condition may hold.
type candidate struct {
	readings.Moment
	condition readings.Condition
	nominal   bool // the condition holds at it in the nominal reading
	shown     bool // it does not rest on missing samples
}

// sure says whether moment and condition are certain.
func (c candidate) sure() bool {
	return c.nominal && c.Certain && c.condition.Certain.Covers(stretch(c.Earliest, c.Latest))
}

// momentEvents finds the events of a rule of moments, and the part of the flight in
// which missing samples leave it unknown.
func momentEvents(env *Tracks, rule *Rule) ([]Event, readings.Spans) {
	candidates, unknown := candidatesOf(env, rule)
	var events []Event
	for _, near := range groups(candidates, rule.MergeGap, candidate.bounds) {
		var nominal, shown []candidate
		for _, c := range near {
			if c.nominal {
				nominal = append(nominal, c)
			} else if c.shown {
				shown = append(shown, c)
			}
		}
		for _, found := range groups(nominal, rule.MergeGap, candidate.at) {
			events = append(events, momentEvent(env, rule, near, found))
		}
		if len(nominal) == 0 && len(shown) > 0 && rule.AlsoPossible {
			events = append(events, momentEvent(env, rule, near, shown))
		}
	}
	return events, unknown
}

// candidatesOf finds the moments at which the rule may be met.
func candidatesOf(env *Tracks, rule *Rule) ([]candidate, readings.Spans) {
	moments, missing := rule.at.Moments(env)
	var undecided []Span
	var out []candidate
	for _, m := range moments {
		window := around(env, m)
		c := rule.when.ConditionWithin(env, window)
		reach := stretch(m.Earliest, math.Nextafter(m.Latest, math.Inf(1)))
		inNominal := m.InNominal() && c.True.Contains(m.Nominal)
		shown := decidable(c.Possible, c.Missing(window)).Within(reach)
		switch {
		case !m.InNominal():
			shown = decidable(shown, missing)
		case !inNominal && !c.False.Contains(m.Nominal):
			undecided = append(undecided, stretch(m.Nominal, math.Nextafter(m.Nominal, math.Inf(1))))
			shown = nil
		}
		if inNominal || len(c.Possible.Within(reach)) > 0 {
			out = append(out, candidate{m, c, inNominal, len(shown) > 0})
		}
	}
	return out, readings.Union(missing, readings.UnionOf(undecided))
}

// bounds is the time in which the moment lies in any history, and at its nominal
// time.
func (c candidate) bounds() Span { return Span{Start: c.Earliest, End: c.Latest} }
func (c candidate) at() Span     { return Span{Start: c.Nominal, End: c.Nominal} }

// farthest has the ends the wrong way round: the gap from one to the next is then the
// longest in any history.
func (c candidate) farthest() Span { return Span{Start: c.Latest, End: c.Earliest} }

// groups puts together those whose times are no further apart than the gap. A gap
// of zero leaves each alone.
func groups(all []candidate, gap float64, timeOf func(candidate) Span) (out [][]candidate) {
	end := math.Inf(-1)
	for _, c := range all {
		t := timeOf(c)
		if n := len(out); n > 0 && gap > 0 && t.Start-end <= gap {
			out[n-1] = append(out[n-1], c)
			end = max(end, t.End)
		} else {
			out = append(out, []candidate{c})
			end = t.End
		}
	}
	return out
}

// momentEvent makes one event of moments close together. In another history those
// near it may be part of it too: its bounds reach as far as they do.
func momentEvent(env *Tracks, rule *Rule, near, found []candidate) Event {
	first, last := middle(found[0].Moment), middle(found[len(found)-1].Moment)
	earliest, latest := math.Inf(1), math.Inf(-1)
	for _, c := range near {
		earliest, latest = min(earliest, floor(c.Earliest)), max(latest, c.Latest)
	}
	alone := len(found) == 1 && floor(found[0].Earliest) == earliest && found[0].Latest == latest
	e := Event{Rule: rule, Certainty: Possible, Moment: alone,
		Start: Time{first, earliest, latest}, End: Time{last, earliest, latest}}
	var sure []candidate
	for _, c := range found {
		if c.sure() {
			sure = append(sure, c)
		}
		reach := stretch(c.Earliest, c.Latest)
		e.Sure = readings.Union(e.Sure, c.condition.Certain.Within(reach))
		e.Maybe = readings.Union(e.Maybe, c.condition.Possible.Within(reach))
	}
	// In the history that parts them most, the event is one of several.
	if parts := groups(sure, rule.MergeGap, candidate.farthest); len(parts) > 0 {
		first, last := parts[0], parts[len(parts)-1]
		e.Certainty = Certain
		e.Start.Latest = last[0].Latest
		e.End.Earliest = floor(first[len(first)-1].Earliest)
	}
	e.complete(env)
	return e
}

// middle is the nominal time of a moment, or the middle of its bounds where it has
// none.
func middle(m readings.Moment) float64 {
	if m.InNominal() {
		return m.Nominal
	}
	return (m.Earliest + m.Latest) / 2
}
