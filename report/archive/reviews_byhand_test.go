package archive

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"downlock/report/review"
	"downlock/schemas"
)

func minutes(n int) time.Time { return time.Date(2031, 6, 1, 8, n, 0, 0, time.UTC) }

// note writes an action and returns its file.
func note(t *testing.T, dir string, e schemas.EventRow, minute int, kind review.ActionKind, value string) (path string) {
	t.Helper()
	path, err := review.WriteAction(dir, review.Action{Event: e.EventID, Kind: kind, Value: value, By: "x", At: minutes(minute)}, false)
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// rowsOf reads a table with the library alone, and its version.
func rowsOf[T any](t *testing.T, dir, part string) (rows []T, version string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, part))
	if err != nil {
		t.Fatal(err)
	}
	file, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	version, _ = file.Lookup("downlock.table_version")
	if rows, err = parquet.Read[T](bytes.NewReader(data), int64(len(data))); err != nil {
		t.Fatal(err)
	}
	return rows, version
}

// TestActionTable: a row per action, in order of event and time; the last of each kind
// counts; one whose file is lost or damaged keeps its row and does not count.
func TestActionTable(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	a, b, gone := eventRow(1, "low"), eventRow(2, "low"), eventRow(3, "low")
	b.OccurrenceID = a.EventID
	writeEvents(t, dir, "2031-03", []schemas.EventRow{a})
	writeEvents(t, dir, "2031-04", []schemas.EventRow{b, eventRow(4, "low")})
	keep := func(want ...string) {
		t.Helper()
		damaged, err := KeepVerdicts(dir, false)
		var causes []string
		for _, d := range damaged {
			name, _ := filepath.Rel(dir, d.File)
			causes = append(causes, filepath.Dir(name)+" "+d.Cause)
		}
		if err != nil || len(causes) != len(want) {
			t.Fatalf("%v, %q", err, causes)
		}
		for i := range want {
			if !strings.HasPrefix(causes[i], want[i]) {
				t.Errorf("%q, want %q", causes[i], want[i])
			}
		}
	}
	table := filepath.Join(dir, "tables/actions/part.parquet")
	if keep(); fileExists(table) {
		t.Error("there is a table of no actions")
	}
	note(t, dir, b, 2, review.AssignedTo, "desk")
	due := note(t, dir, b, 4, review.Due, "2031-07-20")
	if keep(); !fileExists(table) {
		t.Error("there is no table of an action")
	}
	last := note(t, dir, b, 6, review.AssignedTo, "AL")
	note(t, dir, gone, 3, review.Maintenance, "yes")
	note(t, dir, a, 5, review.Maintenance, "no")
	keep()
	row := func(e schemas.EventRow, month string, minute int, action review.ActionKind, value string, latest bool) schemas.ActionRow {
		return schemas.ActionRow{EventID: e.EventID, Month: month, Action: string(action), Value: value, By: "x", AtUTC: minutes(minute), Latest: latest, Gone: month == "", OccurrenceID: e.OccurrenceID}
	}
	want := []schemas.ActionRow{row(a, "2031-03", 5, review.Maintenance, "no", true), row(b, "2031-04", 2, review.AssignedTo, "desk", false),
		row(b, "2031-04", 4, review.Due, "2031-07-20", true), row(b, "2031-04", 6, review.AssignedTo, "AL", true), row(gone, "", 3, review.Maintenance, "yes", true)}
	check := func() {
		t.Helper()
		rows, version := rowsOf[schemas.ActionRow](t, dir, actionsPart)
		if version != "1" {
			t.Errorf("version %s", version)
		}
		for i := range rows {
			if !strings.HasSuffix(rows[i].File, ".action") {
				t.Errorf("the file of row %d is %q", i, rows[i].File)
			}
			rows[i].File = ""
		}
		if diff := cmp.Diff(want, rows); diff != "" {
			t.Error(diff)
		}
	}
	check()

	if err := os.Remove(due); err != nil {
		t.Fatal(err)
	}
	want[2].Latest = false
	missing := "reviews/" + b.EventID + " the file of an action is missing: due 2031-07-20 by x at 2031-06-01 08:04:00"
	keep(missing)
	check()
	writeTestFile(t, last, "{}")
	want[1].Latest, want[3].Latest = true, false
	for range 2 { // the second time from the table alone
		keep("reviews/"+b.EventID+" ", missing)
		check()
	}
	if err := os.Remove(last); err != nil {
		t.Fatal(err)
	}
	keep("reviews/"+b.EventID+" the file of an action is missing: due", "reviews/"+b.EventID+" the file of an action is missing: assigned-to AL by x at 2031-06-01 08:06:00")
	check()

	writeTestFile(t, table, "no table") // is made anew, without what was in it alone
	keep()
	want = []schemas.ActionRow{want[0], want[1], want[4]}
	check()
	if err := os.RemoveAll(filepath.Join(dir, "reviews")); err != nil {
		t.Fatal(err)
	}
	writeTestFile(t, table, "no table")
	keep()
	want = []schemas.ActionRow{}
	check()
}

