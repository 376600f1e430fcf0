package review

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/report"
	"downlock/report/archive"
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
		say.Hint("`downlock review --archive " + o.archive + " --all` lists the events; a scan with another profile may have removed it")
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
	rules, err := detect.LoadRules(o.rules...)
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	for _, l := range o.about(found, rules.Rule(found.event.Rule)) {
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
	actions, damaged, err := review.Actions(o.archive, id)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	code = max(code, reportDamaged(damaged, say))
	for _, a := range actions {
		lines.Line("action", fmt.Sprintf("%s by %s: %s %s", a.At.Format("2006-01-02 15:04:05 UTC"), a.By, a.Kind, a.Value))
	}
	if len(history) == 0 {
		lines.Line("review", "open: no verdict yet")
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
		{"aircraft", aircraftOf(&f.flight)},
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

// about says where the report of the event is, and the rule's meaning, limit and caution;
// rule is nil for one that is not in force here.
func (o *reviewOptions) about(f *foundEvent, rule *detect.Rule) (out []eventLine) {
	if o.reports != "" {
		where := "no report of this flight in " + o.reports
		if page, number := o.reportOf(f); page != "" {
			where = page + "#event-" + strconv.Itoa(number)
		}
		out = append(out, eventLine{"report", where})
	}
	if rule == nil {
		return append(out, eventLine{"meaning", "the rule is not known here: give its pack with --rules"})
	}
	limit := rule.When
	if rule.At != "" {
		limit = rule.At
		if rule.When != "" {
			limit += ", while " + rule.When
		}
	}
	out = append(out, eventLine{"meaning", rule.Meaning})
	if limit = strings.Join(strings.Fields(limit), " "); limit != "" {
		out = append(out, eventLine{"limit", limit})
	}
	out = append(out, eventLine{"severity by", rule.Severity.String()}, eventLine{"basis", rule.Basis})
	if rule.Caution != "" {
		out = append(out, eventLine{"caution", rule.Caution})
	}
	return out
}

// reportOf finds the page of an event's flight below the folder of reports, and the number of
// the event in it.
func (o *reviewOptions) reportOf(f *foundEvent) (page string, number int) {
	for _, folder := range report.FlightFolders(f.flight.RecordingName, f.flight.Recording, int(f.flight.Number)) {
		var about struct {
			Flight struct {
				ID string `json:"id"`
			} `json:"flight"`
			Events []struct {
				ID string `json:"id"`
			} `json:"events"`
		}
		text, err := os.ReadFile(filepath.Join(o.reports, folder, report.FlightData))
		if err != nil || json.Unmarshal(text, &about) != nil || about.Flight.ID != f.event.FlightID {
			continue // of another recording of that name
		}
		for i, e := range about.Events {
			if e.ID == f.event.EventID {
				return filepath.Join(o.reports, folder, report.FlightPage), i + 1
			}
		}
	}
	return "", 0
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
