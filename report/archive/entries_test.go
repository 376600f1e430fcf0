package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// stagedEntry is the one staged input.
func stagedEntry(t *testing.T, dir string) stagedHead {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, stagingFolder, "*"+stagedEnding))
	if err != nil || len(found) != 1 {
		t.Fatal(found, err)
	}
	head, ok, err := readStaged(found[0], 0, nil)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	return head
}

// What is staged of an input that was scanned, that is known again by its hash, and that
// failed after that: entry by entry.
func TestStagedEntries(t *testing.T) {
	t.Parallel()
	dir, folder := filepath.Join(t.TempDir(), "archive"), t.TempDir()
	path := filepath.Join(folder, "a.csv")
	const content = "2031-03 undated"
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	in, run := Input{Path: path, Files: []string{path}}, fixtureRun("1")
	sight, err := in.Look()
	if err != nil {
		t.Fatal(err)
	}
	sha, results := fixtureResults(run, "a.csv", content)
	opened := func() *Archive {
		t.Helper()
		a, err := open(dir, run, []Input{in}, quickDisk{})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	written := time.Unix(0, max(sight.Modified, sight.Changed))
	sum := sha256.Sum256([]byte(path))
	same := func(what string, head stagedHead, want string) {
		t.Helper()
		e := head.Entry
		got := fmt.Sprintf("%s %v %s|%s|%s|%s|%d|%v|%v", e.Outcome, e.Flights, e.SHA256, e.Recording, head.Was, e.Cause, e.Size, e.Modified != 0, head.Scanned)
		if got != want {
			t.Errorf("%s: %s\nwant %s", what, got, want)
		}
		if e.Key != hex.EncodeToString(sum[:16]) || e.Path != path || head.Name != "a.csv" || e.Version != "1" || e.Profile != strings.Repeat("ab", 32) || !slices.Equal(e.Packs, []string{"builtin " + strings.Repeat("cd", 32)}) {
			t.Errorf("%s: %+v", what, head)
		}
	}
	a := opened()
	rows := Rows{Recording: sha}
	for _, r := range results {
		rows.Add(run, r)
	}
	if err := a.StageRows(in, sight, written.Add(time.Second), rows); err != nil {
		t.Fatal(err)
	}
	same("scanned too soon to trust its times", stagedEntry(t, dir), fmt.Sprintf("done 2 %s|%s|||%d|false|true", sha, sha, len(content)))
	if err := a.Commit(); err != nil {
		t.Fatal(err)
	}
	a.Close()

	a = opened()
	if ok, err := a.Unchanged(in, sight, written.Add(time.Hour)); err != nil || !ok {
		t.Fatal(ok, err)
	}
	same("known by its hash", stagedEntry(t, dir), fmt.Sprintf("done 2 %s|%s|%s||%d|true|false", sha, sha, sha, len(content)))
	if err := a.Commit(); err != nil {
		t.Fatal(err)
	}
	a.Close()

	if err := os.WriteFile(path, []byte("other bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	a = opened()
	defer a.Close()
	other, err := in.Look()
	if err != nil {
		t.Fatal(err)
	}
	if ok, err := a.Unchanged(in, other, written.Add(time.Hour)); err != nil || ok {
		t.Error("other bytes are unchanged", err)
	}
	if err := a.StageFailure(in, other, written.Add(time.Hour), errors.New("no sense in it\xff")); err != nil {
		t.Fatal(err)
	}
	bad := sha256.Sum256([]byte("other bytes"))
	same("failed", stagedEntry(t, dir), fmt.Sprintf("failed 0 %x|%s|%s|no sense in it\uFFFD|11|true|false", bad, sha, sha))
	a.Discard()
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := a.StageFailure(in, other, written.Add(time.Hour), errors.New("gone")); err != nil {
		t.Fatal(err)
	}
	same("failed, and cannot be read", stagedEntry(t, dir), fmt.Sprintf("failed 0 |%s|%s|gone|11|true|false", sha, sha))
}

// Any difference of the settings makes an input scanned again.
func TestSettingsByHand(t *testing.T) {
	t.Parallel()
	base := inputEntry{Profile: "p", Packs: []string{"a", "b"}, Version: "1", Registration: "r", FileDate: "d", Aerodromes: "e"}
	same := base
	same.Packs, same.Path, same.Flights = []string{"a", "b"}, "elsewhere", 3
	if !sameSetting(&base, same) {
		t.Error("the same settings differ")
	}
	for i, change := range []func(*inputEntry){
		func(e *inputEntry) { e.Profile = "q" }, func(e *inputEntry) { e.Packs = []string{"b", "a"} }, func(e *inputEntry) { e.Version = "2" },
		func(e *inputEntry) { e.Registration = "" }, func(e *inputEntry) { e.FileDate = "" }, func(e *inputEntry) { e.Aerodromes = "" },
	} {
		other := base
		change(&other)
		if sameSetting(&base, other) || sameSetting(&other, base) {
			t.Errorf("change %d makes no difference", i)
		}
	}
}

// A recording is named after the first of its holders by the alphabet; one without a name has
// no say; each input holds it once.
func TestHoldersByHand(t *testing.T) {
	t.Parallel()
	var r recordingEntry
	for _, h := range []holder{{"2", "b.csv"}, {"1", "c.csv"}, {"3", ""}, {"2", "a.csv"}} {
		r.hold(h)
	}
	if want := []holder{{"1", "c.csv"}, {"2", "a.csv"}, {"3", ""}}; !slices.Equal(r.Holders, want) || r.name() != "a.csv" {
		t.Errorf("%v, named %s", r.Holders, r.name())
	}
	r.leave("2")
	r.leave("9")
	if r.name() != "c.csv" || len(r.Holders) != 2 {
		t.Errorf("%v, named %s", r.Holders, r.name())
	}
	r.leave("1")
	if r.name() != "" {
		t.Errorf("named %q", r.name())
	}
	if a, b := inputShard("/x/a.csv"), inputShard("/x/b.csv"); a != b || a == inputShard("/y/a.csv") {
		t.Errorf("a folder has the shards %s and %s", a, b)
	}
}
