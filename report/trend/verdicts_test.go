package trend

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"downlock/report/review"
	"downlock/schemas"
)

// False is an event whose last verdict says so, of the event as it is now.
func TestFalseEvents(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	part := filepath.Join(dir, "tables", schemas.EventsTable, "month=2031-06", "part.parquet")
	if err := os.MkdirAll(filepath.Dir(part), 0o777); err != nil {
		t.Fatal(err)
	}
	events := make([]schemas.EventRow, 6)
	for i := range events {
		events[i] = schemas.EventRow{Recording: fmt.Sprintf("%064x", i), FlightID: fmt.Sprint("F", i), EventID: fmt.Sprintf("E%012x", i), Severity: "low"}
	}
	if err := parquet.WriteFile(part, events, parquet.KeyValueMetadata("downlock.table_version", fmt.Sprint(schemas.TableVersions[schemas.EventsTable]))); err != nil {
		t.Fatal(err)
	}
	if rejected, damaged, err := FalseEvents(dir); rejected != nil || len(damaged) != 0 || err != nil {
		t.Errorf("without a verdict: %v, %v", damaged, err)
	}
	verdict := func(event, minute int, finding review.Finding, evidence string) {
		v := review.Verdict{Event: events[event].EventID, Finding: finding, By: "a", At: time.Date(2031, 6, 1, 8, minute, 0, 0, time.UTC), Evidence: evidence}
		if finding == review.False {
			v.Cause = "polarity"
		}
		if _, err := review.Write(dir, v, false); err != nil {
			t.Fatal(err)
		}
	}
	verdict(1, 0, review.Valid, review.Evidence(events[1]))
	if rejected, _, err := FalseEvents(dir); rejected != nil || err != nil {
		t.Errorf("with a valid one alone there are false ones, %v", err)
	}
	verdict(2, 0, review.False, review.Evidence(events[2]))
	verdict(3, 0, review.False, review.Evidence(events[3]))
	verdict(3, 1, review.Valid, review.Evidence(events[3])) // thought better of
	verdict(4, 0, review.Valid, review.Evidence(events[4]))
	verdict(4, 1, review.False, review.Evidence(events[4]))
	outdated := events[5]
	outdated.Severity = "high"
	verdict(5, 0, review.False, review.Evidence(outdated))
	rejected, damaged, err := FalseEvents(dir)
	if err != nil || len(damaged) != 0 || rejected == nil {
		t.Fatalf("%v, %v", damaged, err)
	}
	for i, e := range events {
		if want := i == 2 || i == 4; rejected(e.EventID) != want {
			t.Errorf("%s is false: %v, want %v", e.EventID, !want, want)
		}
	}
	if err := os.WriteFile(part, []byte("damaged"), 0o666); err != nil {
		t.Fatal(err)
	}
	if rejected, _, err := FalseEvents(dir); err == nil || rejected != nil {
		t.Errorf("of a damaged table: %v", err)
	}
}
