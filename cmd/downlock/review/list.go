package review

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report/review"
	"downlock/schemas"
)

// below indents the title of an event below the first of its occurrence. Ids stay as
// they are, for scripts.
const below = "  "

// list writes a line for each event that the filter asks for.
func (o *reviewOptions) list(stdout io.Writer, say command.Messages) int {
	latest, code := o.readVerdicts(say)
	if latest == nil {
		return code
	}
	acted, err := review.Events(o.archive)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	lines := &command.Lines{To: stdout}
	lines.Line("event", "month", "severity", "certainty", "rule", "title", "flight", "occurrence", "recording", "date", "aircraft", "actions", "review")
	open, all, causes := 0, 0, 0
	above, openAbove := "", "" // the occurrences of the last line and of the last event that is open
	err = o.filter.each(o.archive, func(month string, e *schemas.EventRow, flight *schemas.FlightRow) error {
		all++
		occurrence, title := occurrenceOf(e), e.Title
		v, seen := latest[e.EventID]
		if !seen || v.Open(*e) {
			open++
			if occurrence != openAbove {
				causes, openAbove = causes+1, occurrence
			}
		}
		if !o.filter.stands(v, seen, e) {
			return nil
		}
		if occurrence == above {
			title = below + title
		}
		above = occurrence
		actions := ""
		if _, any := slices.BinarySearch(acted, e.EventID); any {
			list, damaged, err := review.Actions(o.archive, e.EventID)
			if err != nil {
				return err
			}
			code = max(code, reportDamaged(damaged, say))
			actions = actionWords(list)
		}
		lines.Line(e.EventID, month, e.Severity, e.Certainty, e.Rule, title, e.FlightID, occurrence,
			recordingOf(flight), dayOf(flight.StartUTC), aircraftOf(flight), actions, standing(v, seen, e))
		return lines.Err
	})
	if err == nil {
		err = lines.Err
	}
	if err == nil {
		err = o.noteMoved(say)
	}
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("%d of %s open, of %s", open, command.Count(all, "event"), command.Count(causes, "occurrence")))
	return code
}

// standing returns the state of the review of an event, in words.
func standing(v review.Verdict, seen bool, e *schemas.EventRow) string {
	switch {
	case !seen:
		return "open"
	case v.Outdated(*e):
		return string(v.Finding) + ", outdated"
	}
	return string(v.Finding)
}

// actionWords lists the actions that count and were not taken back, as in "assigned-to
// fleet-safety, due 2031-07-15".
func actionWords(list []review.ActionFile) string {
	var words []string
	last := review.Standing(list)
	for _, kind := range review.ActionKinds {
		if a, ok := last[kind]; ok && a.Value != review.NoValue {
			words = append(words, string(kind)+" "+a.Value)
		}
	}
	return strings.Join(words, ", ")
}

func recordingOf(f *schemas.FlightRow) string {
	if f.FlightID == "" {
		return ""
	}
	return fmt.Sprintf("%s, flight %d", f.RecordingName, f.Number)
}

func aircraftOf(f *schemas.FlightRow) string {
	return strings.Trim(f.Aircraft+", "+f.Registration, ", ")
}

// dayOf is the date of a flight, "" where it is not recorded or is withheld.
func dayOf(start time.Time) string {
	if start.IsZero() {
		return ""
	}
	return start.UTC().Format(time.DateOnly)
}
