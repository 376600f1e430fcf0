package scan

import (
	"bytes"
	"fmt"
	"io"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/report/output"
)

// inputReport is what a run says of an input on stdout and counts in its figures. An
// archive keeps it until that is done.
type inputReport struct {
	Input   string       `json:"input"` // as it may be shown
	Flights []flightLine `json:"flights"`
}

// flightLine is one flight in figures.
type flightLine struct {
	ID           string         `json:"id"`
	Number       int            `json:"number"`
	Events       map[string]int `json:"events"`        // by severity
	Possible     int            `json:"possible"`      // events of any severity that are only possible
	Occurrences  int            `json:"occurrences"`   // the events of one cause are one
	NotEvaluable int            `json:"not_evaluable"` // rules
	FailedChecks int            `json:"failed_checks"` // of the recording, against the profile
	Folder       string         `json:"folder"`        // of its report; "" where none was written
	Page         string         `json:"page"`          // its path
	worst        []occurrence   // for the terminal; a run that ends what another began has none of that
}

func newFlightLine(r *detect.Result) flightLine {
	line := flightLine{ID: r.Flight.ID, Number: r.Flight.Number, Events: map[string]int{}, Occurrences: len(r.Occurrences), worst: worstOf(r)}
	for _, e := range r.Events {
		line.Events[string(e.Severity)]++
		if e.Certainty == detect.Possible {
			line.Possible++
		}
	}
	for _, e := range r.Evaluations {
		if e.Coverage == detect.NotEvaluable {
			line.NotEvaluable++
		}
	}
	for _, c := range r.Checks {
		if c.Outcome == detect.Failed {
			line.FailedChecks++
		}
	}
	return line
}

// resultLines writes a line for each flight, after a line of headings, in the order of
// the inputs. Those of a run with an archive are held back until it holds the findings:
// a line that the run said is in the tables, and no other run says it again.
type resultLines struct {
	command.Lines
	to   io.Writer
	held *bytes.Buffer // nil where no line is held back
}

func newResultLines(to io.Writer, hold bool) *resultLines {
	r := &resultLines{Lines: command.Lines{To: to}, to: to}
	if hold {
		r.held = &bytes.Buffer{}
		r.To = r.held
	}
	r.Line("input", "flight", "high", "medium", "low", "possible", "occurrences", "rules_not_evaluable", "failed_checks", "report")
	return r
}

func (r *resultLines) write(in inputReport) {
	for _, f := range in.Flights {
		r.Line(in.Input, fmt.Sprint(f.Number), fmt.Sprint(f.Events[string(detect.High)]), fmt.Sprint(f.Events[string(detect.Medium)]),
			fmt.Sprint(f.Events[string(detect.Low)]), fmt.Sprint(f.Possible), fmt.Sprint(f.Occurrences), fmt.Sprint(f.NotEvaluable), fmt.Sprint(f.FailedChecks), f.Page)
	}
}

// release writes the lines held back, all at once. The error is an output.Error.
func (r *resultLines) release() error {
	if _, err := r.to.Write(r.held.Bytes()); err != nil {
		return &output.Error{Path: "standard output", Err: err}
	}
	return nil
}
