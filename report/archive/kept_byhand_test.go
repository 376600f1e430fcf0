package archive

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// TestCheckByHand: what a reader is told of an archive that is sound, changing, damaged, foreign, or
// without a list.
func TestCheckByHand(t *testing.T) {
	t.Parallel()
	const fine = "one two three"
	part := func(table string) string { return filepath.ToSlash(partPath(table, "2031-03")) }
	events, flights, audits := part("events"), part("flights"), part("audits")
	list := func() *checksums {
		return &checksums{files: map[string]listedFile{events: {Key: events, fileSum: sumOfText([]byte(fine))}, flights: {Key: flights, fileSum: sumOfText([]byte(fine))},
			"ledger/inputs/000.jsonl": {Key: "ledger/inputs/000.jsonl", fileSum: sumOfText([]byte(fine))}}}
	}
	withoutCheck, withLine := `{"key":"00","path":"/a"}`, string(withCheck([]byte(`{"key":"00","path":"/a"}`)))
	for _, c := range []struct {
		name    string
		files   map[string]string
		list    *checksums
		faults  string // the files, by their base names and causes
		doubts  int
		listed  bool
		problem string // of the list
	}{
		{name: "sound", files: map[string]string{events: fine, flights: fine}, list: list(), listed: true}, // the shard is for verify to miss
		{name: "damaged", files: map[string]string{events: fine, flights: "one two threE"}, list: list(), listed: true, faults: flights + " its bytes are not those downlock wrote"},
		{name: "cut", files: map[string]string{events: "one", flights: fine}, list: list(), listed: true, faults: events + " it has 3 bytes where downlock wrote 13"},
		{name: "missing", files: map[string]string{flights: fine}, list: list(), listed: true, faults: events + " the file is missing"},
		{name: "foreign", files: map[string]string{events: fine, flights: fine, audits: fine}, list: list(), listed: true, faults: audits + " the file is none of this archive"},
		{name: "two", files: map[string]string{flights: "x"}, list: list(), listed: true, faults: events + " the file is missing, " + flights + " it has 1 bytes where downlock wrote 13"},
		{name: "changing", files: map[string]string{events: fine, flights: "old"}, listed: true, doubts: 1, list: func() *checksums {
			c, before := list(), sumOfText([]byte("old"))
			f := c.files[flights]
			f.Before = &before
			c.files[flights], c.Changing = f, true
			return c
		}()},
		{name: "no list, no checks", files: map[string]string{events: "x", "ledger/inputs/000.jsonl": withoutCheck + "\n"}},
		{name: "no list, no ledger", files: map[string]string{events: "x"}},
		{name: "a list that is lost", files: map[string]string{events: fine, "ledger/inputs/000.jsonl": withLine + "\n"}, problem: "the list of checksums is missing"},
		{name: "a list that is lost, a line without its end", files: map[string]string{events: fine, "ledger/inputs/000.jsonl": withoutCheck + "\n", "ledger/recordings/00.jsonl": withLine}, problem: "the list of checksums is missing"},
		{name: "a damaged list", files: map[string]string{checksumsName: "none"}, problem: "does not have the checksum of its first line"},
	} {
		dir := layOut(t, c.files)
		if c.list != nil {
			writeTestFile(t, filepath.Join(dir, checksumsName), string(c.list.text()))
		}
		doubts, listed, err := Check(dir)
		var faults schemas.Problems
		var got []string
		if errors.As(err, &faults) {
			for _, f := range faults {
				name, _ := filepath.Rel(dir, f.File)
				got = append(got, filepath.ToSlash(name)+" "+causeOf(f))
			}
		}
		if strings.Join(got, ", ") != c.faults || listed != c.listed || len(doubts) != c.doubts || (err == nil) != (c.faults == "" && c.problem == "") {
			t.Errorf("%s: %v, listed %v, %q, %v", c.name, doubts, listed, got, err)
		}
		var problem *schemas.Problem
		if c.problem != "" && (!errors.As(err, &problem) || !strings.Contains(problem.Cause, c.problem) || filepath.Base(problem.File) != checksumsName) {
			t.Errorf("%s: %v", c.name, err)
		}
		a := &Archive{dir: dir}
		if err := a.loadChecksums(); (err == nil) != (c.problem == "") || (a.sums != nil) != (c.list != nil) {
			t.Errorf("%s: a run takes %v, %v", c.name, a.sums, err)
		}
	}
}

