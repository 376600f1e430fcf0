package scan

import (
	"fmt"
	"io"
	"path/filepath"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/report"
)

// flightLine is one flight in figures.
type flightLine struct {
	number       int
	events       map[string]int // by severity
	possible     int            // events of any severity that are only possible
	occurrences  int            // the events of one cause are one
	notEvaluable int            // rules
	failedChecks int            // of the recording, against the profile
	folder       string         // of its report; "" where none was written
}

func newFlightLine(r *detect.Result) flightLine {
	line := flightLine{number: r.Flight.Number, events: map[string]int{}, occurrences: len(r.Occurrences)}
	for _, e := range r.Events {
		line.events[string(e.Severity)]++
		if e.Certainty == detect.Possible {
			line.possible++
		}
	}
	for _, e := range r.Evaluations {
		if e.Coverage == detect.NotEvaluable {
			line.notEvaluable++
		}
	}
	for _, c := range r.Checks {
		if c.Outcome == detect.Failed {
			line.failedChecks++
		}
	}
	return line
}

// resultLines writes a line for each flight, after a line of headings, in the order of
// the inputs.
type resultLines struct {
	command.Lines
	out string
}

func newResultLines(to io.Writer, out string) *resultLines {
	r := &resultLines{Lines: command.Lines{To: to}, out: out}
	r.Line("input", "flight", "high", "medium", "low", "possible", "occurrences", "rules_not_evaluable", "failed_checks", "report")
	return r
}

func (r *resultLines) write(o outcome) {
	for _, f := range o.flights {
		page := ""
		if f.folder != "" {
			page = filepath.Join(r.out, f.folder, report.FlightPage)
		}
		r.Line(o.input.Path, fmt.Sprint(f.number), fmt.Sprint(f.events[string(detect.High)]), fmt.Sprint(f.events[string(detect.Medium)]),
			fmt.Sprint(f.events[string(detect.Low)]), fmt.Sprint(f.possible), fmt.Sprint(f.occurrences), fmt.Sprint(f.notEvaluable), fmt.Sprint(f.failedChecks), page)
	}
}
