// Package review keeps the verdicts of analysts on events: one each time somebody has
// looked at an event. A verdict is a small file that is made once and never changed, so
// two people on a shared disk cannot undo each other's work. The package returns the
// verdicts on an event in order of time. The last one counts.
//
//	ARCHIVE/reviews/EVENT/TIME-RANDOM.json    after schemas/verdict.schema.json
//
// Actions beside the verdict (who looks after the event, until when, referral to
// maintenance, contact with the crew) are files of the same kind: see Action.
//
// The id of an event is stable, so a verdict survives another scan. A verdict rests on
// the times, severity, certainty and measures of the event. When a changed profile or
// pack changes one of them, the verdict is outdated, and lists and reports say so.
//
// A damaged file is reported and left where it is. Nothing here reads the clock.
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

// Finding is a reviewer's answer about an event.
type Finding string

const (
	Valid    Finding = "valid"     // it happened as reported
	False    Finding = "false"     // it did not; the cause says why it was reported
	FollowUp Finding = "follow-up" // more has to be found out
)

// Findings lists the findings in the order in which help names them.
var Findings = []Finding{Valid, False, FollowUp}

// Verdict is one look at one event.
type Verdict struct {
	Schema   string    `json:"schema"`
	Event    string    `json:"event_id"`
	Finding  Finding   `json:"verdict"`
	Cause    string    `json:"cause,omitempty"` // of a false event, which always has one
	Comment  string    `json:"comment,omitempty"`
	By       string    `json:"by"` // a name, or its token
	At       time.Time `json:"at_utc"`
	Evidence string    `json:"evidence"` // Evidence of the event that was looked at
}

// verdictSchema names the form of a verdict's file.
const verdictSchema = "downlock verdict 1"

// Outdated reports whether the event has changed since it was looked at.
func (v Verdict) Outdated(now schemas.EventRow) bool { return v.Evidence != Evidence(now) }

// Open reports whether somebody has to look at the event: the verdict asks for more, or
// is outdated.
func (v Verdict) Open(now schemas.EventRow) bool { return v.Finding == FollowUp || v.Outdated(now) }

// Evidence returns a digest, in hex, of the things a verdict on an event rests on: rule,
// severity, certainty, times and measures. It leaves out wording and dates, so it is the
// same where identity is withheld.
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
