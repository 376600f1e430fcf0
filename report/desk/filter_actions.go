package desk

import (
	"maps"
	"slices"
	"strings"

	"downlock/report/review"
)

// What a worklist can ask of the actions on an occurrence, besides to whom it is assigned: with
// the open ones it says what is still to be done, by whom and until when.
var actionFilters = []string{notAssigned, hasDue, overdue, toMaintenance, crewTalkedTo}

const (
	assignedTo    = "assigned to " // and the role or the initials
	notAssigned   = "not assigned"
	hasDue        = "with a due date"
	overdue       = "overdue"
	toMaintenance = "referred to maintenance"
	crewTalkedTo  = "with crew contact"
)

// actionFilter returns a text that actions can be asked by, "" for any other.
func actionFilter(text string) string {
	if strings.HasPrefix(text, assignedTo) {
		return text
	}
	return oneOf(text, actionFilters)
}

// actionsAre reports whether the actions on an occurrence are as asked: whether those on one of its
// events are; not assigned is one none of whose events is. today is a date as due dates are
// written. The book is locked.
func (b *book) actionsAre(events []event, asked, today string) bool {
	is := func(kind review.ActionKind, wanted func(value string) bool) bool {
		return slices.ContainsFunc(events, func(e event) bool {
			a, ok := b.acts[e.id][kind]
			return ok && a.value != review.NoValue && wanted(a.value)
		})
	}
	any, yes := func(string) bool { return true }, func(value string) bool { return value == "yes" }
	switch asked {
	case "":
		return true
	case notAssigned:
		return !is(review.AssignedTo, any)
	case hasDue:
		return is(review.Due, any)
	case overdue:
		return is(review.Due, func(date string) bool { return date < today })
	case toMaintenance:
		return is(review.Maintenance, yes)
	case crewTalkedTo:
		return is(review.CrewContact, yes)
	}
	return is(review.AssignedTo, func(whom string) bool { return assignedTo+whom == asked })
}

// actionChoices lists what the actions in the book can be asked by, and what is asked now.
func (b *book) actionChoices(asked string) []string {
	b.mu.RLock()
	defer b.mu.RUnlock()
	whom := map[string]bool{}
	for _, a := range b.acts {
		if value := a[review.AssignedTo].value; value != "" && value != review.NoValue {
			whom[assignedTo+value] = true
		}
	}
	if strings.HasPrefix(asked, assignedTo) {
		whom[asked] = true
	}
	list := slices.Sorted(maps.Keys(whom))
	return append(slices.Clone(actionFilters), list[:min(len(list), mostChoices)]...)
}
