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
func newRunTotals(inputs int, failures []report.Failure) *runTotals {
	return &runTotals{began: time.Now(), inputs: inputs + len(failures), events: map[string]int{}, failures: failures}
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
	t.flights += len(o.flights)
	for _, e := range o.entries {
		t.index.Add(e)
	}
	for _, f := range o.flights {
		t.occurrences += f.occurrences
		for severity, n := range f.events {
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
		s += fmt.Sprintf(", %d skipped: unchanged", t.skipped)
	}
	if t.unbegun() > 0 {
		s += fmt.Sprintf("; stopped before %s", command.Count(t.unbegun(), "more input"))
	}
	if o.out != "" {
		s += "; open " + filepath.Join(o.out, "index.html")
	}
	return s
}

// exitCode returns the first code that fits: output not written, stopped, failures,
// events.
func (t *runTotals) exitCode(failOn string) int {
	switch {
	case t.output != nil:
		return command.ExitOutput
	case t.signal != 0:
		return command.ExitSignal + t.signal
	case len(t.failures) > 0:
		return command.ExitInputsFailed
	}
	if level := slices.Index(command.Severities, failOn); level >= 0 {
		for _, severity := range command.Severities[level:] {
			if t.events[severity] > 0 {
				return command.ExitEvents
			}
		}
	}
	return command.ExitDone
}
