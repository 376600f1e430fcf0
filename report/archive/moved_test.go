package archive

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/detect"
	"downlock/report/review"
	"downlock/schemas"
)

// TestFindMoved: an event that had its id of the bytes of a packed file is found by the
// ledger, which has the SHA-256 of the file and of its content.
func TestFindMoved(t *testing.T) {
	t.Parallel()
	dir, folder := filepath.Join(t.TempDir(), "archive"), t.TempDir()
	moved := func() (text []string, gone []string) {
		t.Helper()
		found, gone, err := FindMoved(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range found {
			text = append(text, m.Was+" "+m.Month+" "+m.Event.EventID)
		}
		return text, gone
	}
	// The file of a name holds another text than its content, as if it were packed; two
	// hold the same content, and plain.csv its own.
	content := map[string]string{"a.csv.gz": "2031-03 2031-04", "b.csv.gz": "2031-03 2031-04", "c.csv.gz": "2031-03 ", "plain.csv": "2031-04 "}
	files := inputs{"a.csv.gz": "packed a", "b.csv.gz": "packed b", "c.csv.gz": "packed c", "plain.csv": content["plain.csv"]}
	run := fixtureRun("22") // two events a flight: of a rule each, 200 s and 210 s into it
	sums := map[string]string{}
	keep := func(dir string, paths []string) {
		a, err := Open(dir, run, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		for _, path := range paths {
			in := Input{path, []string{path}, nil}
			sight, err := in.Look()
			if err != nil {
				t.Fatal(err)
			}
			name := filepath.Base(path)
			sums[name], _ = in.sum()
			sha, results := fixtureResults(run, name, content[name])
			head := a.newHead(in, sight, later())
			head.Entry.SHA256, head.Entry.Recording, head.Entry.Outcome, head.Scanned = sums[name], sha, done, true
			var rows []flightRows
			for _, r := range results {
				rows = append(rows, newFlightRows(run, r))
				head.Months = append(head.Months, rows[len(rows)-1].Month)
			}
			slices.Sort(head.Months)
			if err := a.stage(head, rows); err != nil {
				t.Fatal(err)
			}
		}
		if err := a.Commit(); err != nil {
			t.Fatal(err)
		}
	}
	paths := files.write(t, folder)
	keep(dir, paths)
	writeEvents(t, dir, "2031-05", []schemas.EventRow{eventRow(7, "low")})

	if text, gone := moved(); text != nil || gone != nil {
		t.Errorf("without verdicts: %v, %v", text, gone)
	}
	verdictOn(t, dir, eventRow(7, "low"), 1, review.Valid, "x")
	if text, gone := moved(); text != nil || gone != nil {
		t.Errorf("on an event there is: %v, %v", text, gone)
	}
	was := func(file string, flight int, rule string, start float64) string {
		return detect.EventID(detect.FlightID(sums[file], flight), rule, start)
	}
	current := func(name string, flight, k int) string {
		sha, _ := fixtureResults(run, "", content[name])
		return fixtureEvent(sha, flight-1, k).ID
	}
	var want, lost []string
	for _, c := range []struct {
		file   string
		flight int
		k      int
		month  string
	}{{"a.csv.gz", 1, 0, "2031-03"}, {"b.csv.gz", 2, 1, "2031-04"}, {"c.csv.gz", 1, 1, "2031-03"}} {
		id := was(c.file, c.flight, fixtureRules[c.k].ID, 200+10*float64(c.k))
		verdictOn(t, dir, schemas.EventRow{EventID: id}, 2, review.Valid, "x")
		want = append(want, id+" "+c.month+" "+current(c.file, c.flight, c.k))
		if text, gone := moved(); len(text) != len(want) || len(gone) > 0 {
			t.Errorf("moved %v, gone %v, want %v", text, gone, want)
		}
	}
	for _, id := range []string{was("c.csv.gz", 2, fixtureRules[0].ID, 200), was("plain.csv", 1, fixtureRules[0].ID, 200), was("a.csv.gz", 1, fixtureRules[0].ID, 201), "E0123456789ab"} {
		verdictOn(t, dir, schemas.EventRow{EventID: id}, 3, review.Valid, "x")
		lost = append(lost, id)
	}
	slices.Sort(want)
	slices.Sort(lost)
	text, gone := moved()
	if diff := cmp.Diff(want, text); diff != "" {
		t.Errorf("moved: %s", diff)
	}
	if diff := cmp.Diff(lost, gone); diff != "" {
		t.Errorf("gone: %s", diff)
	}
	// The same where one packed file is all there is.
	all := dir
	dir = filepath.Join(t.TempDir(), "one")
	keep(dir, []string{filepath.Join(folder, "c.csv.gz")})
	id := was("c.csv.gz", 1, fixtureRules[1].ID, 210)
	verdictOn(t, dir, schemas.EventRow{EventID: id}, 2, review.Valid, "x")
	if text, gone := moved(); !slices.Equal(text, []string{id + " 2031-03 " + current("c.csv.gz", 1, 1)}) || gone != nil {
		t.Errorf("of one file: moved %v, gone %v", text, gone)
	}
	dir = all

	stop, calls := errors.New("stop"), 0
	err := EventsWith(dir, func(string) bool { return true }, func(string, *schemas.EventRow) error { calls++; return stop })
	if !errors.Is(err, stop) || calls != 1 {
		t.Errorf("each's own error: %v after %d", err, calls)
	}
	damaged, err := filepath.Glob(filepath.Join(dir, ledgerFolder, "recordings", "*"))
	if err != nil || len(damaged) == 0 {
		t.Fatal(damaged, err)
	}
	writeTestFile(t, damaged[0], "{}\n")
	var problem *schemas.Problem
	if _, _, err := FindMoved(dir); !errors.As(err, &problem) || !strings.Contains(problem.File, "recordings") {
		t.Errorf("a damaged ledger: %v", err)
	}
}