// TestPartNames: which files are parts.
func TestPartNames(t *testing.T) {
	t.Parallel()
	for key, want := range map[string]string{"tables/events/month=2031-03/part.parquet": "events 2031-03 true", "tables/events/month=/part.parquet": "events  true",
		"tables/verdicts/part.parquet": "  false", "ledger/events/month=2031-03/part.parquet": "  false", "tables/events/2031-03/part.parquet": "events 2031-03 false",
		"tables/events/month=2031-03/a/part.parquet": "  false"} {
		table, month, ok := isPart(key)
		if got := fmt.Sprint(table, " ", month, " ", ok); got != want {
			t.Errorf("%s: %s, want %s", key, got, want)
		}
	}
}

// TestPrunedRuns: in a trial nothing goes; what goes leaves the list before it; what is no run stays.
func TestPrunedRuns(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	began := time.Date(2031, 3, 4, 1, 30, 0, 0, time.UTC)
	for day := range 3 {
		a := openAt(t, dir, began.AddDate(0, 0, day))
		if _, err := a.KeepRun([]byte("{}"), nothingToSay); err != nil {
			t.Fatal(err)
		}
		a.Close()
	}
	// "2030" is no time; the next has no figures; the one after is a file.
	for _, name := range []string{"2030/batch.json", "20200101T000000.000Z/other", "20200102T000000.000Z", "20310304T013000.000Z/other"} {
		path := filepath.Join(dir, runsFolder, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		writeTestFile(t, path, "x")
	}
	before, cut := contents(t, dir), began.AddDate(0, 0, 2)
	want := []string{filepath.Join(runsFolder, "20310304T013000.000Z"), filepath.Join(runsFolder, "20310305T013000.000Z")}
	if _, err := PruneRuns(t.TempDir(), cut, false, false); err == nil || !strings.Contains(err.Error(), "is not an archive") {
		t.Errorf("no archive: %v", err)
	}
	if err := os.MkdirAll(filepath.Join(dir, tablesFolder), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, trial := range []bool{true, false} {
		removed, err := PruneRuns(dir, cut, trial, false)
		if err != nil || !slices.Equal(removed, want) {
			t.Errorf("trial %v: %v, %v", trial, removed, err)
		}
		if trial {
			sameContents(t, "a trial", contents(t, dir), before)
		}
	}
	wanted := maps.Clone(before)
	delete(wanted, filepath.ToSlash(filepath.Join(want[0], batchName)))
	delete(wanted, filepath.ToSlash(filepath.Join(want[1], batchName)))
	list := &checksums{files: map[string]listedFile{}}
	last := runsFolder + "/20310306T013000.000Z/batch.json"
	list.put(listedFile{Key: last, fileSum: sumOfText([]byte("{}"))})
	wanted["runs/checksums"] = string(list.text())
	sameContents(t, "pruned", contents(t, dir), wanted)
	if fileExists(filepath.Join(dir, want[1])) || !fileExists(filepath.Join(dir, want[0])) {
		t.Error("an empty folder stays, or one with a file goes")
	}
	if removed, err := PruneRuns(dir, cut, false, false); err != nil || len(removed) != 0 {
		t.Errorf("again: %v, %v", removed, err)
	}
	if removed, err := PruneRuns(dir, cut.Add(time.Second), false, false); err != nil || len(removed) != 1 || fileExists(filepath.Join(dir, removed[0])) {
		t.Errorf("one: %v, %v", removed, err)
	}
	if err := os.RemoveAll(filepath.Join(dir, runsFolder)); err != nil {
		t.Fatal(err)
	}
	if removed, err := PruneRuns(dir, cut, false, false); err != nil || len(removed) != 0 {
		t.Errorf("without runs: %v, %v", removed, err)
	}
}

// TestAdoptedRuns: figures that are in no list, as from before there was one, are in the next.
func TestAdoptedRuns(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	began := time.Date(2031, 3, 4, 1, 30, 0, 0, time.UTC)
	for day := range 3 {
		a := openAt(t, dir, began.AddDate(0, 0, day))
		if _, err := a.KeepRun(fmt.Appendf(nil, "%d", day), nothingToSay); err != nil {
			t.Fatal(err)
		}
		a.Close()
		if day == 0 {
			if err := os.Remove(filepath.Join(dir, runsFolder, checksumsName)); err != nil {
				t.Fatal(err)
			}
		}
		if fileExists(filepath.Join(dir, newFolder)) {
			t.Error("the folder for new files stays")
		}
		if day == 1 { // one that is listed before it, and none after
			foreign := filepath.Join(dir, runsFolder, "20400101T000000.000Z", batchName)
			if err := errors.Join(os.MkdirAll(filepath.Dir(foreign), 0o700), os.WriteFile(foreign, []byte("x"), 0o600)); err != nil {
				t.Fatal(err)
			}
		}
	}
	list, err := runChecksums(dir)
	if err != nil || len(list.files) != 4 || list.files["runs/20400101T000000.000Z/batch.json"].fileSum != sumOfText([]byte("x")) {
		t.Fatalf("%+v, %v", list, err)
	}
	for day := range 3 {
		key := runsFolder + "/" + began.AddDate(0, 0, day).Format(runTime) + "/batch.json"
		if list.files[key].fileSum != sumOfText(fmt.Append(nil, day)) {
			t.Errorf("%s is listed as %+v", key, list.files[key])
		}
	}
}

// TestRaisedByHand: which figures of a run say its events by their exit code. The codes are those of
// schemas/batch.schema.json.
func TestRaisedByHand(t *testing.T) {
	t.Parallel()
	for figures, want := range map[string]bool{`{"exit_code":0}`: true, `{"exit_code":6}`: true, `{"exit_code":5}`: true, `{"exit_code":4}`: false, `{"exit_code":127}`: true,
		`{"exit_code":128}`: false, `{"exit_code":130}`: false, `{"exit_code":129}`: false, `{}`: true, `{"exit_code":0`: false, "": false, `{"exit_code":"0"}`: false} {
		if raised([]byte(figures)) != want {
			t.Errorf("%s: %v", figures, !want)
		}
	}
}

// TestLockHolder: the note of who has the lock is bounded, begins at the second byte, and replaces
// a longer one.
func TestLockHolder(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "lock")
	if writeHolder(path, "x"); fileExists(path) {
		t.Error("a note makes a lock")
	}
	writeTestFile(t, path, strings.Repeat("y", 500))
	if got := readHolder(path); got != strings.Repeat("y", 200) {
		t.Errorf("%d bytes are read", len(got))
	}
	writeHolder(path, "process 1\n")
	if text, _ := os.ReadFile(path); string(text) != " process 1\n" || readHolder(path) != "process 1" {
		t.Errorf("%q", text)
	}
	if got := readHolder(path + ".none"); got != "" {
		t.Errorf("%q", got)
	}
}

// TestMarkByHand: what the file identity may say.
func TestMarkByHand(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{"identity withheld; key check 0123\n": "0123", "identity withheld; key check 0123": "0123", "identity withheld; key check \n": "", "0123\n": "",
		"identity withheld; key check " + strings.Repeat("x", 300): strings.Repeat("x", 200-len("identity withheld; key check "))} {
		dir := layOut(t, map[string]string{markName: text})
		if check, err := Withheld(dir); check != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v", text, check, err)
		}
	}
	for line, want := range map[string]bool{`{"key":"00","path":"/a"}`: true, `{"key":"00","path":"d-01/r-02"}`: false, `{"key":"00","path":"d-01/r-02"}` + "\n" + `{"key":"01","path":"/a"}`: false, `{"key":"00"}`: true, `no JSON`: true, `{"path":"a`: true} {
		dir := layOut(t, map[string]string{"ledger/inputs/000.jsonl": line + "\n"})
		if _, err := Withheld(dir); (err == nil) != want {
			t.Errorf("%s: %v", line, err)
		}
	}
	key := testKey(t)
	for _, c := range []struct {
		files map[string]string
		says  string
	}{{nil, ""}, {map[string]string{"ledger/a": ""}, "holds names"}, {map[string]string{"staging/a": ""}, "holds names"}, {map[string]string{markName: "identity withheld; key check 00\n"}, "another key"},
		{map[string]string{markName: markText + key.Check() + "\n", "tables/a": ""}, ""}} {
		err := CheckKey(layOut(t, c.files), key)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v, want %q", c.files, err, c.says)
		}
	}
}

