package scan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/report"
)

// batch is batch.json: the figures of a run, for whoever looks after nightly runs.
type batch struct {
	Schema      string         `json:"schema"`
	Version     string         `json:"version"`
	Began       string         `json:"began_utc"`
	Seconds     float64        `json:"seconds"`
	Inputs      int            `json:"inputs"`
	Scanned     int            `json:"scanned"`
	Skipped     int            `json:"skipped"` // unchanged
	Unbegun     int            `json:"not_begun"`
	Failed      int            `json:"failed"`
	Signal      int            `json:"stopped_by_signal,omitempty"`
	Flights     int            `json:"flights"`
	Events      map[string]int `json:"events"` // by severity
	Occurrences int            `json:"occurrences"`
	Resumed     int            `json:"resumed_inputs,omitempty"`
	Late        map[string]int `json:"events_raised_late,omitempty"` // by severity
	Bytes       int64          `json:"bytes"`
	Rate        float64        `json:"megabytes_per_second"`
	Code        int            `json:"exit_code"`
	Error       string         `json:"error,omitempty"` // of writing, which ended the run
	Failures    []failedInput  `json:"failures"`
	LeftOut     *leftOut       `json:"left_out,omitempty"` // files of folders
	Cautions    []string       `json:"cautions"`
}

type failedInput struct {
	Input string `json:"input"`
	Cause string `json:"cause"`
}

const batchSchema = "downlock batch 1"

func (t *runTotals) batch(o scanOptions) batch {
	seconds := time.Since(t.began).Seconds()
	b := batch{Schema: batchSchema, Version: command.Version, Began: t.began.UTC().Format(time.RFC3339), Seconds: seconds,
		Inputs: t.inputs, Scanned: t.scanned, Skipped: t.skipped, Unbegun: t.unbegun(), Failed: len(t.failures), Signal: t.signal,
		Flights: t.flights, Events: map[string]int{}, Occurrences: t.occurrences, Resumed: t.resumed, Bytes: o.key.Coarse(t.bytes), Rate: float64(o.key.Coarse(t.bytes)) / 1e6 / seconds,
		Code: t.exitCode(o.failOn), Failures: []failedInput{}, Cautions: report.Cautions()}
	if t.leftOut.Files > 0 {
		b.LeftOut = &t.leftOut
	}
	if len(t.late) > 0 {
		b.Late = map[string]int{}
		for _, severity := range command.Severities {
			b.Late[severity] = t.late[severity]
		}
	}
	if t.output != nil {
		b.Error = t.output.Error()
	}
	for _, severity := range command.Severities {
		b.Events[severity] = t.events[severity]
	}
	for _, f := range t.failures {
		b.Failures = append(b.Failures, failedInput{command.Printable(f.Input), command.Printable(f.Err.Error())})
	}
	return b
}

// record writes the figures of the run to the files that the command line names and, when
// the archive holds the findings of the run, into that, with the lines on stdout.
func (s *scan) record(t *runTotals, lines *resultLines) {
	figures := s.writeFigures(t)
	if !t.kept {
		return
	}
	before := t.output
	_, err := s.archive.KeepRun(figures, lines.release)
	if t.fail(err); before == nil && err != nil {
		s.writeFigures(t) // the code is another one
	}
}

// writeFigures writes the figures to the files that the command line names, and returns
// them, with the code that this comes to.
func (s *scan) writeFigures(t *runTotals) (figures []byte) {
	o, before := s.options, t.output
	b := t.batch(o)
	figures = b.encode()
	if o.summary != "" {
		t.fail(command.WriteWhole(o.summary, figures, o.share))
	}
	if o.metrics != "" {
		t.fail(command.WriteWhole(o.metrics, metricsText(b), true)) // no name is in it, and the exporter must read it
	}
	if before == nil && t.output != nil {
		return t.batch(o).encode()
	}
	return figures
}

func (b batch) encode() []byte {
	text, err := json.MarshalIndent(b, "", " ")
	if err != nil { // cannot happen: JSON can hold every number here
		return nil
	}
	return append(text, '\n')
}

// metricsText returns the figures in the Prometheus text format, version 0.0.4 (from
// memory): a HELP and a TYPE line, then a line for each label value.
func metricsText(s batch) []byte {
	var b bytes.Buffer
	metric := func(name, help string, samples ...string) {
		fmt.Fprintf(&b, "# HELP downlock_%s %s\n# TYPE downlock_%s gauge\n", name, help, name)
		for _, sample := range samples {
			fmt.Fprintf(&b, "downlock_%s%s\n", name, sample)
		}
	}
	var events []string
	for _, severity := range command.Severities {
		events = append(events, fmt.Sprintf("{severity=%q} %d", severity, s.Events[severity]))
	}
	metric("last_run_inputs", "Inputs of the last run by outcome.",
		fmt.Sprintf(`{outcome="scanned"} %d`, s.Scanned), fmt.Sprintf(`{outcome="skipped"} %d`, s.Skipped),
		fmt.Sprintf(`{outcome="failed"} %d`, s.Failed), fmt.Sprintf(`{outcome="not_begun"} %d`, s.Unbegun))
	left := 0
	if s.LeftOut != nil {
		left = s.LeftOut.Files
	}
	metric("last_run_files_left_out", "Files in folders that the last run skipped, because their names are not those of an export.", fmt.Sprintf(" %d", left))
	metric("last_run_flights", "Flights found by the last run.", fmt.Sprintf(" %d", s.Flights))
	metric("last_run_events", "Events found by the last run by severity.", events...)
	metric("last_run_occurrences", "Occurrences found by the last run: events of one cause count as one.", fmt.Sprintf(" %d", s.Occurrences))
	metric("last_run_bytes", "Size of the inputs the last run read.", fmt.Sprintf(" %d", s.Bytes))
	metric("last_run_seconds", "Time the last run took.", fmt.Sprintf(" %.3f", s.Seconds))
	metric("last_run_exit_code", "Exit code of the last run.", fmt.Sprintf(" %d", s.Code))
	metric("last_run_timestamp_seconds", "End of the last run, seconds since 1970.", fmt.Sprintf(" %d", time.Now().Unix()))
	return b.Bytes()
}
