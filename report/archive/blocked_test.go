package archive

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/report/output"
	"downlock/schemas"
)

// TestDamagedMonth: a damaged part costs the inputs of its month alone. The others are in
// the archive as in one where those inputs do not exist, the error says what to do, and once the
// file is put back the next night brings the rest.
func TestDamagedMonth(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	first := inputs{"a.csv": "2031-03", "b.csv": "2031-04", "c.csv": "2031-05"}
	// Of the second night a moves from the damaged month to another, c into it.
	second := inputs{"d.csv": "2031-03 ", "e.csv": "2031-04 ", "f.csv": "2031-04 2031-06", "a.csv": "2031-07", "c.csv": "2031-03  "}
	sound, dir := filepath.Join(t.TempDir(), "archive"), filepath.Join(t.TempDir(), "archive")
	paths := first.write(t, folder)
	mustNight(t, dir, fixtureRun("1"), paths)
	mustNight(t, sound, fixtureRun("1"), paths)
	path := filepath.Join(dir, "tables/evaluations/month=2031-03/part.parquet")
	right, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	wrong := []byte(strings.Replace(string(right), "PAR1", "PAR2", 1))
	if err := os.WriteFile(path, wrong, 0o600); err != nil {
		t.Fatal(err)
	}
	paths = second.write(t, folder)
	mustNight(t, sound, fixtureRun("1"), paths[3:]) // e and f
	_, err = night(dir, fixtureRun("1"), paths, quickDisk{})
	var unmerged *Unmerged
	var problem *schemas.Problem
	if !errors.As(err, &unmerged) || unmerged.Inputs != 3 || !errors.As(err, &problem) || problem.File != path || !strings.Contains(problem.Hint, "downlock verify --archive") || !strings.Contains(problem.Hint, "in the way of 3, which") {
		t.Fatalf("the error is %v", err)
	}
	want := contents(t, sound)
	want["tables/evaluations/month=2031-03/part.parquet"] = string(wrong)
	sameContents(t, "all but the damaged month", contents(t, dir), want)

	if err := os.WriteFile(path, right, 0o600); err != nil {
		t.Fatal(err)
	}
	if skipped := mustNight(t, dir, fixtureRun("1"), paths); skipped != 2 {
		t.Errorf("%d inputs are skipped, not the two that are in the archive", skipped)
	}
	mustNight(t, sound, fixtureRun("1"), paths)
	sameContents(t, "put back", contents(t, dir), contents(t, sound))
}

// TestDamagedMonthOfAKilledRun: what a killed run left for a damaged month does not keep
// the next run from beginning.
func TestDamagedMonthOfAKilledRun(t *testing.T) {
	t.Parallel()
	folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03"}.write(t, folder))
	paths := inputs{"b.csv": "2031-03 ", "c.csv": "2031-04"}.write(t, folder)
	for _, p := range paths {
		stageOne(t, dir, p)
	}
	killed, err := open(dir, fixtureRun("1"), nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	sha, results := fixtureResults(fixtureRun("1"), "b.csv", "2031-03 ")
	if err := killed.stageResults(Input{paths[0], paths[:1], nil}, Sight{Size: 8}, later(), sha, results); err != nil {
		t.Fatal(err)
	}
	killed.Close()
	part := filepath.Join(dir, "tables/events/month=2031-03/part.parquet")
	if err := os.Truncate(part, 100); err != nil {
		t.Fatal(err)
	}
	a, err := open(dir, fixtureRun("1"), nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, stagingFolder, "*")); len(left) > 0 {
		t.Errorf("%v is left once the next run begins", left)
	}
	a.Close()
	_, err = night(dir, fixtureRun("1"), paths, quickDisk{})
	var unmerged *Unmerged
	if !errors.As(err, &unmerged) || len(unmerged.Problems) != 1 {
		t.Errorf("the error is %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "tables/events/month=2031-04/part.parquet")); err != nil {
		t.Error(err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, stagingFolder, "*")); len(left) > 0 {
		t.Errorf("%v is left", left)
	}
}

// TestLockRemoved: a run whose lock file goes, or is exchanged, or whose archive goes,
// writes nothing more into it, and leaves what another run may be at.
func TestLockRemoved(t *testing.T) {
	t.Parallel()
	for what, remove := range map[string]func(dir string) error{
		"removed": func(dir string) error { return os.Remove(filepath.Join(dir, lockName)) },
		"exchanged": func(dir string) error {
			other := filepath.Join(dir, "other")
			if err := os.WriteFile(other, nil, 0o600); err != nil {
				return err
			}
			return os.Rename(other, filepath.Join(dir, lockName))
		},
		"moved": func(dir string) error { return os.Rename(dir, dir+"-moved") },
	} {
		folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
		mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03"}.write(t, folder))
		paths := inputs{"b.csv": "2031-04", "c.csv": "2031-05"}.write(t, folder)
		list := []Input{{paths[0], paths[:1], nil}, {paths[1], paths[1:], nil}}
		a, err := open(dir, fixtureRun("1"), list, quickDisk{})
		if err != nil {
			t.Fatal(err)
		}
		stage := func(in Input) error {
			sha, results := fixtureResults(fixtureRun("1"), filepath.Base(in.Path), "2031-04 "+in.Path)
			return a.stageResults(in, Sight{}, later(), sha, results)
		}
		if err := stage(list[0]); err != nil {
			t.Fatal(err)
		}
		if err := remove(dir); err != nil {
			t.Fatal(err)
		}
		if what == "moved" {
			dir += "-moved"
		}
		before := contents(t, dir)
		var lost *LockLostError
		if err := stage(list[1]); !errors.As(err, &lost) || lost.Hint() == "" {
			t.Errorf("%s: staging: %v", what, err)
		}
		if err := a.Commit(); !errors.As(err, &lost) {
			t.Errorf("%s: %v", what, err)
		}
		var written *output.Error
		if _, err := a.KeepRun([]byte("x"), nothingToSay); err == nil || errors.As(err, &written) {
			t.Errorf("%s: the figures: %v", what, err)
		}
		a.Close()
		sameContents(t, what, contents(t, dir), before)
		if what == "removed" { // the next run takes it, and finishes
			mustNight(t, dir, fixtureRun("1"), nil)
			if _, err := os.Stat(filepath.Join(dir, "tables/events/month=2031-04/part.parquet")); err != nil {
				t.Error(err)
			}
		}
	}
}

// TestLockIsTheOneOthersFind: a lock on a file that was removed before it was locked is
// none.
func TestLockIsTheOneOthersFind(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	first, err := lockArchive(dir, false, "")
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	if err := os.Remove(filepath.Join(dir, lockName)); err != nil {
		t.Fatal(err)
	}
	second, err := lockArchive(dir, false, "")
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	a := &Archive{dir: dir, lock: second}
	if err := a.stillOurs(); err != nil {
		t.Error(err)
	}
	if err := (&Archive{dir: dir, lock: first}).stillOurs(); err == nil {
		t.Error("the lock on the removed file passes")
	}
}
