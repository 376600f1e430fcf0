package archive

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"downlock/report/review"
	"downlock/schemas"
)

// eventRow makes an event with an id that review takes.
func eventRow(n int, severity string) schemas.EventRow {
	return schemas.EventRow{Recording: fmt.Sprintf("%064x", n), FlightID: fmt.Sprint("F", n), EventID: fmt.Sprintf("E%012x", n), Severity: severity}
}

// writeEvents writes the events of a month as they are.
func writeEvents(t *testing.T, dir, month string, rows []schemas.EventRow) {
	t.Helper()
	x := tableNamed(schemas.EventsTable)
	f, err := realDisk{}.create(filepath.Join(dir, partPath(x.name, month)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := x.newWriter(f)
	for i := range rows {
		if _, err := w.WriteRows([]parquet.Row{x.schema.Deconstruct(nil, &rows[i])}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func verdictOn(t *testing.T, dir string, e schemas.EventRow, minute int, finding review.Finding, by string) {
	t.Helper()
	v := review.Verdict{Event: e.EventID, Finding: finding, By: by, At: time.Date(2031, 6, 1, 8, minute, 0, 0, time.UTC), Evidence: review.Evidence(e)}
	if finding == review.False {
		v.Cause = "polarity"
	}
	if _, err := review.Write(dir, v, false); err != nil {
		t.Fatal(err)
	}
}

// TestEventsWith finds what reading everything finds, over several row groups.
func TestEventsWith(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	var months [][]schemas.EventRow
	n := 0
	for i, size := range []int{5, 40_000, 3} { // a row group has 32,768 rows
		rows := make([]schemas.EventRow, size)
		for k := range rows {
			rows[k] = eventRow(n, "low")
			n++
		}
		months = append(months, rows)
		writeEvents(t, dir, fmt.Sprintf("2031-0%d", i+1), rows)
	}
	wanted := map[string]bool{"E0": true}
	for _, e := range []schemas.EventRow{months[0][4], months[1][0], months[1][300], months[1][32_767], months[1][32_768], months[1][39_999], months[2][1]} {
		wanted[e.EventID] = true
	}
	var want, got []string
	note := func(to *[]string) func(string, *schemas.EventRow) error {
		return func(month string, e *schemas.EventRow) error {
			if wanted[e.EventID] {
				*to = append(*to, month+" "+e.EventID+" "+e.Recording)
			}
			return nil
		}
	}
	if err := Events(dir, "", note(&want)); err != nil || len(want) != 7 {
		t.Fatalf("%v, %v", want, err)
	}
	asked := 0
	err := EventsWith(dir, func(id string) bool { asked++; return wanted[id] }, note(&got))
	if diff := cmp.Diff(want, got); diff != "" || err != nil || asked != n {
		t.Errorf("of %d ids: %v %s", asked, err, diff)
	}
}

// TestVerdictTable: a row per verdict; the last one counts; an event that changed
// makes its verdicts outdated, one that went leaves them.
func TestVerdictTable(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	a, b, c := eventRow(1, "low"), eventRow(2, "high"), eventRow(3, "high")
	b.OccurrenceID, c.OccurrenceID = b.EventID, b.EventID
	writeEvents(t, dir, "2031-03", []schemas.EventRow{a, b, c})
	if _, err := KeepVerdicts(dir, false); err != nil {
		t.Fatal(err)
	}
	read := func() []schemas.VerdictRow {
		t.Helper()
		rows, err := parquet.ReadFile[schemas.VerdictRow](filepath.Join(dir, "tables/verdicts/part.parquet"))
		if err != nil {
			t.Fatal(err)
		}
		return rows
	}
	if rows := read(); len(rows) != 0 {
		t.Errorf("without a review: %v", rows)
	}
	verdictOn(t, dir, b, 1, review.FollowUp, "x")
	if _, err := KeepVerdicts(dir, false); err != nil || len(read()) != 1 {
		t.Errorf("of one event: %v, %v", read(), err)
	}
	verdictOn(t, dir, b, 2, review.False, "y")
	verdictOn(t, dir, a, 3, review.Valid, "x")
	verdictOn(t, dir, c, 4, review.Valid, "x")
	b.Severity = "medium"
	writeEvents(t, dir, "2031-03", []schemas.EventRow{a, b})
	if damaged, err := KeepVerdicts(dir, false); err != nil || len(damaged) > 0 {
		t.Fatal(damaged, err)
	}
	at := func(minute int) time.Time { return time.Date(2031, 6, 1, 8, minute, 0, 0, time.UTC) }
	want := []schemas.VerdictRow{
		{EventID: a.EventID, Month: "2031-03", Verdict: "valid", By: "x", AtUTC: at(3), Latest: true},
		{EventID: b.EventID, Month: "2031-03", Verdict: "follow-up", By: "x", AtUTC: at(1), Outdated: true, OccurrenceID: b.EventID},
		{EventID: b.EventID, Month: "2031-03", Verdict: "false", Cause: "polarity", By: "y", AtUTC: at(2), Latest: true, Outdated: true, OccurrenceID: b.EventID},
		{EventID: c.EventID, Verdict: "valid", By: "x", AtUTC: at(4), Latest: true, Gone: true},
	}
	got := read()
	for i, e := range []schemas.EventRow{a, {}, {}, c} {
		file, err := filepath.Glob(filepath.Join(dir, "reviews", got[i].EventID, got[i].File))
		if err != nil || len(file) != 1 || got[i].File == "" || e.EventID != "" && got[i].Evidence != review.Evidence(e) {
			t.Errorf("row %d: file %q, evidence %q", i, got[i].File, got[i].Evidence)
		}
		got[i].File, got[i].Evidence = "", ""
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// TestVerdictTableOfMany: of reviewers who bring the table up to date at the same
// time the last one leaves all verdicts in it.
func TestVerdictTableOfMany(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	var events []schemas.EventRow
	for n := range 40 {
		events = append(events, eventRow(n, "low"))
	}
	writeEvents(t, dir, "2031-03", events)
	var all sync.WaitGroup
	for half := range slices.Chunk(events, 10) {
		all.Add(1)
		go func() {
			defer all.Done()
			for _, e := range half {
				v := review.Verdict{Event: e.EventID, Finding: review.Valid, By: "x", At: time.Now(), Evidence: review.Evidence(e)}
				if _, err := review.Write(dir, v, false); err != nil {
					t.Error(err)
				}
				if _, err := KeepVerdicts(dir, false); err != nil {
					t.Error(err)
				}
			}
		}()
	}
	all.Wait()
	rows, err := parquet.ReadFile[schemas.VerdictRow](filepath.Join(dir, "tables/verdicts/part.parquet"))
	if err != nil || len(rows) != len(events) {
		t.Errorf("%d of %d verdicts are in the table: %v", len(rows), len(events), err)
	}
	if left, _ := os.ReadDir(filepath.Join(dir, "tables/verdicts")); len(left) != 1 {
		t.Errorf("left are %v", left)
	}
}
