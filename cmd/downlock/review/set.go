package review

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/identity"
	"downlock/report/review"
	"downlock/schemas"
)

// maxIDs bounds a list of ids.
const maxIDs = 64 << 20 // bytes

// set adds a verdict, actions, or both on the events that are named or that a filter asks
// for. Nothing is written before all of them are known to be there.
func (o *reviewOptions) set(named []string, stdin io.Reader, stdout io.Writer, say command.Messages) int {
	key, ok := command.ReadKey(o.deidentify, say)
	if !ok {
		return command.ExitInvalid
	}
	if err := archive.CheckKey(o.archive, key); err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	events, code := o.meant(named, stdin, say)
	if code != command.ExitDone {
		return code
	}
	if len(events) == 0 {
		say.Note("no event matches the filter: nothing was set")
		return command.ExitDone
	}
	occurrences := map[string]bool{}
	for i := range events {
		if err := o.setOne(&events[i], key, stdout, say); err != nil {
			say.Failure(err)
			if i > 0 {
				say.Error(fmt.Sprintf("set on %d of %s, up to %s: set it on the others when that is mended; setting a verdict twice does no harm", i, command.Count(len(events), "event"), events[i-1].EventID))
				o.keepTable(say)
			} else {
				say.Note("nothing was set")
			}
			if command.IsOutput(err) {
				return command.ExitOutput
			}
			return command.ExitUsage
		}
		occurrences[events[i].FlightID+occurrenceOf(&events[i])] = true
	}
	o.keepTable(say)
	say.Note(fmt.Sprintf("set on %s of %s", command.Count(len(events), "event"), command.Count(len(occurrences), "occurrence")))
	return command.ExitDone
}

// meant returns the events that are named, or that the filter asks for, each once.
func (o *reviewOptions) meant(named []string, stdin io.Reader, say command.Messages) (events []schemas.EventRow, code int) {
	add, seen := func(e *schemas.EventRow) { events = append(events, *e) }, map[string]bool{}
	var err error
	if len(named) > 0 || o.ids != "" {
		var ids []string
		if ids, err = o.listed(named, stdin); err != nil {
			say.Failure(err)
			return nil, command.ExitUsage
		}
		for _, id := range ids {
			seen[id] = true
		}
		err = archive.EventsWith(o.archive, func(id string) bool { return seen[id] }, func(_ string, e *schemas.EventRow) error {
			add(e)
			delete(seen, e.EventID)
			return nil
		})
		if err == nil && len(seen) > 0 {
			return nil, o.noSuch(ids, seen, say)
		}
	} else {
		latest, bad := o.readVerdicts(say)
		if latest == nil {
			return nil, bad
		}
		err = o.filter.each(o.archive, func(_ string, e *schemas.EventRow, _ *schemas.FlightRow) error {
			if v, seen := latest[e.EventID]; o.filter.stands(v, seen, e) {
				add(e)
			}
			return nil
		})
	}
	if err == nil && o.occurrence {
		events, err = o.withOccurrences(events)
	}
	if err != nil {
		say.Failure(err)
		return nil, command.ExitOutput
	}
	return events, command.ExitDone
}

// noSuch says which ids the archive has no event of.
func (o *reviewOptions) noSuch(ids []string, missing map[string]bool, say command.Messages) int {
	shown := 0
	for _, id := range ids {
		if !missing[id] {
			continue
		}
		if shown++; shown > 10 {
			say.Error(fmt.Sprintf("%d more", len(missing)-10))
			break
		}
		say.Error(command.Quote(id) + ": no such event in " + o.archive)
	}
	say.Hint("nothing was set: `downlock review --archive " + o.archive + " --all` lists the events; a scan with another profile may have removed it")
	return command.ExitUsage
}

// withOccurrences adds the other events of the occurrences of some events.
func (o *reviewOptions) withOccurrences(events []schemas.EventRow) ([]schemas.EventRow, error) {
	wanted, seen := map[string]bool{}, map[string]bool{}
	for i := range events {
		wanted[events[i].FlightID+occurrenceOf(&events[i])] = true
		seen[events[i].EventID] = true
	}
	err := archive.Events(o.archive, "", func(_ string, e *schemas.EventRow) error {
		if wanted[e.FlightID+occurrenceOf(e)] && !seen[e.EventID] {
			events = append(events, *e)
		}
		return nil
	})
	return events, err
}

