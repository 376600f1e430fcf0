package scan

import (
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report"
)

// runTotals are the figures of a run, added up input by input.
type runTotals struct {
	began       time.Time
	inputs      int // all of them, also those that could not be found
	scanned     int // read to the end
	skipped     int
	bytes       int64 // of the inputs read
	flights     int
	events      map[string]int // by severity
	occurrences int            // the events of one cause are one
	resumed     int            // inputs that a run scanned which was cut off; their flights and events count here
	late        map[string]int // events, by severity, of runs that told them and whose exit code could not say so
	worst       []occurrence   // the most severe ones
	index       report.Index
	failures    []report.Failure
	leftOut     leftOut
	unsound     []outcome // damaged inputs
	signal      int       // that stopped the run, 0 for none
	kept        bool      // the archive holds the findings of the run
	output      error     // the first error of writing, which ends the run
}

// newRunTotals begins with the number of inputs found, and the failures to find
// others.
func newRunTotals(began time.Time, inputs int, failures []report.Failure) *runTotals {
	return &runTotals{began: began, inputs: inputs + len(failures), events: map[string]int{}, late: map[string]int{}, failures: failures}
}

func (t *runTotals) add(o outcome) {
	switch {
	case o.unbegun:
		return
	case o.skipped:
		t.skipped++
		return
	case o.err != nil:
		t.failures = append(t.failures, report.Failure{Input: o.input.Path, Err: o.err})
		if o.unsound {
			t.unsound = append(t.unsound, o)
		}
	default:
		t.scanned++
	}
	t.bytes += o.sight.Size
	t.addFlights(o.flights, o.entries)
	t.addWorst(o.input.Path, o.flights)
}

func (t *runTotals) addFlights(flights []flightLine, entries []report.FlightEntry) {
	t.flights += len(flights)
	for _, e := range entries {
		t.index.Add(e)
	}
	for _, f := range flights {
		t.occurrences += f.Occurrences
		for severity, n := range f.Events {
			t.events[severity] += n
		}
	}
}

// unbegun returns the number of inputs that a run had not begun when it was stopped.
func (t *runTotals) unbegun() int { return t.inputs - t.scanned - t.skipped - len(t.failures) }

// fail notes an error of writing; nil is no error.
func (t *runTotals) fail(err error) {
	if t.output == nil {
		t.output = err
	}
}

// line returns the run in one line.
func (t *runTotals) line(o scanOptions) string {
	s := fmt.Sprintf("%s from %s, %d failed", command.Count(t.flights, "flight"), command.Count(t.inputs-t.unbegun(), "input"), len(t.failures))
	if o.archive != "" {
		s += fmt.Sprintf(", %d skipped, unchanged", t.skipped)
	}
	if t.resumed > 0 {
		s += fmt.Sprintf("; with those of %s that an interrupted run had scanned", command.Count(t.resumed, "input"))
	}
	if t.unbegun() > 0 {
		s += fmt.Sprintf("; stopped before %s", command.Count(t.unbegun(), "more input"))
	}
	if o.out != "" {
		s += "; open " + filepath.Join(o.out, "index.html")
	}
	return s
}

// exitCode returns the first code that fits: output not written, stopped, failures and
// events, failures, events.
func (t *runTotals) exitCode(failOn string) int {
	failed, events := len(t.failures) > 0, t.raises(failOn)
	switch {
	case t.output != nil:
		return command.ExitOutput
	case t.signal != 0:
		return command.ExitSignal + t.signal
	case failed && events:
		return command.ExitInputsFailedEvents
	case failed:
		return command.ExitInputsFailed
	case events:
		return command.ExitEvents
	}
	return command.ExitDone
}

// raises reports whether there are events of a severity or above, "" for never: of this
// run, or of an earlier one whose code could not say so.
func (t *runTotals) raises(failOn string) bool {
	level := slices.Index(command.Severities, failOn)
	return level >= 0 && slices.ContainsFunc(command.Severities[level:], func(severity string) bool {
		return t.events[severity]+t.late[severity] > 0
	})
}