func fileExists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// TestLostVerdicts: a verdict whose file is lost or damaged keeps its row, which counts no
// more. Rows from before they had names of files are known by who said what and when, to the millisecond.
func TestLostVerdicts(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	a, b := eventRow(1, "low"), eventRow(2, "high")
	b.OccurrenceID = a.EventID
	writeEvents(t, dir, "2031-03", []schemas.EventRow{a, b})
	v := review.Verdict{Event: a.EventID, Finding: review.Valid, By: "x", At: minutes(1).Add(1_999_999), Evidence: review.Evidence(a)}
	if _, err := review.Write(dir, v, false); err != nil {
		t.Fatal(err)
	}
	old := func(e schemas.EventRow, finding, by string, at time.Time) schemas.VerdictRow {
		return schemas.VerdictRow{EventID: e.EventID, Verdict: finding, By: by, AtUTC: at, Latest: true}
	}
	at := minutes(1).Add(time.Millisecond)
	there := old(a, "valid", "x", at)
	lost := []schemas.VerdictRow{old(a, "false", "x", at), old(a, "valid", "y", at), old(a, "valid", "x", at.Add(time.Millisecond)), old(a, "valid", "x", minutes(1)), old(b, "valid", "x", at)}
	writeTable := func(rows []schemas.VerdictRow) {
		t.Helper()
		var text bytes.Buffer
		if err := WriteVerdicts(&text, rows); err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(verdictsPart)), 0o700); err != nil {
			t.Fatal(err)
		}
		writeTestFile(t, filepath.Join(dir, verdictsPart), text.String())
	}
	writeTable(append([]schemas.VerdictRow{there}, lost...))
	rows, damaged, err := Verdicts(dir)
	if err != nil || len(rows) != 6 || len(damaged) != 5 {
		t.Fatalf("%d rows, %d damaged, %v", len(rows), len(damaged), err)
	}
	latest := 0
	for i, row := range rows {
		if row.Latest {
			latest++
			if row.By != "x" || row.File == "" || !row.AtUTC.Equal(v.At) {
				t.Errorf("%+v counts", row)
			}
		}
		if i > 0 && rows[i-1].EventID == row.EventID && row.AtUTC.Before(rows[i-1].AtUTC) {
			t.Errorf("row %d is not in order of time", i)
		}
		if !row.Latest && row.EventID == a.EventID && row.Verdict == "valid" && row.By == "x" && row.AtUTC.Equal(at) {
			t.Error("the one that is there is lost")
		}
		if want := map[string]string{a.EventID: "", b.EventID: a.EventID}[row.EventID]; row.Month != "2031-03" || row.Gone || row.OccurrenceID != want {
			t.Errorf("%+v", row)
		}
	}
	if want := "the file of a verdict is missing: valid by x at 2031-06-01 08:01:00"; latest != 1 || damaged[4].Cause != want {
		t.Errorf("%d count; %q", latest, damaged[4].Cause)
	}

	// Without any file the table alone says what there was.
	if err := os.RemoveAll(filepath.Join(dir, "reviews")); err != nil {
		t.Fatal(err)
	}
	if rows, damaged, err := Verdicts(dir); err != nil || len(rows) != 6 || len(damaged) != 6 || slices.ContainsFunc(rows, func(r schemas.VerdictRow) bool { return r.Gone }) {
		t.Errorf("without a file: %v, %v, %v", rows, damaged, err)
	}

	// A row with the name of a file: a damaged one is said once.
	path, err := review.Write(dir, v, false)
	if err != nil {
		t.Fatal(err)
	}
	if _, version := rowsOf[schemas.VerdictRow](t, dir, verdictsPart); version != "3" {
		t.Errorf("version %s", version)
	}
	named := there
	named.File = filepath.Base(path)
	other := named
	other.File = "20310601T080100.001999999Z-0000000000000000.json"
	writeTable([]schemas.VerdictRow{named, other})
	if rows, damaged, err := Verdicts(dir); err != nil || len(rows) != 2 || len(damaged) != 1 || filepath.Base(damaged[0].File) != other.File {
		t.Errorf("of two names: %v, %v, %v", rows, damaged, err)
	}
	writeTestFile(t, path, "{}")
	if rows, damaged, err := Verdicts(dir); err != nil || len(rows) != 2 || len(damaged) != 2 || damaged[0].File != path || filepath.Base(damaged[1].File) != other.File {
		t.Errorf("a damaged one: %v, %v, %v", rows, damaged, err)
	}
}
