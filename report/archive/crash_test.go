package archive

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"downlock/report/output"
	"downlock/testdata/effort"
)

// nightToDisturb makes the night of the crash tests: an archive with a first night
// in it, and a second in which files are new, corrected, swapped, bad and
// unchanged, and one recording is held by an input less. It returns a maker of
// copies of the archive, and the inputs of the second night.
func nightToDisturb(t *testing.T) (archiveBefore func() string, paths []string) {
	folder, base := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	before := inputs{"a.csv": "2031-03 2031-04", "b.csv": "2031-03", "c.csv": "undated", "d.csv": "2031-05", "e.csv": "2031-05", "f.csv": "2031-06"}
	after := inputs{"a.csv": "2031-03", "b.csv": "2031-03 2031-04", "c.csv": "bad c", "d.csv": "2031-04 ", "g.csv": "2031-04  ", "f.csv": "2031-06"}
	mustNight(t, base, fixtureRun("1"), before.write(t, folder))
	paths = after.write(t, folder)
	return func() string {
		dir := filepath.Join(t.TempDir(), "archive")
		if err := os.CopyFS(dir, os.DirFS(base)); err != nil {
			t.Fatal(err)
		}
		return dir
	}, paths
}

// stride is how many changes the crash tests go on by.
func stride() int { return effort.Of(7, 3, 1) }

// TestKilledAnywhere lets the process die at every single change it makes to the
// disk; after one rerun the bytes must be those of a run nobody disturbed.
func TestKilledAnywhere(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	undisturbed := archiveBefore()
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	want := contents(t, undisturbed)
	if len(want) < 15 {
		t.Fatalf("only %d files", len(want))
	}
	for left := 0; ; left += stride() {
		dir := archiveBefore()
		_, err := night(dir, fixtureRun("1"), paths, &brittleDisk{left: left})
		if err == nil {
			t.Logf("killed within the first %d changes", left)
			if left < 50 {
				t.Errorf("only %d changes", left)
			}
			return
		}
		if !errors.Is(err, errDead) {
			t.Fatalf("after %d changes: %v", left, err)
		}
		mustNight(t, dir, fixtureRun("1"), paths)
		sameContents(t, "killed", contents(t, dir), want)
		if t.Failed() {
			t.Fatalf("killed after %d changes", left)
		}
	}
}

// TestDiskFullAnywhere fills the disk at every single change: until the new
// files take their places the archive must stay as it was.
func TestDiskFullAnywhere(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	want := contents(t, archiveBefore())
	for left := 0; ; left += stride() {
		dir := archiveBefore()
		_, err := night(dir, fixtureRun("1"), paths, &brittleDisk{left: left, mode: full})
		if err == nil {
			t.Logf("full within the first %d changes", left)
			return
		}
		var failed *output.Error
		if !errors.As(err, &failed) || !errors.Is(err, errFull) {
			t.Fatalf("after %d changes: %v", left, err)
		}
		sameContents(t, "full", contents(t, dir), want)
		if t.Failed() {
			t.Fatalf("full after %d changes", left)
		}
	}
}

// TestDiskErrorAnywhere has every single change to the disk fail once with an input/output
// error: writes, syncs, renamings, removals. The error names a file; the archive is as it was,
// or a run over no inputs finishes the change; and the next night leaves what it always does.
func TestDiskErrorAnywhere(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	before, undisturbed := contents(t, archiveBefore()), archiveBefore()
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	after := contents(t, undisturbed)
	failed, changing := 0, 0
	for left := 0; ; left += 1 + stride() {
		dir, d := archiveBefore(), &brittleDisk{left: left, mode: failing}
		_, err := night(dir, fixtureRun("1"), paths, d)
		if d.left >= 0 && err == nil {
			break
		}
		if err != nil {
			failed++
			var written *output.Error
			if !errors.As(err, &written) || !errors.Is(err, errIO) || written.Path == "" {
				t.Fatalf("change %d: %v", left, err)
			}
		}
		staged, _ := filepath.Glob(filepath.Join(dir, stagingFolder, "*"))
		mustNight(t, dir, fixtureRun("1"), nil)
		want := before
		if len(staged) > 0 || err == nil || differ(contents(t, dir), before) != "" {
			want = after
			changing++
		}
		sameContents(t, "a run over nothing", contents(t, dir), want)
		mustNight(t, dir, fixtureRun("1"), paths)
		sameContents(t, "the next night", contents(t, dir), after)
		if t.Failed() {
			t.Fatalf("change %d", left)
		}
	}
	if failed == 0 || changing == 0 || failed == changing {
		t.Errorf("%d failed, %d of them while new files took their places", failed, changing)
	}
}

// TestStuckAnywhere lets every renaming fail from some change on. When new files
// were taking their places a run over no inputs at all must finish the change;
// before, the archive must be as it was.
func TestStuckAnywhere(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	before, undisturbed := contents(t, archiveBefore()), archiveBefore()
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	after := contents(t, undisturbed)
	changing := 0
	for left := 0; ; left += stride() {
		dir := archiveBefore()
		_, err := night(dir, fixtureRun("1"), paths, &brittleDisk{left: left, mode: stuck})
		if err == nil {
			break
		}
		want := before
		if staged, _ := filepath.Glob(filepath.Join(dir, stagingFolder, "*")); len(staged) > 0 {
			want = after
			changing++
		}
		mustNight(t, dir, fixtureRun("1"), nil)
		sameContents(t, "stuck", contents(t, dir), want)
		if t.Failed() {
			t.Fatalf("stuck after %d changes", left)
		}
	}
	if changing == 0 {
		t.Error("never stuck while new files took their places")
	}
}