// TestWriteFileFails: a file that could not be written, or not closed, is removed, and the error names its place.
func TestWriteFileFails(t *testing.T) {
	t.Parallel()
	for left, want := range []bool{false, false, false, true} { // creating, writing, syncing
		path := filepath.Join(t.TempDir(), "new")
		err := writeFile(&brittleDisk{left: left, mode: failing}, path, "place", true, writesX)
		var failed *output.Error
		if (err == nil) != want || fileExists(path) != want || err != nil && (!errors.As(err, &failed) || failed.Path != "place") {
			t.Errorf("after %d changes: %v", left, err)
		}
	}
	path := filepath.Join(t.TempDir(), "new")
	if err := writeFile(closingDisk{}, path, "place", true, writesX); !errors.Is(err, errIO) || fileExists(path) {
		t.Errorf("closing: %v", err)
	}
	deep := filepath.Join(t.TempDir(), "a", "b")
	writeTestFile(t, path, "x")
	if err := (realDisk{}).rename(path, deep); err != nil || !fileExists(deep) {
		t.Errorf("into a folder that is not there: %v", err)
	}
}

func writesX(w io.Writer) error {
	_, err := w.Write([]byte("x"))
	return err
}

// closingDisk cannot close a file.
type closingDisk struct{ quickDisk }

