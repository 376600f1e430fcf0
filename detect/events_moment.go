package detect

import (
	"math"
	"sort"

	"downlock/detect/readings"
)

// candidate is a moment at which the rule's condition may hold.
type candidate struct {
	readings.Moment
	condition readings.Condition // from its earliest to its latest time
	nominal   bool               // the condition holds at it in the nominal reading
	shown     bool               // it does not rest on missing samples
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
	rest := moments
	var c readings.Condition
	var unknown readings.Spans
	for i, m := range moments {
		if i == len(moments)-len(rest) { // the next few of them
			var windows readings.Spans
			windows, rest = nextAround(env, rest)
			c = rule.when.ConditionWithin(env, windows)
			unknown = c.Missing(windows)
		}
		window := around(env, m)
		reach := stretch(m.Earliest, math.Nextafter(m.Latest, math.Inf(1)))
		inNominal := m.InNominal() && c.True.Contains(m.Nominal)
		possible := c.Possible.Within(reach)
		shown := decidable(reaching(c.Possible, reach, window), unknown).Within(reach)
		switch {
		case !m.InNominal():
			shown = decidable(shown, missing)
		case !inNominal && !c.False.Contains(m.Nominal):
			undecided = append(undecided, stretch(m.Nominal, math.Nextafter(m.Nominal, math.Inf(1))))
			shown = nil
		}
		if inNominal || len(possible) > 0 {
			out = append(out, candidate{m, readings.Condition{Certain: c.Certain.Within(reach), Possible: possible}, inNominal, len(shown) > 0})
		}
	}
	return out, readings.Union(missing, readings.UnionOf(undecided))
}

// nearSeconds (s) bounds the moments whose surroundings are looked at together: one by one
// they would take the square of the samples in ten seconds, all at once the room of the whole.
const nearSeconds = 600.0

// nextAround takes the next few of the moments, and returns their surroundings and the rest.
func nextAround(env *Tracks, moments []readings.Moment) (windows readings.Spans, rest []readings.Moment) {
	var near []Span
	for len(moments) > 0 && (near == nil || moments[0].Latest-near[0].Start <= nearSeconds) {
		near = append(near, around(env, moments[0])...)
		moments = moments[1:]
	}
	return readings.UnionOf(near), moments
}

// reaching are the spans that share time with reach, as far as they lie in the window.
func reaching(s readings.Spans, reach Span, window readings.Spans) (out readings.Spans) {
	from := sort.Search(len(s), func(i int) bool { return s[i].End > reach.Start })
	for _, x := range s[from:] {
		if x.Start >= reach.End {
			break
		}
		out = append(out, readings.Intersect(readings.Spans{x}, window)...)
	}
	return out
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
	var surely, perhaps []Span
	for _, c := range found {
		if c.sure() {
			sure = append(sure, c)
		}
		reach := stretch(c.Earliest, c.Latest)
		surely = append(surely, c.condition.Certain.Within(reach)...)
		perhaps = append(perhaps, c.condition.Possible.Within(reach)...)
	}
	e.Sure, e.Maybe = readings.UnionOf(surely), readings.UnionOf(perhaps)
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
