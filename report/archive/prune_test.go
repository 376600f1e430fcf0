package archive

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// prunedNames are the recordings with flights left, by month, and the ledger.
func prunedNames(t *testing.T, dir string) (flights []string, ledger string) {
	t.Helper()
	err := Flights(dir, "", func(month string, f *schemas.FlightRow) error {
		flights = append(flights, month+" "+f.RecordingName)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range contents(t, dir) {
		if strings.HasPrefix(name, ledgerFolder) {
			ledger += text
		}
	}
	slices.Sort(flights)
	return flights, ledger
}

// TestPruneRows: rows and names of old months go, those of a recording with a
// younger flight keep its name, and the next night brings nothing back.
func TestPruneRows(t *testing.T) {
	t.Parallel()
	dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
	paths := inputs{"old.csv": "2031-01 2031-01", "both.csv": "2031-01 2031-03", "young.csv": "2031-03", "undated.csv": "undated", "broken.csv": "bad"}.write(t, t.TempDir())
	mustNight(t, dir, run, paths)
	before := time.Date(2031, 2, 1, 0, 0, 0, 0, time.UTC)
	whole := contents(t, dir)

	if p, err := Prune(dir, before.Add(-time.Second), false, false); err != nil || len(p.Months) != 0 {
		t.Errorf("a month that is not over: %+v, %v", p, err)
	}
	want := PrunedRows{Months: []string{"2031-01"}, Recordings: 1}
	if p, err := Prune(dir, before, true, false); err != nil || !cmp.Equal(p, want) {
		t.Errorf("a trial: %+v, %v", p, err)
	}
	sameContents(t, "after a trial", contents(t, dir), whole)
	if p, err := Prune(dir, before, false, false); err != nil || !cmp.Equal(p, want) {
		t.Errorf("%+v, %v", p, err)
	}
	left := []string{"2031-03 both.csv", "2031-03 young.csv", "unknown undated.csv"}
	flights, ledger := prunedNames(t, dir)
	if diff := cmp.Diff(left, flights); diff != "" {
		t.Error(diff)
	}
	for name, there := range map[string]bool{"old.csv": false, "both.csv": true, "young.csv": true, "undated.csv": true, "broken.csv": true} {
		if strings.Contains(ledger, name) != there {
			t.Errorf("%s is in the ledger: %v", name, !there)
		}
	}
	if p, err := Prune(dir, before, false, false); err != nil || len(p.Months) != 0 {
		t.Errorf("again: %+v, %v", p, err)
	}

	if skipped := mustNight(t, dir, run, paths); skipped != 4 {
		t.Errorf("the next night skips %d of 4", skipped)
	}
	if flights, _ := prunedNames(t, dir); !cmp.Equal(left, flights) {
		t.Errorf("the next night brings back %v", flights)
	}
	mustNight(t, dir, fixtureRun("2"), paths) // all is scanned again
	if flights, _ := prunedNames(t, dir); !slices.Contains(flights, "2031-01 old.csv") || len(flights) != 6 {
		t.Errorf("scanned again there is %v", flights)
	}
}

// TestPruneRowsRefuses archives it could harm.
func TestPruneRowsRefuses(t *testing.T) {
	t.Parallel()
	paths := inputs{"old.csv": "2031-01"}.write(t, t.TempDir())
	before := time.Date(2032, 1, 1, 0, 0, 0, 0, time.UTC)

	key := testKey(t)
	withheld := fixtureRun("1")
	withheld.Identity = key
	tokens := filepath.Join(t.TempDir(), "archive")
	mustNight(t, tokens, withheld, paths)

	busy := filepath.Join(t.TempDir(), "archive")
	mustNight(t, busy, fixtureRun("1"), paths)
	a, err := Open(busy, fixtureRun("1"), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()

	cutOff := filepath.Join(t.TempDir(), "archive")
	mustNight(t, cutOff, fixtureRun("1"), paths)
	stageOne(t, cutOff, paths[0])

	for _, c := range []struct{ what, dir, says string }{
		{"with tokens", tokens, "identity is withheld"},
		{"in use", busy, "another run is using"},
		{"cut off", cutOff, "was cut off"},
		{"none", t.TempDir(), "is not an archive"},
	} {
		was := contents(t, c.dir)
		if _, err := Prune(c.dir, before, false, false); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.what, err)
		}
		sameContents(t, c.what, contents(t, c.dir), was)
	}
}

// stageOne leaves an archive with a staged input, as a killed run does.
func stageOne(t *testing.T, dir, path string) {
	t.Helper()
	run, in := fixtureRun("2"), Input{path, []string{path}, nil}
	a, err := Open(dir, run, []Input{in})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	sight, err := in.Look()
	if err != nil {
		t.Fatal(err)
	}
	if err := a.StageFailure(in, sight, later(), errors.New("is bad")); err != nil {
		t.Fatal(err)
	}
}

// TestPruneKilledAnywhere lets the process die at every change pruning makes; done
// again it must end as if nothing had happened.
func TestPruneKilledAnywhere(t *testing.T) {
	t.Parallel()
	paths := inputs{"old.csv": "2031-01", "older.csv": "2030-12 2031-01", "young.csv": "2031-03"}.write(t, t.TempDir())
	before := time.Date(2031, 2, 1, 0, 0, 0, 0, time.UTC)
	whole := filepath.Join(t.TempDir(), "whole")
	mustNight(t, whole, fixtureRun("1"), paths)
	var want map[string]string
	for left := -1; ; left++ { // the first one is not disturbed
		dir := filepath.Join(t.TempDir(), "archive")
		if err := os.CopyFS(dir, os.DirFS(whole)); err != nil {
			t.Fatal(err)
		}
		if left >= 0 {
			_, err := prune(dir, before, false, false, &brittleDisk{left: left})
			if err == nil {
				if left < 15 {
					t.Errorf("only %d changes", left)
				}
				return
			}
			if !errors.Is(err, errDead) {
				t.Fatalf("after %d changes: %v", left, err)
			}
		}
		if _, err := Prune(dir, before, false, false); err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = contents(t, dir)
		}
		if sameContents(t, "killed", contents(t, dir), want); t.Failed() {
			t.Fatalf("killed after %d changes", left)
		}
	}
}

