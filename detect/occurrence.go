package detect

import (
	"fmt"
	"slices"

	"downlock/schemas"
)

// checkCauses finds rules that follow from none that exist, or from themselves.
func (p *packReader) checkCauses(rules []ruleText) {
	for i, t := range rules {
		for k, cause := range t.FollowsFrom {
			path := fmt.Sprintf("/rules/%d/follows_from/%d", i, k)
			switch {
			case p.set.Rule(cause) == nil:
				p.problem(path, fmt.Sprintf("there is no rule %q to follow from", cause), schemas.Suggest(cause, p.set.IDs()))
			case p.set.follows(cause, t.ID, nil):
				p.problem(path, fmt.Sprintf("%q follows from %q, which follows from it in turn", t.ID, cause), "let only the later of the two follow from the earlier")
			}
		}
	}
}

// follows reports whether a rule follows from another, directly or through others.
func (s *RuleSet) follows(id, from string, seen []string) bool {
	if id == from {
		return true
	}
	r := s.Rule(id)
	if r == nil || slices.Contains(seen, id) {
		return false
	}
	return slices.ContainsFunc(r.FollowsFrom, func(cause string) bool { return s.follows(cause, from, append(seen, id)) })
}

// Occurrence holds the events of one cause in a flight, the most severe first.
type Occurrence struct {
	ID     string // that of the event it begins with
	Events []int  // places in Result.Events
}

// nearEvents (s) is how far apart two events of one cause may be.
const nearEvents = 60.0

// occurrences puts events together that overlap, are in one phase of flight, and share
// a cause: one follows from the other, or both from a third. It sets on each event the id
// of its occurrence.
func (s *RuleSet) occurrences(events []Event) (out []Occurrence) {
	of := make([]int, len(events)) // the occurrence of each event
	for i := range events {
		of[i] = i
	}
	find := func(i int) int {
		for of[i] != i {
			i = of[i]
		}
		return i
	}
	for i := range events {
		for k := range i {
			if s.together(&events[k], &events[i]) {
				a, b := find(k), find(i)
				of[max(a, b)] = min(a, b)
			}
		}
	}
	place := map[int]int{}
	for i := range events {
		root := find(i)
		k, known := place[root]
		if !known {
			k = len(out)
			place[root] = k
			out = append(out, Occurrence{ID: events[root].ID})
		}
		out[k].Events = append(out[k].Events, i)
		events[i].Occurrence = out[k].ID
	}
	rank := func(i int) int { return slices.Index([]Severity{High, Medium, Low}, events[i].Severity) }
	for _, o := range out {
		slices.SortStableFunc(o.Events, func(a, b int) int { return rank(a) - rank(b) })
	}
	return out
}

func (s *RuleSet) together(a, b *Event) bool {
	apart := a.Phase != b.Phase || a.Start.Earliest > b.End.Latest+nearEvents || b.Start.Earliest > a.End.Latest+nearEvents
	if apart || a.Rule.ID == b.Rule.ID {
		return false
	}
	return s.follows(a.Rule.ID, b.Rule.ID, nil) || s.follows(b.Rule.ID, a.Rule.ID, nil) ||
		slices.ContainsFunc(a.Rule.FollowsFrom, func(cause string) bool { return slices.Contains(b.Rule.FollowsFrom, cause) })
}
