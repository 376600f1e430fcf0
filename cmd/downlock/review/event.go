package review

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/identity"
	"downlock/report/review"
	"downlock/schemas"
)

// foundEvent is an event of the archive, with its flight.
type foundEvent struct {
	month  string
	event  schemas.EventRow
	flight schemas.FlightRow
}

// errFound ends a search.
var errFound = errors.New("found")

// find looks for an event. It returns nil and an exit code when there is none.
func (o *reviewOptions) find(id string, say command.Messages) (*foundEvent, int) {
	var found *foundEvent
	wanted := func(other string) bool { return other == id }
	err := archive.EventsWith(o.archive, wanted, func(month string, e *schemas.EventRow) error {
		found = &foundEvent{month: month, event: *e}
		return errFound
	})
	if found == nil {
		if err != nil {
			say.Failure(err)
			return nil, command.ExitOutput
		}
		say.Error(command.Quote(id) + ": no such event in " + o.archive)
		say.Hint("`downlock review --archive " + o.archive + " --all` lists the events; one that was scanned again with another profile may be gone")
		return nil, command.ExitUsage
	}
	err = archive.Flights(o.archive, found.month, func(_ string, f *schemas.FlightRow) error {
		if f.FlightID == found.event.FlightID {
			found.flight = *f
			return errFound
		}
		return nil
	})
	if err != nil && !errors.Is(err, errFound) {
		say.Failure(err)
		return nil, command.ExitOutput
	}
	return found, command.ExitDone
}

// show writes one event and its history, a line for each thing.
func (o *reviewOptions) show(id string, stdout io.Writer, say command.Messages) int {
	found, code := o.find(id, say)
	if found == nil {
		return code
	}
	history, damaged, err := review.History(o.archive, id)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	code = reportDamaged(damaged, say)
	lines := &command.Lines{To: stdout}
	for _, l := range found.lines() {
		lines.Line(l.name, l.value)
	}
	beside, err := o.beside(found)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	for _, e := range beside {
		lines.Line("same occurrence", e.EventID+", "+e.Severity+": "+e.Title)
	}
	if len(history) == 0 {
		lines.Line("review", "open: nobody has looked at it yet")
	}
	for _, v := range history {
		text := fmt.Sprintf("%s by %s: %s", v.At.Format("2006-01-02 15:04:05 UTC"), v.By, v.Finding)
		for _, more := range []string{v.Cause, v.Comment} {
			if more != "" {
				text += "; " + more
			}
		}
		if v.Outdated(found.event) {
			text += " (outdated: the event has changed since)"
		}
		lines.Line("review", text)
	}
	if lines.Err != nil {
		say.Failure(lines.Err)
		return command.ExitOutput
	}
	return code
}

// eventLine is one thing about an event.
type eventLine struct{ name, value string }

// lines puts the event into words for people.
func (f *foundEvent) lines() []eventLine {
	e := &f.event
	out := []eventLine{
		{"event", e.EventID}, {"rule", e.Rule}, {"title", e.Title}, {"severity", e.Severity}, {"certainty", e.Certainty},
		{"phase", e.Phase}, {"month", f.month},
		{"recording", fmt.Sprintf("%s, flight %d (%s)", f.flight.RecordingName, f.flight.Number, e.FlightID)},
		{"aircraft", strings.TrimSuffix(f.flight.Aircraft+", "+f.flight.Registration, ", ")},
		{"start", timeText(e.StartS, e.StartEarliestS, e.StartLatestS, e.StartUTC)},
	}
	if !e.Moment {
		out = append(out, eventLine{"end", timeText(e.EndS, e.EndEarliestS, e.EndLatestS, e.EndUTC)})
	}
	for _, m := range e.Measures {
		value := "not recorded"
		if m.Value != nil {
			value = strings.TrimSuffix(seconds(*m.Value)+" "+m.Unit, " 1")
		}
		out = append(out, eventLine{strings.ReplaceAll(m.Name, "_", " "), value})
	}
	return out
}

func timeText(nominal, earliest, latest float64, utc time.Time) string {
	text := seconds(nominal) + " s"
	if earliest != latest {
		text += " (between " + seconds(earliest) + " and " + seconds(latest) + ")"
	}
	if !utc.IsZero() {
		text += ", " + utc.UTC().Format("2006-01-02 15:04:05 UTC")
	}
	return text
}

func seconds(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// set adds a verdict on an event.
func (o *reviewOptions) set(id string, stdout io.Writer, say command.Messages) int {
	key, ok := command.ReadKey(o.deidentify, say)
	if !ok {
		return command.ExitInvalid
	}
	found, code := o.find(id, say)
	if found == nil {
		return code
	}
	if err := archive.CheckKey(o.archive, key); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	events := []schemas.EventRow{found.event}
	if o.occurrence {
		beside, err := o.beside(found)
		if err != nil {
			say.Failure(err)
			return command.ExitOutput
		}
		events = append(events, beside...)
	}
	for i := range events {
		if code := o.setOne(&events[i], key, stdout, say); code != command.ExitDone {
			return code
		}
	}
	o.keepTable(say)
	return command.ExitDone
}

// setOne adds the verdict on one event and writes the path of its file to stdout.
func (o *reviewOptions) setOne(e *schemas.EventRow, key *identity.Key, stdout io.Writer, say command.Messages) int {
	at, code := o.timeOfVerdict(e.EventID, time.Now(), say)
	if code != command.ExitDone {
		return code
	}
	v := review.Verdict{Event: e.EventID, Finding: review.Finding(o.verdict), Cause: o.cause, Comment: o.comment,
		By: key.Token(identity.Person, strings.TrimSpace(o.by)), At: at, Evidence: review.Evidence(*e)}
	path, err := review.Write(o.archive, v, o.share)
	if err != nil {
		say.Failure(err)
		if command.IsOutput(err) {
			return command.ExitOutput
		}
		return command.ExitUsage
	}
	fmt.Fprintln(stdout, command.Printable(path))
	return command.ExitDone
}

// timeOfVerdict returns the time of a verdict that is set now. The last verdict counts,
// so the time is after all others, even where a clock was set back.
func (o *reviewOptions) timeOfVerdict(id string, now time.Time, say command.Messages) (time.Time, int) {
	history, _, err := review.History(o.archive, id) // the list names damaged verdicts
	if err != nil {
		say.Failure(err)
		return now, command.ExitOutput
	}
	if len(history) == 0 || now.After(history[len(history)-1].At) {
		return now, command.ExitDone
	}
	last := history[len(history)-1].At
	say.Warning(fmt.Sprintf("the last verdict is of %s, which this clock has not reached: this one is noted a millisecond after it", last.Format("2006-01-02 15:04:05 UTC")))
	return last.Add(time.Millisecond), command.ExitDone
}