// TestArchiveIsPrivate unless it is shared, and then as any file is.
func TestArchiveIsPrivate(t *testing.T) {
	t.Parallel()
	usual := filepath.Join(t.TempDir(), "usual")
	if err := os.WriteFile(usual, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	info, _ := os.Stat(usual)
	paths := inputs{"a.csv": "2031-01"}.write(t, t.TempDir())
	for share, want := range map[bool]os.FileMode{false: 0o600, true: info.Mode()} {
		dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
		run.Share = share
		a, err := Open(dir, run, nil)
		if err != nil {
			t.Fatal(err)
		}
		in := Input{paths[0], paths, nil}
		sight, _ := in.Look()
		sha, results := fixtureResults(run, "a.csv", "2031-01")
		if err := errors.Join(a.stageResults(in, sight, later(), sha, results), a.Commit()); err != nil {
			t.Fatal(err)
		}
		a.Close()
		for path, mode := range modes(t, dir) {
			if mode.IsRegular() && mode != want || mode.IsDir() && (mode.Perm()&0o077 != 0) != (want&0o077 != 0) {
				t.Errorf("share %v: %s has mode %v", share, path, mode)
			}
		}
	}
}

// TestWithheldLedger: size and times of a file are not in the ledger, and it is
// skipped the next night all the same.
func TestWithheldLedger(t *testing.T) {
	t.Parallel()
	key := testKey(t)
	file := filepath.Join(t.TempDir(), "a.csv")
	writeTestFile(t, file, strings.Repeat("2031-01 ", 1234))
	in := Input{Path: key.Path(file), Files: []string{file}}
	sight, err := in.Look()
	if err != nil {
		t.Fatal(err)
	}
	for _, run := range []*Run{fixtureRun("1"), {Version: "1", Profile: fixtureRun("1").Profile, Identity: key}} {
		dir := filepath.Join(t.TempDir(), "archive")
		stage := func() (skipped bool) {
			a, err := Open(dir, run, []Input{in})
			if err != nil {
				t.Fatal(err)
			}
			defer a.Close()
			if skipped, err = a.Unchanged(in, sight, later()); err != nil || skipped {
				return skipped
			}
			sum, _ := in.sum()
			if err := errors.Join(a.stageResults(in, sight, later(), run.Identity.Sum(sum), nil), a.Commit()); err != nil {
				t.Fatal(err)
			}
			return false
		}
		if stage() || !stage() {
			t.Error("the second night does not skip what the first did")
		}
		ledger := ""
		for name, text := range contents(t, dir) {
			ledger += name + text
		}
		sum, _ := in.sum()
		for _, tells := range []string{fmt.Sprint(sight.Size), fmt.Sprint(sight.Modified), sum} {
			if strings.Contains(ledger, tells) != (run.Identity == nil) {
				t.Errorf("with a key %v, the ledger tells %s", run.Identity != nil, tells)
			}
		}
	}
}

func writeTestFile(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func modes(t *testing.T, dir string) map[string]os.FileMode {
	t.Helper()
	all := map[string]os.FileMode{}
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err == nil {
			all[path] = info.Mode()
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}
