package archive

import (
	"errors"
	"path/filepath"
	"testing"

	"downlock/report"
)

// secondNight is what the crash tests disturb: an archive with a first night in
// it, and a second in which files are new, corrected, swapped, bad and unchanged,
// and one recording moves to another month.
func secondNight(t *testing.T) (inputsDir string, first func(dir string), paths []string) {
	inputsDir = t.TempDir()
	before := inputs{"a.csv": "2031-03 2031-04", "b.csv": "2031-03", "c.csv": "undated", "d.csv": "2031-05", "e.csv": "2031-03 2031-03 "}
	after := inputs{"a.csv": "2031-03", "b.csv": "2031-03 2031-04", "c.csv": "bad c", "d.csv": "2031-05", "e.csv": "2031-04 ", "f.csv": "2031-04  "}
	archives := map[string]bool{}
	first = func(dir string) {
		if archives[dir] {
			t.Fatal("twice the same folder")
		}
		archives[dir] = true
		mustNight(t, dir, fixtureRun("1"), before.write(t, inputsDir))
		paths = after.write(t, inputsDir)
	}
	return inputsDir, first, after.write(t, inputsDir)
}

// TestKilledAnywhere lets the process die at every single change it makes to the
// disk; one rerun must give the bytes of a run nobody disturbed.
func TestKilledAnywhere(t *testing.T) {
	_, first, paths := secondNight(t)
	undisturbed := filepath.Join(t.TempDir(), "archive")
	first(undisturbed)
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	want := contents(t, undisturbed)
	if len(want) < 15 {
		t.Fatalf("only %d files", len(want))
	}
	for left := 0; ; left++ {
		dir := filepath.Join(t.TempDir(), "archive")
		first(dir)
		_, err := night(dir, fixtureRun("1"), paths, &brittleDisk{left: left})
		if err == nil {
			t.Logf("killed at each of %d changes", left)
			if left < 50 {
				t.Errorf("only %d changes", left)
			}
			return
		}
		if !errors.Is(err, errDead) {
			t.Fatalf("after %d changes: %v", left, err)
		}
		mustNight(t, dir, fixtureRun("1"), paths)
		sameContents(t, "killed", dropTimes(contents(t, dir)), dropTimes(want))
		if t.Failed() {
			t.Fatalf("killed after %d changes", left)
		}
	}
}

// TestDiskFullAnywhere fills the disk at every single change: until the new
// files take their places the archive must stay as it was.
func TestDiskFullAnywhere(t *testing.T) {
	_, first, paths := secondNight(t)
	for left := 0; ; left++ {
		dir := filepath.Join(t.TempDir(), "archive")
		first(dir)
		want := contents(t, dir)
		_, err := night(dir, fixtureRun("1"), paths, &brittleDisk{left: left, full: true})
		if err == nil {
			t.Logf("full at each of %d changes", left)
			return
		}
		var output *report.OutputError
		if !errors.As(err, &output) || !errors.Is(err, errFull) {
			t.Fatalf("after %d changes: %v", left, err)
		}
		sameContents(t, "full", contents(t, dir), want)
		if t.Failed() {
			t.Fatalf("full after %d changes", left)
		}
	}
}
