package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"downlock/report"
)

// runTotals is what a run adds up.
type runTotals struct {
	began    time.Time
	inputs   int // all of them, also those that could not be found
	skipped  int
	unbegun  int
	bytes    int64 // of the inputs read
	flights  int
	events   map[string]int // by severity
	entries  []report.FlightEntry
	failures []report.Failure
	unsound  []outcome // damaged inputs
	signal   int       // that stopped the run, 0 for none
}

// newRunTotals begins with the inputs there are, and those that could not be found.
func newRunTotals(inputs int, failures []report.Failure) *runTotals {
	return &runTotals{began: time.Now(), inputs: inputs + len(failures), events: map[string]int{}, failures: failures}
}

func (t *runTotals) add(o outcome) {
	switch {
	case o.unbegun:
		t.unbegun++
		return
	case o.skipped:
		t.skipped++
		return
	case o.err != nil:
		t.failures = append(t.failures, report.Failure{Input: o.input.Path, Err: o.err})
		if o.unsound {
			t.unsound = append(t.unsound, o)
		}
	}
	t.bytes += o.sight.Size
	t.flights += len(o.flights)
	t.entries = append(t.entries, o.entries...)
	for _, f := range o.flights {
		for severity, n := range f.events {
			t.events[severity] += n
		}
	}
}

// scanned counts the inputs that were read to the end.
func (t *runTotals) scanned() int { return t.inputs - t.skipped - t.unbegun - len(t.failures) }

// line is the run in one line.
func (t *runTotals) line(o scanOptions) string {
	s := fmt.Sprintf("%s from %s, %d failed", count(t.flights, "flight"), count(t.inputs-t.unbegun, "input"), len(t.failures))
	if o.archive != "" {
		s += fmt.Sprintf(", %d skipped: unchanged", t.skipped)
	}
	if t.unbegun > 0 {
		s += fmt.Sprintf("; stopped before %s", count(t.unbegun, "more input"))
	}
	if o.out != "" {
		s += "; open " + filepath.Join(o.out, "index.html")
	}
	return s
}

// exitCode is that of a run whose output is written: stopped before failures
// before events.
func (t *runTotals) exitCode(failOn string) int {
	switch {
	case t.signal != 0:
		return exitSignal + t.signal
	case len(t.failures) > 0:
		return exitInputsFailed
	}
	if level := slices.Index(severities, failOn); level >= 0 {
		for _, severity := range severities[level:] {
			if t.events[severity] > 0 {
				return exitEvents
			}
		}
	}
	return exitDone
}
