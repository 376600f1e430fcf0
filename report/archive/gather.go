package archive

import (
	"cmp"
	"encoding/json"
	"slices"
	"time"

	"downlock/detect"
)

// Rows gathers the rows of one input, flight by flight. They hold
// nothing of the results they were made of.
type Rows struct {
	Recording string // SHA-256, hex, of its content
	File      string // SHA-256, hex, of its files as they are on disk; "" where that is the same
	// Report is what the run reports of the input, in a form of the caller's. The archive
	// keeps it until KeepRun notes that it was reported.
	Report  json.RawMessage
	flights []flightRows
}

// Add adds a flight.
func (r *Rows) Add(run *Run, result *detect.Result) {
	r.flights = append(r.flights, newFlightRows(run, result))
}

// StageRows is Stage for rows that were gathered.
func (a *Archive) StageRows(in Input, sight Sight, now time.Time, rows Rows) error {
	return a.stage(a.rowsHead(in, sight, now, rows), rows.flights)
}

func (a *Archive) rowsHead(in Input, sight Sight, now time.Time, rows Rows) stagedHead {
	head := a.newHead(in, sight, now)
	head.Scanned = true
	head.Entry.SHA256, head.Entry.Recording = cmp.Or(rows.File, rows.Recording), rows.Recording
	head.Entry.Outcome, head.Entry.Flights = done, len(rows.flights)
	for _, f := range rows.flights {
		head.Months = append(head.Months, f.Month)
	}
	head.Report = rows.Report
	slices.Sort(head.Months)
	head.Months = slices.Compact(head.Months)
	return head
}
