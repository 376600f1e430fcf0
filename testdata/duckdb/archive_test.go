package duckdb

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// dropAerodromes takes the columns of aerodromes from a part of the table of
// flights.
func dropAerodromes(t *testing.T, path string) {
	t.Helper()
	type older struct {
		FlightID      string `parquet:"flight_id"`
		Recording     string `parquet:"recording"`
		RecordingName string `parquet:"recording_name"`
		Number        int32  `parquet:"number"`
		Aircraft      string `parquet:"aircraft,dict"`
		Registration  string `parquet:"registration,optional,dict"`
	}
	rows, err := parquet.ReadFile[older](path)
	if err == nil {
		err = parquet.WriteFile(path, rows)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// dropOpportunities writes a part of measurements again as it was before they were
// made in each opportunity: one value a flight, the last.
func dropOpportunities(t *testing.T, path string) {
	t.Helper()
	type older struct {
		Recording   string   `parquet:"recording,dict"`
		FlightID    string   `parquet:"flight_id,dict"`
		Measurement string   `parquet:"measurement,dict"`
		Unit        string   `parquet:"unit,dict"`
		Value       *float64 `parquet:"value,optional"`
	}
	rows, err := parquet.ReadFile[older](path)
	if err != nil {
		t.Fatal(err)
	}
	var kept []older
	for i, row := range rows {
		if i+1 == len(rows) || rows[i+1].FlightID != row.FlightID || rows[i+1].Measurement != row.Measurement {
			kept = append(kept, row)
		}
	}
	if len(kept) == len(rows) {
		t.Fatal("no flight has several values")
	}
	if err := parquet.WriteFile(path, kept); err != nil {
		t.Fatal(err)
	}
}

// dropOccurrences writes a part of events again as it was before occurrences were noted.
func dropOccurrences(t *testing.T, path string) {
	t.Helper()
	type older struct {
		Recording string `parquet:"recording,dict"`
		FlightID  string `parquet:"flight_id,dict"`
		EventID   string `parquet:"event_id"`
		Rule      string `parquet:"rule,dict"`
		Title     string `parquet:"title,dict"`
		Severity  string `parquet:"severity,dict"`
		Certainty string `parquet:"certainty,dict"`
		Phase     string `parquet:"phase,dict"`
	}
	rows, err := parquet.ReadFile[older](path)
	if err == nil {
		err = parquet.WriteFile(path, rows, parquet.KeyValueMetadata("downlock.table_version", "1"))
	}
	if err != nil {
		t.Fatal(err)
	}
}

// falseOnes are places in the events of a month of those that reject makes false.
var falseOnes = []int{3, 4, 11}

// reject sets verdicts on events of the last month: some false; and some that
// do not count, because they came before another, or because the event was
// another one then.
func reject(t *testing.T, dir string) {
	t.Helper()
	events, err := parquet.ReadFile[schemas.EventRow](filepath.Join(dir, "tables/events/month=2032-07/part.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2032, 8, 1, 8, 0, 0, 0, time.UTC)
	say := func(event int, finding review.Finding, evidence string) {
		at = at.Add(time.Minute)
		v := review.Verdict{Event: events[event].EventID, Finding: finding, By: "reviewer", At: at, Evidence: evidence}
		if finding == review.False {
			v.Cause = "a faulty switch"
		}
		if _, err := review.Write(dir, v, false); err != nil {
			t.Fatal(err)
		}
	}
	for _, i := range falseOnes {
		say(i, review.Valid, review.Evidence(events[i]))
		say(i, review.False, review.Evidence(events[i]))
	}
	say(6, review.False, review.Evidence(events[6]))
	say(6, review.FollowUp, review.Evidence(events[6]))
	say(7, review.False, review.Evidence(events[8]))
	if damaged, err := archive.KeepVerdicts(dir, false); err != nil || len(damaged) > 0 {
		t.Fatal(damaged, err)
	}
}
