package archive

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"downlock/detect"
	"downlock/ingest"
)

// TestFlightRowsByHand: the month and the times of a flight, and its rolls.
func TestFlightRowsByHand(t *testing.T) {
	t.Parallel()
	run := fixtureRun("1")
	epoch := time.Date(2031, 3, 31, 23, 59, 0, 0, time.UTC)
	f := &detect.Flight{ID: "F", Number: 3, Recording: &ingest.Recording{Name: "a.csv", Epoch: epoch}, Span: detect.Span{Start: 10, End: 90},
		LiftOff: &detect.Time{Nominal: 20.0004, Earliest: 19, Latest: math.Inf(1)}, Touchdown: &detect.Time{Nominal: 80.5, Earliest: math.Inf(-1), Latest: 81},
		Rolls: []detect.TakeOffRoll{{Ended: detect.Rejected}, {Ended: detect.InLiftOff}, {Ended: detect.Rejected}, {Ended: detect.Rejected}, {Ended: detect.RollsOn}}}
	rows := newFlightRows(run, &detect.Result{Flight: f})
	row := rows.Flight
	if rows.Month != "2031-03" || *row.RejectedTakeOffs != 3 || !row.LiftOffUTC.Equal(epoch.Add(20*time.Second)) || *row.LiftOffS != 20 || *row.LiftOffEarliestS != 19 || *row.LiftOffLatestS != 90 {
		t.Errorf("%s: %+v", rows.Month, row)
	}
	if !row.TouchdownUTC.Equal(epoch.Add(80500*time.Millisecond)) || *row.TouchdownS != 80.5 || *row.TouchdownEarliestS != 10 || *row.TouchdownLatestS != 81 {
		t.Errorf("%+v", row)
	}
	f.Recording.Epoch, f.Month, f.Touchdown = time.Time{}, "2031-04", nil // from the name of a folder, say
	if rows := newFlightRows(run, &detect.Result{Flight: f}); rows.Month != "2031-04" || rows.Flight.TouchdownS != nil || !rows.Flight.TouchdownUTC.IsZero() {
		t.Errorf("%+v", rows)
	}
	f.Month = ""
	if rows := newFlightRows(run, &detect.Result{Flight: f}); rows.Month != "unknown" {
		t.Errorf("without a date: %s", rows.Month)
	}
	// Of a number of 13 digits nothing is rounded.
	for _, x := range []float64{1e12, math.Nextafter(1e12, 2e12), math.Nextafter(1.5e12, 2e12), math.Nextafter(3e12, 4e12)} {
		if got := *known(x); got != x {
			t.Errorf("%v is kept as %v", x, got)
		}
	}
}

// TestKnownOpportunities: an opportunity counts by the part of it that samples decide.
func TestKnownOpportunities(t *testing.T) {
	t.Parallel()
	span := func(kind detect.OpportunityKind, from, to float64) detect.Opportunity {
		return detect.Opportunity{Kind: kind, Begins: detect.Time{Nominal: from, Earliest: from, Latest: from}, Ends: detect.Time{Nominal: to, Earliest: to, Latest: to}}
	}
	r := &detect.Result{Opportunities: []detect.Opportunity{span(detect.OpenLiftOff, 0, 10), span(detect.OpenApproach, 100, 110), span(detect.OpenApproach, 200, 200.5), span(detect.OpenApproach, 300, 300)}}
	e := &detect.Evaluation{Rule: &detect.Rule{Opportunity: detect.OpenApproach}, Chances: detect.Chances{All: 3, Evaluated: 1, Partly: 2}, Unknown: []detect.Span{{Start: 0, End: 104}, {Start: 200.25, End: 250}}}
	if got := knownOpportunities(r, e); got != 0.6+0.5+1 {
		t.Errorf("%v, want 0.6 of the first, half of the second, and the third", got)
	}
	e.Chances.Partly = 0
	if got := knownOpportunities(r, e); got != 1 {
		t.Errorf("%v, want those that were evaluated", got)
	}
}

// TestShardNames: shards are named by the first three digits of the SHA-256 of the folder, and the first two
// of that of the recording. The first is that of `printf /exports | sha256sum`.
func TestShardNames(t *testing.T) {
	t.Parallel()
	if got := filepath.ToSlash(inputShard("/exports/a.csv")); got != "ledger/inputs/b64.jsonl" {
		t.Error(got)
	}
	if got := filepath.ToSlash(recordingShard("00ff11")); got != "ledger/recordings/00.jsonl" {
		t.Error(got)
	}
	if got := entryMark([]byte("{}")); len(got) != 24 {
		t.Error(got)
	}
}

// TestMonthsOfAnInput are in order, each once; the Parts of a table too, and nothing that has no file.
func TestMonthsOfAnInput(t *testing.T) {
	t.Parallel()
	a := &Archive{run: fixtureRun("1")}
	rows := Rows{Recording: "ab", flights: []flightRows{{Month: "2031-05"}, {Month: "2031-03"}, {Month: "2031-05"}, {Month: "2031-04"}}}
	if head := a.rowsHead(Input{Path: "/a"}, Sight{}, later(), rows); strings.Join(head.Months, " ") != "2031-03 2031-04 2031-05" || head.Entry.SHA256 != "ab" || head.Entry.Flights != 4 {
		t.Errorf("%+v", head)
	}
	rows.File = "cd"
	if head := a.rowsHead(Input{Path: "/a"}, Sight{}, later(), rows); head.Entry.SHA256 != "cd" || head.Entry.Recording != "ab" {
		t.Errorf("%+v", head)
	}
	dir := layOut(t, map[string]string{"tables/events/month=2031-04/part.parquet": "12", "tables/events/month=2031-03/part.parquet": "1", "tables/events/month=2031-02/other": "", "tables/events/month=unknown/part.parquet": "123", "tables/events/notes": ""})
	parts, err := Parts(dir, "events")
	got := ""
	for _, p := range parts {
		got += p.Month + strings.Repeat("x", int(p.Size)) + " "
		if time.Since(time.Unix(0, p.Time)) > time.Hour {
			t.Errorf("%+v", p)
		}
	}
	if err != nil || got != "2031-03x 2031-04xx unknownxxx " {
		t.Errorf("%q, %v", got, err)
	}
}
