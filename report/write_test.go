package report

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/detect"
	"downlock/report/output"
)

func TestWriteFlight(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "made", "by", "us")
	run := fixtureRun(t)
	run.Sync = true
	entry, err := writeFlight(dir, run, fixtureResult(t))
	if err != nil {
		t.Fatal(err)
	}
	if entry.Folder != "north-07.csv-flight-1" || entry.Events != 3 || entry.NotEvaluable != 1 {
		t.Errorf("entry is %+v", entry)
	}
	first := readAll(t, dir)
	for _, name := range []string{"report.json", "report.html", "events.csv", "measurements.csv"} {
		if len(first[filepath.Join(entry.Folder, name)]) == 0 {
			t.Errorf("%s is missing or empty", name)
		}
	}
	if len(first) != 4 {
		t.Errorf("%d files were written, want 4", len(first))
	}
	if _, err := writeFlight(dir, run, fixtureResult(t)); err != nil {
		t.Fatal(err)
	}
	for name, data := range readAll(t, dir) {
		if !bytes.Equal(data, first[name]) {
			t.Errorf("%s differs in a rerun", name)
		}
	}
}

// TestNothingHalfWritten makes one file of four impossible: the others must
// not appear, and no temporary file or new folder may stay.
func TestNothingHalfWritten(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	folder := filepath.Join(dir, "north-07.csv-flight-1")
	blocked := filepath.Join(folder, "report.json")
	if err := os.MkdirAll(filepath.Join(blocked, "in the way"), 0o777); err != nil {
		t.Fatal(err)
	}
	_, err := writeFlight(dir, fixtureRun(t), fixtureResult(t))
	var failed *output.Error
	if !errors.As(err, &failed) || failed.Path != blocked || failed.Hint() == "" {
		t.Fatalf("the error is %v", err)
	}
	if files := readAll(t, dir); len(files) != 0 {
		t.Errorf("left behind: %v", files)
	}
}

func TestFolderThatCannotBeMade(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, write := range []func() error{
		func() error { _, err := writeFlight(file, fixtureRun(t), fixtureResult(t)); return err },
		func() error { return WriteIndex(file, fixtureRun(t), &Index{}, nil) },
	} {
		var failed *output.Error
		if err := write(); !errors.As(err, &failed) || !strings.Contains(err.Error(), "not a directory") {
			t.Errorf("the error is %v", err)
		}
	}
}

func TestNewFoldersAreRemovedAfterFailure(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	// A file name longer than file systems allow fails after the folders are made.
	err := output.Write(filepath.Join(dir, "a", "b"), output.Options{}, output.File{Name: "x", Data: []byte("x")}, output.File{Name: strings.Repeat("y", 300)})
	var failed *output.Error
	if !errors.As(err, &failed) {
		t.Fatalf("the error is %v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestLeftovers: files a killed run left go with the next report or with pruning,
// those another run may be at stay, and so do those of somebody else.
func TestLeftovers(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	entry, err := writeFlight(dir, fixtureRun(t), fixtureResult(t))
	if err != nil {
		t.Fatal(err)
	}
	old, young, foreign := ".report.html-0123456789abcdef", ".events.csv-0123456789abcdef", ".notes-0123456789abcdef"
	folder := filepath.Join(dir, entry.Folder)
	for _, name := range []string{old, young, foreign} {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if name != young {
			hours := time.Now().Add(-2 * time.Hour)
			if err := os.Chtimes(path, hours, hours); err != nil {
				t.Fatal(err)
			}
		}
	}
	left := func() (names []string) {
		for name := range readAll(t, folder) {
			if strings.HasPrefix(name, ".") {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		return names
	}
	if _, err := writeFlight(dir, fixtureRun(t), fixtureResult(t)); err != nil || !slices.Equal(left(), []string{young, foreign}) {
		t.Errorf("after the next report %v are left: %v", left(), err)
	}
	flights := &Index{}
	flights.Add(entry)
	if err := WriteIndex(dir, fixtureRun(t), flights, nil); err != nil {
		t.Fatal(err)
	}
	p, err := Prune(dir, time.Date(2032, 1, 1, 0, 0, 0, 0, time.UTC), false)
	if err != nil || len(p.Foreign) != 1 || !slices.Equal(left(), []string{foreign}) {
		t.Errorf("after pruning %v are left: %+v, %v", left(), p, err)
	}
}

// readAll returns every file below dir by its path from there.
func readAll(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		files[name], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// TestFolderNames: names from files never leave the folder and never meet.
func TestFolderNames(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("x", 300)
	names := []string{"a.csv", "A.csv", "a?csv", "a-csv", "../../x", "x", "", ".", "..", "...", "~", ".hidden", "flug überführung.csv",
		"飛行.csv", "飛機.csv", "a\x00b", "a\nb", "a b", `c:\x`, "/etc/passwd", long, long + "y", "con", "recording", "a..csv", "a.csv ", "-rf"}
	seen := map[string]string{}
	dir := t.TempDir()
	for _, name := range names {
		r := fixtureResult(t)
		r.Flight.Recording.Name = name
		folder := flightFolder(&Run{}, r.Flight.Recording.Name, r.Flight.Recording.SHA256, 1)
		if other, taken := seen[folder]; taken {
			t.Errorf("%q and %q share %s", name, other, folder)
		}
		seen[folder] = name
		if filepath.Base(folder) != folder || strings.ContainsAny(folder, `/\ :*?"<>|`) || len(folder) > 120 || strings.HasPrefix(folder, ".") || strings.HasPrefix(folder, "-") {
			t.Errorf("%q goes to %q", name, folder)
		}
		if _, err := writeFlight(dir, fixtureRun(t), r); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	if made, _ := os.ReadDir(dir); len(made) != len(names) {
		t.Errorf("%d folders for %d names", len(made), len(names))
	}
}

func TestRepeatedNamesAreToldApart(t *testing.T) {
	t.Parallel()
	run := &Run{RepeatedNames: map[string]bool{"a.csv": true}}
	rec := fixtureRecording(t)
	rec.Name = "a.csv"
	first := flightFolder(run, rec.Name, rec.SHA256, 1)
	rec.SHA256 = strings.Repeat("0d", 32)
	if second := flightFolder(run, rec.Name, rec.SHA256, 1); first != "a.csv~0c0c0c0c-flight-1" || second != "a.csv~0d0d0d0d-flight-1" {
		t.Errorf("folders are %s and %s", first, second)
	}
}

// writeFlight makes the reports of one flight and writes them.
func writeFlight(dir string, run *Run, result *detect.Result) (FlightEntry, error) {
	f, err := NewFlightFiles(run, result)
	if err == nil {
		err = f.Write(dir, run)
	}
	if err != nil {
		return FlightEntry{}, err
	}
	return f.Entry, nil
}
