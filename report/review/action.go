package review

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"downlock/schemas"
)

// ActionKind is a thing a monitoring programme notes of an event beside the verdict.
type ActionKind string

const (
	AssignedTo  ActionKind = "assigned-to"  // the role or the initials of whoever looks after it
	Due         ActionKind = "due"          // the date until when
	Maintenance ActionKind = "maintenance"  // whether it was referred to maintenance
	CrewContact ActionKind = "crew-contact" // whether the gatekeeper has talked to the crew
)

// ActionKinds lists the kinds in the order in which lists show them.
var ActionKinds = []ActionKind{AssignedTo, Due, Maintenance, CrewContact}

// Gatekeeper is the role that alone notes contact with a crew: the person at the
// operator who may know whose flight it was. EASA AMC1 ORO.AOC.130 has one hold that
// confidence (from memory). Nothing here proves that a user has the role.
const Gatekeeper = "gatekeeper"

// NoValue takes an assignment or a date back.
const NoValue = "none"

// Action is one kind of action on one event, noted once. Of each kind the last one
// counts, so two people who note different kinds at once lose nothing.
//
//	ARCHIVE/reviews/EVENT/TIME-RANDOM.action    after schemas/action.schema.json
type Action struct {
	Schema string     `json:"schema"`
	Event  string     `json:"event_id"`
	Kind   ActionKind `json:"action"`
	Value  string     `json:"value"`
	By     string     `json:"by"` // a name, or its token; Gatekeeper for contact with a crew
	At     time.Time  `json:"at_utc"`
}

const actionSchema = "downlock action 1"

// ActionFile is an action and the name of its file.
type ActionFile struct {
	Action
	Name string
}

// Actions returns the actions on one event in order of time. Damaged files are left out
// and listed. The error is one of reading.
func Actions(archive, event string) (actions []ActionFile, damaged schemas.Problems, err error) {
	list, names, damaged, err := readNotes(archive, event, actionForm, parseAction)
	for i, a := range list {
		actions = append(actions, ActionFile{a, names[i]})
	}
	slices.SortStableFunc(actions, func(a, b ActionFile) int { return a.At.Compare(b.At) })
	return actions, damaged, err
}

// Standing returns the action of each kind that counts.
func Standing(actions []ActionFile) map[ActionKind]Action {
	last := map[ActionKind]Action{}
	for _, a := range actions {
		last[a.Kind] = a.Action
	}
	return last
}

// WriteAction fills in Schema, adds the action to the archive and returns the path of its
// file, as Write does with a verdict.
func WriteAction(archive string, a Action, share bool) (path string, err error) {
	text, err := a.encode()
	if err != nil {
		return "", err
	}
	return writeNote(archive, a.Event, a.At.UTC(), text, actionForm, share)
}

// ActionText returns the text of a lost file, as Text does with a verdict.
func ActionText(name string, a Action) (text []byte, err error) {
	if a.At, err = timeIn(name, actionForm); err != nil {
		return nil, err
	}
	text, err = a.encode()
	return sameAs(name, a.Event, text, actionForm, err)
}

func (a Action) encode() ([]byte, error) {
	a.Schema, a.At = actionSchema, a.At.UTC()
	if cause, hint := a.Mistake(); cause != "" {
		return nil, &schemas.Problem{File: "action", Cause: cause, Hint: hint}
	}
	return encode(a.Event, a, actionForm)
}

// Mistake says in words why an action cannot be noted, with a hint; "" where it can. The
// schema says the same, but for days that no month has.
func (a Action) Mistake() (cause, hint string) {
	said := fmt.Sprintf("%s %.60q", a.Kind, a.Value)
	switch a.Kind {
	case AssignedTo:
		if !isRole(a.Value) && !IsInitials(a.Value) {
			return said + " is neither a role nor initials", "write a role in small letters, such as fleet-safety, or two to four capitals; no names are kept here; none takes it back"
		}
	case Due:
		if _, err := time.Parse(time.DateOnly, a.Value); err != nil && a.Value != NoValue {
			return said + " is not a date", "write it as 2031-07-15; none takes it back"
		}
	case Maintenance, CrewContact:
		if a.Value != "yes" && a.Value != "no" {
			return said + " is neither yes nor no", ""
		}
		if a.Kind == CrewContact && a.By != Gatekeeper {
			return "contact with a crew is noted by the gatekeeper alone, as the role and not by name", "the operator's gatekeeper says that it was by `gatekeeper`"
		}
	default:
		return fmt.Sprintf("%.40q is not an action", string(a.Kind)), "use assigned-to, due, maintenance or crew-contact"
	}
	return "", ""
}

// IsInitials reports whether a text is two to four capital letters, which stand for a
// person, as against a role.
func IsInitials(text string) bool {
	return len(text) >= 2 && len(text) <= 4 && strings.Trim(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == ""
}

// isRole reports whether a text is small letters, digits and hyphens, 2 to 32 of them, and
// begins with a letter: a role, the token of initials, or NoValue.
func isRole(text string) bool {
	return len(text) >= 2 && len(text) <= 32 && text[0] >= 'a' && text[0] <= 'z' && !strings.HasSuffix(text, "-") &&
		strings.Trim(text, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

// parseAction reads the text of an action on an event.
func parseAction(text []byte, event string) (a Action, err error) {
	if err := parseNote(text, actionForm, &a); err != nil {
		return Action{}, err
	}
	if a.Event != event {
		return Action{}, fmt.Errorf("it is of the event %.20q", a.Event)
	}
	if cause, _ := a.Mistake(); cause != "" {
		return Action{}, errors.New(cause)
	}
	return a, nil
}