// listed returns the ids of the command line, and those of standard input for - and of the
// file of --ids: the first column of each line, so that a list of review serves as it is.
func (o *reviewOptions) listed(named []string, stdin io.Reader) (ids []string, err error) {
	for _, name := range named {
		if name != "-" {
			ids = append(ids, name)
			continue
		}
		more, err := idsIn("standard input", stdin)
		if err != nil {
			return nil, err
		}
		ids = append(ids, more...)
	}
	switch o.ids {
	case "":
	case "-":
		more, err := idsIn("standard input", stdin)
		return append(ids, more...), err
	default:
		f, err := os.Open(o.ids)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		more, err := idsIn(o.ids, f)
		return append(ids, more...), err
	}
	return ids, nil
}

// idsIn reads a list of ids: blanks or line ends between them. Of a line with tabs the
// first cell counts, and a line of headings has none.
func idsIn(file string, r io.Reader) (ids []string, err error) {
	text, err := io.ReadAll(io.LimitReader(r, maxIDs+1))
	switch {
	case err != nil:
		return nil, err
	case len(text) > maxIDs:
		return nil, &schemas.Problem{File: file, Cause: fmt.Sprintf("has more than %d MiB", maxIDs>>20)}
	}
	for n, line := range strings.Split(string(text), "\n") {
		cell, _, columns := strings.Cut(line, "\t")
		if columns && cell == "event" {
			continue
		}
		for _, id := range strings.Fields(cell) {
			if !review.IsEventID(id) {
				return nil, &schemas.Problem{File: file, Line: n + 1, Cause: fmt.Sprintf("%.40q is not the id of an event", id), Hint: "an id is E and twelve digits or letters a to f; nothing was set"}
			}
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return nil, &schemas.Problem{File: file, Cause: "has no id of an event", Hint: "nothing was set"}
	}
	return ids, nil
}

// setOne adds the verdict and the actions on one event and writes the paths of their files
// to stdout.
func (o *reviewOptions) setOne(e *schemas.EventRow, key *identity.Key, stdout io.Writer, say command.Messages) error {
	by := strings.TrimSpace(o.by)
	if o.verdict != "" {
		history, _, err := review.History(o.archive, e.EventID) // the list names damaged verdicts
		if err != nil {
			return err
		}
		last := time.Time{}
		if n := len(history); n > 0 {
			last = history[n-1].At
		}
		path, err := review.Write(o.archive, review.Verdict{Event: e.EventID, Finding: review.Finding(o.verdict), Cause: o.cause, Comment: o.comment,
			By: key.Token(identity.Person, by), At: timeAfter(last, "verdict", say), Evidence: review.Evidence(*e)}, o.share)
		if err != nil {
			return err
		}
		fmt.Fprintln(stdout, command.Printable(path))
	}
	asked := o.actions()
	if len(asked) == 0 {
		return nil
	}
	list, _, err := review.Actions(o.archive, e.EventID)
	if err != nil {
		return err
	}
	standing := review.Standing(list)
	for _, a := range asked {
		a.Event, a.At = e.EventID, timeAfter(standing[a.Kind].At, "action", say)
		if by != review.Gatekeeper {
			a.By = key.Token(identity.Person, by)
		}
		if a.Kind == review.AssignedTo && review.IsInitials(a.Value) {
			a.Value = key.Token(identity.Person, a.Value)
		}
		path, err := review.WriteAction(o.archive, a, o.share)
		if err != nil {
			return err
		}
		fmt.Fprintln(stdout, command.Printable(path))
	}
	return nil
}

// actions returns those that the flags ask for, by whom, without an event.
func (o *reviewOptions) actions() (list []review.Action) {
	for _, kind := range review.ActionKinds {
		if value := *o.action[kind]; value != "" {
			list = append(list, review.Action{Kind: kind, Value: value, By: strings.TrimSpace(o.by)})
		}
	}
	return list
}

// timeAfter returns the time of what is noted now. The last one counts, so the time is
// after that of the last, even where a clock was set back.
func timeAfter(last time.Time, what string, say command.Messages) time.Time {
	now := time.Now()
	if now.After(last) {
		return now
	}
	say.Warning(fmt.Sprintf("the last %s is of %s, which is later than this clock: this one is recorded a millisecond after it", what, last.Format("2006-01-02 15:04:05 UTC")))
	return last.Add(time.Millisecond)
}