type unclosedFile struct{ outFile }

func (f unclosedFile) Close() error { return errors.Join(f.outFile.Close(), errIO) }

func (d closingDisk) create(path string) (outFile, error) {
	f, err := d.quickDisk.create(path)
	return unclosedFile{f}, err
}

// TestRunOnDisk: a commit has the staged files and their folder on disk before anything takes a place,
// and a new folder's name before that.
func TestRunOnDisk(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	d := &notedDisk{dir: dir}
	if err := wholeRun(dir, fixtureRun("1"), inputs{"a.csv": "2031-03", "b.csv": "2031-04"}.write(t, t.TempDir()), d, func([]string) {}); err != nil {
		t.Fatal(err)
	}
	changing := slices.IndexFunc(d.log, func(e diskEvent) bool { return e.kind == renamed && e.to == checksumsName })
	staged := map[string]int{}
	for i, e := range d.log {
		if e.isSync() && (e.path == stagingFolder || filepath.Dir(e.path) == stagingFolder) {
			if staged[e.path]++; i > changing {
				t.Errorf("%s is synced late", e.path)
			}
		}
	}
	if len(staged) != 3 || !fileExists(filepath.Join(dir, verdictsPart)) {
		t.Errorf("synced: %v", staged)
	}
	last := slices.IndexFunc(d.log, func(e diskEvent) bool { return e.kind == renamed && strings.HasPrefix(e.to, ledgerFolder) })
	if last < 1 || d.log[last-1].kind != syncedFolder || !strings.HasPrefix(d.log[last-1].path, tablesFolder) {
		t.Error("the ledger is there before its tables are on disk")
	}
	for i, e := range d.log {
		if e.kind == renamed && !strings.HasPrefix(e.to, stagingFolder) &&
			!slices.ContainsFunc(d.log[i:], func(s diskEvent) bool { return s.kind == syncedFolder && s.path == filepath.Dir(e.to) }) {
			t.Errorf("the folder of %s is not synced after it", e.to)
		}
		if e.kind != madeFolder || strings.HasPrefix(e.path, newFolder) || e.path == "." {
			continue
		}
		above := filepath.Dir(e.path)
		if !slices.ContainsFunc(d.log[i:], func(e diskEvent) bool { return e.kind == syncedFolder && e.path == above }) {
			t.Errorf("%s is made, and %s not synced after it", e.path, above)
		}
	}
}
