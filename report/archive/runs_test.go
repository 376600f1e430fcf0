package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// TestRunsKeepTheirFigures: two runs of one millisecond, as after a clock was set
// back, both keep theirs; a full disk costs no file that is there; and those
// of old runs can go.
func TestRunsKeepTheirFigures(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03"}.write(t, t.TempDir())
	mustNight(t, dir, fixtureRun("1"), paths)
	tables := contents(t, dir)
	began := time.Date(2031, 3, 4, 2, 30, 0, 7e6, time.FixedZone("", 3600))
	for i, want := range []string{"20310304T013000.007Z", "20310304T013000.007Z~2", "20310304T013000.007Z~3"} {
		a := openAt(t, dir, began)
		path, err := a.KeepRun([]byte{byte('a' + i)}, nothingToSay)
		a.Close()
		if err != nil || path != filepath.Join(dir, "runs", want, "batch.json") {
			t.Fatalf("%s: %v", path, err)
		}
	}
	after := contents(t, dir)
	for i, name := range []string{"007Z", "007Z~2", "007Z~3"} {
		key := filepath.Join("runs", "20310304T013000."+name, "batch.json")
		if after[key] != string(rune('a'+i)) {
			t.Errorf("%s holds %q", key, after[key])
		}
		tables[key] = after[key]
	}
	// SHA-256 of "a", "b" and "c" by sha256sum.
	list := `{"schema":"downlock checksums 1"}
{"key":"runs/20310304T013000.007Z/batch.json","bytes":1,"sha256":"ca978112ca1bbdcafac231b39a23dc4da786eff8147c4e72b9807785afee48bb"}
{"key":"runs/20310304T013000.007Z~2/batch.json","bytes":1,"sha256":"3e23e8160039594a33894f6564e1b1348bbd7a0088d42c4acb73eeaed59c009d"}
{"key":"runs/20310304T013000.007Z~3/batch.json","bytes":1,"sha256":"2e7d2c03a9507ae265ecf5b5356885a53393a2029d241394997265a1a25aefc6"}
`
	sum := sha256.Sum256([]byte(list))
	tables["runs/checksums"] = hex.EncodeToString(sum[:]) + "\n" + list
	sameContents(t, "with the figures of runs", after, tables)
	a := openAt(t, dir, began.Add(time.Hour))
	defer a.Close()
	for left := range 3 {
		a.disk = &brittleDisk{left: left, mode: full}
		if _, err := a.KeepRun([]byte("x"), nothingToSay); err == nil {
			t.Errorf("kept on a full disk, after %d changes", left)
		}
		sameContents(t, "a full disk", contents(t, dir), after)
	}
	a.Close()

	elsewhere := filepath.Join(t.TempDir(), "elsewhere")
	if err := os.CopyFS(elsewhere, os.DirFS(filepath.Join(dir, "runs", "20310304T013000.007Z"))); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(elsewhere, filepath.Join(dir, "runs", "20200101T000000.000Z")); err != nil {
		t.Fatal(err)
	}
	if removed, err := PruneRuns(dir, began, false, false); err != nil || len(removed) != 0 {
		t.Errorf("not older: %v, %v", removed, err)
	}
	removed, err := PruneRuns(dir, began.Add(time.Millisecond), false, false)
	if err != nil || len(removed) != 3 || !slices.Contains(removed, filepath.Join("runs", "20310304T013000.007Z~2")) {
		t.Errorf("older: %v, %v", removed, err)
	}
	if _, err := os.Stat(filepath.Join(elsewhere, "batch.json")); err != nil {
		t.Errorf("through a link: %v", err)
	}
}

func nothingToSay() error { return nil }

// openAt opens an archive for a run without inputs that began at a time.
func openAt(t *testing.T, dir string, began time.Time) *Archive {
	t.Helper()
	run := fixtureRun("1")
	run.Began = began
	a, err := open(dir, run, nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// The newest run by its time, whatever the order of names; marked ones and other files too.
func TestRunMonth(t *testing.T) {
	dir := t.TempDir()
	if got := RunMonth(dir); got != "" {
		t.Errorf("without a run: %q", got)
	}
	for _, name := range []string{"20310531T235959.999Z", "20310601T000000.000Z~2", "20310430T020000.000Z", "newest"} {
		if err := os.MkdirAll(filepath.Join(dir, "runs", name), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "runs", name, "batch.json"), []byte("{}"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if got := RunMonth(dir); got != "2031-06" {
		t.Errorf("%q, want the month of the newest run", got)
	}
}
