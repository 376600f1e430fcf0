package report

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// pruneFixture is a folder of reports by folder of flight: its report.json, or
// other files.
func pruneFixture(t *testing.T, flights ...string) string {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var listed []string
	for _, f := range flights {
		name, flight, _ := strings.Cut(f, ": ")
		listed = append(listed, `{"folder":"`+name+`"}`)
		write(name+"/report.json", `{"schema":"downlock report 1","flight":{`+flight+`}}`)
		for _, other := range []string{"report.html", "events.csv", "measurements.csv"} {
			write(name+"/"+other, "x")
		}
	}
	for _, other := range []string{"index.html", "events.csv", "measurements.csv"} {
		write(other, "x")
	}
	write("index.json", `{"schema":"downlock index 1","flights":[`+strings.Join(listed, ",")+`]}`)
	return dir
}

// cutoff is ninety days before 30 August 2031.
var cutoff = time.Date(2031, 6, 1, 0, 0, 0, 0, time.UTC)

const (
	oldFlight  = `"start_utc":"2031-05-31T23:59:59.999Z"`
	justKept   = `"start_utc":"2031-06-01T00:00:00.000Z"`
	oldMonth   = `"month":"2031-05"`
	sameMonth  = `"month":"2031-06"`
	noDate     = `"number":1`
	brokenDate = `"start_utc":"yesterday"`
)

func files(t *testing.T, dir string) []string {
	t.Helper()
	var all []string
	filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			name, _ := filepath.Rel(dir, path)
			all = append(all, name)
		}
		return err
	})
	return all
}

func TestPrune(t *testing.T) {
	t.Parallel()
	dir := pruneFixture(t, "old: "+oldFlight, "edge: "+justKept, "oldmonth: "+oldMonth, "month: "+sameMonth, "none: "+noDate, "broken: "+brokenDate)
	before := files(t, dir)
	trial, err := Prune(dir, cutoff, true)
	want := Pruned{Removed: []string{"old", "oldmonth"}, Kept: 2, Undated: []string{"broken", "none"}, Listed: true}
	if diff := cmp.Diff(want, trial); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
	if diff := cmp.Diff(before, files(t, dir)); diff != "" {
		t.Errorf("a trial changed\n%s", diff)
	}
	done, err := Prune(dir, cutoff, false)
	if diff := cmp.Diff(want, done); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
	left := slices.DeleteFunc(before, func(name string) bool { return strings.HasPrefix(name, "old") })
	if diff := cmp.Diff(left, files(t, dir)); diff != "" {
		t.Errorf("it left\n%s", diff)
	}
	if again, err := Prune(dir, cutoff, false); len(again.Removed) != 0 || err != nil {
		t.Errorf("again it removes %v, %v", again.Removed, err)
	}
}

// TestPruneAll: with the last flight go the pages over all flights.
func TestPruneAll(t *testing.T) {
	t.Parallel()
	dir := pruneFixture(t, "old: "+oldFlight)
	p, err := Prune(dir, cutoff, false)
	if err != nil || p.Listed || len(files(t, dir)) != 0 {
		t.Errorf("%+v, %v, left %v", p, err, files(t, dir))
	}
}

// TestPruneKeepsWhatIsNotOurs: other files, other folders, and links whatever
// they lead to.
func TestPruneKeepsWhatIsNotOurs(t *testing.T) {
	t.Parallel()
	dir := pruneFixture(t, "old: "+oldFlight)
	outside := pruneFixture(t, "precious: "+oldFlight)
	write := func(name, text string) {
		os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o700)
		os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600)
	}
	link := func(to, name string) {
		os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o700)
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Skip(err)
		}
	}
	write("old/notes.txt", "of an analyst")
	write("others/report.json", `{"schema":"another report 1","flight":{`+oldFlight+`}}`)
	write("plain/report.json", "no JSON")
	write("none/events.csv", "x")
	link(filepath.Join(outside, "precious"), "linked")
	link(filepath.Join(outside, "precious", "report.json"), "inside/report.json")
	write("page/report.json", `{"schema":"downlock report 1","flight":{`+oldFlight+`}}`)
	link(filepath.Join(outside, "precious", "report.html"), "page/report.html")
	precious := files(t, outside)

	p, err := Prune(dir, cutoff, false)
	want := Pruned{Removed: []string{"old", "page"}, Foreign: []string{"old", "page"}}
	if diff := cmp.Diff(want, p); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
	left := []string{"inside/report.json", "linked", "none/events.csv", "old/notes.txt", "others/report.json", "page/report.html", "plain/report.json"}
	if diff := cmp.Diff(left, files(t, dir)); diff != "" {
		t.Errorf("it left\n%s", diff)
	}
	if diff := cmp.Diff(precious, files(t, outside)); diff != "" {
		t.Errorf("outside it changed\n%s", diff)
	}
}

// TestPruneRefuses a folder scan did not write, and a link to one it did.
func TestPruneRefuses(t *testing.T) {
	t.Parallel()
	ours := pruneFixture(t, "old: "+oldFlight)
	other, linked, named := t.TempDir(), filepath.Join(t.TempDir(), "link"), pruneFixture(t, "old: "+oldFlight)
	os.Symlink(ours, linked)
	os.WriteFile(filepath.Join(named, "index.json"), []byte(`{"schema":"another index"}`), 0o600)
	for _, dir := range []string{other, linked, named, filepath.Join(other, "none"), filepath.Join(ours, "index.json")} {
		var problem *schemas.Problem
		if _, err := Prune(dir, cutoff, false); !errors.As(err, &problem) || problem.Hint == "" {
			t.Errorf("%s: %v", dir, err)
		}
	}
	if n := len(files(t, ours)); n != 8 {
		t.Errorf("%d files are left of 8", n)
	}
}

// TestPruneOfReports: what FlightFiles.Write and WriteIndex write is found again.
func TestPruneOfReports(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "reports")
	run := fixtureRun(t)
	entry, err := writeFlight(dir, run, fixtureResult(t)) // on 4 May 2031
	if err != nil {
		t.Fatal(err)
	}
	flights := &Index{}
	flights.Add(entry)
	if err := WriteIndex(dir, run, flights, nil); err != nil {
		t.Fatal(err)
	}
	for _, name := range append(files(t, dir), ".", entry.Folder) {
		if info, _ := os.Stat(filepath.Join(dir, name)); info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s is not private: %v", name, info.Mode())
		}
	}
	if p, err := Prune(dir, time.Date(2031, 5, 4, 0, 0, 0, 0, time.UTC), false); err != nil || p.Kept != 1 || len(p.Removed) != 0 {
		t.Errorf("%+v, %v", p, err)
	}
	if p, err := Prune(dir, time.Date(2031, 5, 5, 0, 0, 0, 0, time.UTC), false); err != nil || len(p.Removed) != 1 || len(files(t, dir)) != 0 {
		t.Errorf("%+v, %v", p, err)
	}
}
