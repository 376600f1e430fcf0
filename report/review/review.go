// Package review keeps what analysts found out about events: a verdict each
// time somebody has looked at one. In go verdicts, one small file each, made once
// and never changed, so that two people on a shared disk cannot undo each
// other's; out come the verdicts of an event in order of time, of which the last
// one counts.
//
//	ARCHIVE/reviews/EVENT/TIME-RANDOM.json    after schemas/verdict.schema.json
//
// An event's id is stable, so that a verdict survives scanning again. It rests on
// what the event looked like: where a changed profile or pack gives the event
// other times, another severity, certainty or other measures, the verdict is
// outdated, and said to be.
//
// A file that is damaged is reported and left where it is. Nothing here knows
// the time of day.
package review

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"time"

	"downlock/schemas"
)

// Finding is what a reviewer says of an event.
type Finding string

const (
	Valid    Finding = "valid"     // it happened as reported
	False    Finding = "false"     // it did not; the cause says why it was reported
	FollowUp Finding = "follow-up" // more has to be found out
)

// Findings lists them in the order in which help names them.
var Findings = []Finding{Valid, False, FollowUp}

// Verdict is one look at one event.
type Verdict struct {
	Schema   string    `json:"schema"`
	Event    string    `json:"event_id"`
	Finding  Finding   `json:"verdict"`
	Cause    string    `json:"cause,omitempty"` // of a false event; always there for one
	Comment  string    `json:"comment,omitempty"`
	By       string    `json:"by"` // a name, or the token of one
	At       time.Time `json:"at_utc"`
	Evidence string    `json:"evidence"` // Evidence of the event that was looked at
}

// verdictSchema names the form of a verdict's file.
const verdictSchema = "downlock verdict 1"

// Outdated reports whether the event has changed since it was looked at.
func (v Verdict) Outdated(now schemas.EventRow) bool { return v.Evidence != Evidence(now) }

// Open reports whether somebody has to look at the event: the verdict asks for
// it, or is outdated.
func (v Verdict) Open(now schemas.EventRow) bool { return v.Finding == FollowUp || v.Outdated(now) }

// Evidence is a digest, in hex, of what a verdict on an event rests on: rule,
// severity, certainty, times and measures. Wording has no part in it, and no
// date, so that it is the same where identity is withheld.
func Evidence(e schemas.EventRow) string {
	h := sha256.New()
	fmt.Fprintf(h, "%q %q %q %v", e.Rule, e.Severity, e.Certainty, e.Moment)
	for _, t := range []float64{e.StartS, e.StartEarliestS, e.StartLatestS, e.EndS, e.EndEarliestS, e.EndLatestS} {
		io.WriteString(h, " "+strconv.FormatFloat(t, 'f', 3, 64))
	}
	for _, m := range e.Measures {
		value := "none"
		if m.Value != nil {
			value = strconv.FormatFloat(*m.Value, 'f', 3, 64)
		}
		fmt.Fprintf(h, " %q %q %s", m.Name, m.Unit, value)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// eventID is the form of an event's id; it becomes the name of a folder.
var eventID = regexp.MustCompile(`^E[0-9a-f]{12}$`)

// IsEventID reports whether a text has the form of an event's id.
func IsEventID(text string) bool { return eventID.MatchString(text) }
