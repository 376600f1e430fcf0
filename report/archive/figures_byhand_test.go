package archive

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// A file of 64 KiB has no tail, and one of a byte more has one, which is then all that a
// reader sums.
func TestTailOfTheLength(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a")
	for size, tail := range map[int]bool{0: false, 1: false, 65_535: false, 65_536: false, 65_537: true, 100_000: true} {
		data := bytes.Repeat([]byte{7}, size)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		whole, err := sumFile(path)
		if err != nil || whole != sumOfText(data) || (whole.Tail != "") != tail || whole.Bytes != int64(size) || whole.SHA256 == "" {
			t.Errorf("%d bytes: %+v, %v", size, whole, err)
		}
		want := whole
		if tail {
			want.SHA256 = ""
		}
		if got, err := tailOf(path); err != nil || got != want || !got.exists() {
			t.Errorf("%d bytes: %+v, want %+v, %v", size, got, want, err)
		}
	}
}

// A list begins with its schema; each line after it is a file of the archive.
func TestListsByHand(t *testing.T) {
	const head = `{"schema":"downlock checksums 1"}`
	for text, want := range map[string]string{
		"":                            `it should begin as "downlock checksums 1"`,
		"no JSON\n":                   `it should begin as "downlock checksums 1"`,
		`{"schema":"another"}` + "\n": `it should begin as "downlock checksums 1"`,
		"{}\n":                        `it should begin as "downlock checksums 1"`,
		head + "\n":                   "",
		head:                          "",
		head + "\n{\"key\":\"ledger/inputs/a.jsonl\",\"bytes\":3}\n": "",
		head + "\nno JSON\n":                    "invalid character",
		head + "\n{\"key\":\"/etc/passwd\"}\n":  `"/etc/passwd" is not a file of an archive`,
		head + "\n{\"key\":\"../ledger\"}\n":    `"../ledger" is not a file of an archive`,
		head + "\n{\"key\":\"a/../../b\"}\n":    `is not a file of an archive`,
		head + "\n{\"key\":\"\",\"bytes\":3}\n": `"" is not a file of an archive`,
	} {
		c, err := parseChecksums(checkedText([]byte(text)))
		if want == "" && (err != nil || len(c.files) != strings.Count(text, `"key"`)) || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// What is said of an archive whose parts are those of the list.
func TestDoubtsByHand(t *testing.T) {
	list := &checksums{files: map[string]listedFile{"tables/a": {}, "tables/b": {Lost: []string{"1"}}, "tables/c": {Lost: []string{"1", "2"}}}}
	said := func() (lines []string) {
		for _, p := range listDoubts("archive", list) {
			lines = append(lines, filepath.ToSlash(p.File)+": "+p.Cause)
		}
		return lines
	}
	const lost = " of this month lost rows here that are not back yet, so that results lack them"
	want := []string{"archive/tables/b: 1 recording" + lost, "archive/tables/c: 2 recordings" + lost}
	if got := said(); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	list.Changing = true
	if got := said(); !slices.Equal(got, append([]string{"archive: new files are taking the places of old ones, so that results may mix both"}, want...)) {
		t.Errorf("%q", got)
	}
}

// A damaged shard is in the way of an input that has its entry there, and of one that was
// scanned whose recording has, or the one it held before; a damaged month of one that was
// scanned with changes in it.
func TestBlockedByHand(t *testing.T) {
	shard := func(sha string) string { return recordingShard(sha) }
	const one, two, three = "00ff", "11ff", "22ff"
	p := &plan{months: map[string][]*recordingChange{"2031-03": {{sha: one}}, "2031-04": {{sha: two}}}}
	for _, c := range []struct {
		b    blocked
		s    staged
		want bool
	}{
		{blocked{shard: "inputs/1"}, staged{shard: "inputs/1"}, true},
		{blocked{shard: "inputs/1"}, staged{shard: "inputs/2", sha: one, scanned: true}, false},
		{blocked{shard: shard(one)}, staged{shard: "inputs/1", sha: one, scanned: true}, true},
		{blocked{shard: shard(one)}, staged{shard: "inputs/1", sha: one}, false},
		{blocked{shard: shard(one)}, staged{shard: "inputs/1", sha: two, was: one, scanned: true}, true},
		{blocked{shard: shard(one)}, staged{shard: "inputs/1", sha: two, was: one}, false},
		{blocked{shard: shard(one)}, staged{shard: "inputs/1", sha: two, was: three, scanned: true}, false},
		{blocked{shard: shard(one)}, staged{shard: "inputs/1", sha: two, scanned: true}, false},
		{blocked{month: "2031-03"}, staged{shard: "inputs/1", sha: one, scanned: true}, true},
		{blocked{month: "2031-03"}, staged{shard: "inputs/1", sha: one}, false},
		{blocked{month: "2031-03"}, staged{shard: "inputs/1", sha: three, was: one, scanned: true}, true},
		{blocked{month: "2031-03"}, staged{shard: "inputs/1", sha: two, scanned: true}, false},
		{blocked{month: "2031-05"}, staged{shard: "inputs/1", sha: one, scanned: true}, false},
	} {
		if got := c.b.holds(p, &c.s); got != c.want {
			t.Errorf("%+v holds %+v: %v", c.b, c.s, got)
		}
	}
	var u Unmerged
	u.note(&schemas.Problem{File: "a"})
	u.note(&schemas.Problem{File: "b"})
	u.note(&schemas.Problem{File: "a", Cause: "once more"})
	if len(u.Problems) != 2 || u.Problems[0].File != "a" || u.Problems[1].File != "b" {
		t.Errorf("%v", u.Problems)
	}
}

// A part has its rows back of a recording whose new ones are at hand, or that no input holds
// any more.
func TestStillLostByHand(t *testing.T) {
	a := &Archive{}
	if a.stillLost("tables/a", nil) != nil {
		t.Error("lost without a list")
	}
	a.sums = &checksums{files: map[string]listedFile{"tables/a": {Lost: []string{"1", "2", "3", "4"}}}}
	held := recordingEntry{Holders: []holder{{"x", "x.csv"}}}
	got := a.stillLost(filepath.FromSlash("tables/a"), []*recordingChange{{sha: "1", new: held}, {sha: "2", new: held, file: "staged"}, {sha: "3"}, {sha: "9", new: held, file: "staged"}})
	if !slices.Equal(got, []string{"1", "4"}) {
		t.Errorf("still lost: %v", got)
	}
	if got := a.stillLost("tables/b", nil); len(got) != 0 {
		t.Errorf("of another part: %v", got)
	}
}

// The parts of a table and its rows, as readers without a lock see them.
func TestPartsByHand(t *testing.T) {
	folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	if _, err := Parts(dir, schemas.FlightsTable); err == nil || !strings.Contains(err.Error(), "is not an archive: it has no tables") {
		t.Errorf("no archive: %v", err)
	}
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03 2031-03", "b.csv": "2031-04", "c.csv": "undated"}.write(t, folder))
	march := filepath.Join(dir, partPath(schemas.FlightsTable, "2031-03"))
	info, err := os.Stat(march)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, tablesFolder, schemas.FlightsTable, "month=2031-05"), 0o700); err != nil {
		t.Fatal(err) // a folder without a part is passed over
	}
	parts, err := Parts(dir, schemas.FlightsTable)
	if err != nil || len(parts) != 3 || parts[0] != (Part{"2031-03", info.Size(), info.ModTime().UnixNano()}) || parts[1].Month != "2031-04" || parts[2].Month != "unknown" {
		t.Errorf("%+v, %v", parts, err)
	}
	type ids struct {
		FlightID string `parquet:"flight_id,dict"`
	}
	flights := 0
	count := func(rows []ids) error { flights += len(rows); return nil }
	for month, want := range map[string]int{"2031-03": 2, "2031-04": 1, "2031-05": 0} {
		if flights = 0; Columns(dir, schemas.FlightsTable, month, count) != nil || flights != want {
			t.Errorf("%s: %d flights, want %d", month, flights, want)
		}
	}
	stop := errors.New("stop")
	if err := Columns(dir, schemas.FlightsTable, "2031-03", func([]ids) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("the error of each is %v", err)
	}
	if part, there, err := VerdictsPart(dir); there || err != nil || part != (Part{}) {
		t.Errorf("no verdicts: %+v, %v, %v", part, there, err)
	}
	if _, err := KeepVerdicts(dir, false); err != nil {
		t.Fatal(err)
	}
	table, err := os.Stat(filepath.Join(dir, verdictsPart))
	if err != nil {
		t.Fatal(err)
	}
	if part, there, err := VerdictsPart(dir); !there || err != nil || part != (Part{"", table.Size(), table.ModTime().UnixNano()}) {
		t.Errorf("verdicts: %+v, %v, %v", part, there, err)
	}
	if err := os.Truncate(march, info.Size()/2); err != nil {
		t.Fatal(err)
	}
	var problem *schemas.Problem
	if err := Columns(dir, schemas.FlightsTable, "2031-03", count); !errors.As(err, &problem) || problem.File != march {
		t.Errorf("a damaged part: %v", err)
	}
}

// The name of an input in the ledger is its path from the root, whatever folder it was named from.
func TestAbsoluteByHand(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{"a.csv": filepath.Join(here, "a.csv"), "./b/../a.csv": filepath.Join(here, "a.csv"), filepath.Join(dir, "x", "..", "y"): filepath.Join(dir, "y")} {
		if got := schemas.Absolute(path); got != want {
			t.Errorf("%s is %s, want %s", path, got, want)
		}
	}
}

// A recording is found again from a source of the same settings alone, each of which counts.
func TestSettingsOfASource(t *testing.T) {
	run := fixtureRun("1")
	set := newSetting(run)
	same := Source{Path: "elsewhere", Profile: set.Profile, Packs: slices.Clone(set.Packs), Registration: set.Registration, FileDate: set.FileDate, Aerodromes: set.Aerodromes, Version: set.Version}
	if !same.SameSetting(run) {
		t.Error("the same settings differ")
	}
	for i, change := range []func(*Source){
		func(s *Source) { s.Profile += "x" }, func(s *Source) { s.Packs = nil }, func(s *Source) { s.Registration += "x" },
		func(s *Source) { s.FileDate += "x" }, func(s *Source) { s.Aerodromes += "x" }, func(s *Source) { s.Version += "x" },
	} {
		other := same
		if change(&other); other.SameSetting(run) {
			t.Errorf("change %d makes no difference", i)
		}
	}
	for text, want := range map[string]bool{"": false, "0": false, "0f": true, "0g": false, "../0f": false, strings.Repeat("af09", 16): true, "AF": false} {
		if isHash(text) != want {
			t.Errorf("%q is a hash: %v", text, !want)
		}
	}
}

// unclosable is a disk on which closing a part fails, as on a network it may.
type unclosable struct{ quickDisk }

type unclosableFile struct{ outFile }

func (unclosableFile) Close() error { return errIO }

func (d unclosable) create(path string) (outFile, error) {
	f, err := d.quickDisk.create(path)
	if err == nil && filepath.Base(path) == "part.parquet" {
		f = unclosableFile{f}
	}
	return f, err
}

// A part that cannot be closed may not be whole: nothing takes its place.
func TestPartThatCannotBeClosed(t *testing.T) {
	folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03"}.write(t, folder))
	before := contents(t, dir)
	_, err := night(dir, fixtureRun("1"), inputs{"b.csv": "2031-03 "}.write(t, folder), unclosable{})
	var failed *output.Error
	if !errors.As(err, &failed) || !errors.Is(err, errIO) || filepath.Base(failed.Path) != "part.parquet" {
		t.Errorf("the error is %v", err)
	}
	sameContents(t, "a part that cannot be closed", contents(t, dir), before)
}

// No file stays open, whether all goes well or not: nothing is left to the collector, which is off.
func TestNoFileStaysOpen(t *testing.T) {
	open := func() int {
		entries, err := os.ReadDir("/proc/self/fd")
		if err != nil {
			t.Skip("this system does not list open files")
		}
		return len(entries)
	}
	for range 2 { // what tests before left to the collector is closed now, or not before the end
		closed := make(chan bool)
		runtime.SetFinalizer(new(*int), func(**int) { close(closed) })
		runtime.GC()
		<-closed
	}
	defer debug.SetGCPercent(debug.SetGCPercent(-1))
	folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03", "b.csv": "2031-04", "c.csv": "bad"}.write(t, folder)
	sha, _ := fixtureResults(fixtureRun("1"), "a.csv", "2031-03")
	march := filepath.Join(dir, partPath(schemas.EventsTable, "2031-03"))
	var kept []byte
	for _, step := range []struct {
		name string
		do   func() error
		want string // part of the error
	}{
		{"a first night", func() error { return wholeRun(dir, fixtureRun("1"), paths, realDisk{}, func([]string) {}) }, ""},
		{"the next", func() error { return wholeRun(dir, fixtureRun("2"), paths, realDisk{}, func([]string) {}) }, ""},
		{"a locked archive", func() error {
			a, err := Open(dir, fixtureRun("2"), nil)
			if err != nil {
				return err
			}
			defer a.Close()
			_, err = Open(dir, fixtureRun("2"), nil)
			return err
		}, "another run is using"},
		{"figures", func() error { return Figures(dir, 9, func([]byte) error { return nil }) }, ""},
		{"a check", func() error { _, _, err := Check(dir); return err }, ""},
		{"verify", func() error { _, err := Verify(dir); return err }, ""},
		{"repair of nothing", func() error { _, err := Repair(dir, time.Now(), false); return err }, ""},
		{"repair of a foreign part", func() error {
			foreign := filepath.Join(dir, partPath(schemas.EventsTable, "2031-09"))
			if err := os.MkdirAll(filepath.Dir(foreign), 0o700); err != nil {
				return err
			}
			if err := os.WriteFile(foreign, []byte("none"), 0o600); err != nil {
				return err
			}
			c, err := Repair(dir, time.Now(), false)
			if err == nil && (len(c.Faults) != 1 || c.Faults[0].Kept == "") {
				err = fmt.Errorf("%+v", c)
			}
			return err
		}, ""},
		{"no list", func() error { return lostChecksums(dir) }, "the list of checksums is missing"},
		{"an identity", func() error {
			marked := t.TempDir()
			if err := os.WriteFile(filepath.Join(marked, markName), []byte(markText+"00\n"), 0o600); err != nil {
				return err
			}
			_, err := Withheld(marked)
			return err
		}, ""},
		{"events", func() error {
			return EventsWith(dir, func(string) bool { return true }, func(string, *schemas.EventRow) error { return nil })
		}, ""},
		{"flights", func() error { return Flights(dir, "", func(string, *schemas.FlightRow) error { return nil }) }, ""},
		{"columns", func() error {
			return Columns(dir, schemas.EventsTable, "2031-03", func([]schemas.EventRow) error { return nil })
		}, ""},
		{"columns, stopped", func() error {
			return Columns(dir, schemas.EventsTable, "2031-03", func([]schemas.EventRow) error { return errDead })
		}, "the process is gone"},
		{"sources", func() error {
			found, err := Sources(dir, sha)
			if err == nil && len(found) != 1 {
				err = fmt.Errorf("%d sources", len(found))
			}
			return err
		}, ""},
		{"whether identity is withheld", func() error { _, err := Withheld(dir); return err }, ""},
		{"prune in a trial", func() error {
			_, err := Prune(dir, time.Date(2031, 4, 15, 0, 0, 0, 0, time.UTC), true, false)
			return err
		}, ""},
		{"runs in a trial", func() error { _, err := PruneRuns(dir, time.Now(), true, false); return err }, ""},
		{"a damaged part", func() (err error) {
			if kept, err = os.ReadFile(march); err != nil {
				return err
			}
			if err := os.WriteFile(march, kept[:len(kept)/2], 0o600); err != nil {
				return err
			}
			return Events(dir, "2031-03", func(string, *schemas.EventRow) error { return nil })
		}, "the archive is damaged here"},
		{"its columns", func() error {
			return Columns(dir, schemas.EventsTable, "2031-03", func([]schemas.EventRow) error { return nil })
		}, "the archive is damaged here"},
		{"a night beside it", func() error {
			return wholeRun(dir, fixtureRun("3"), paths, realDisk{}, func([]string) {})
		}, "the archive is damaged here"},
		{"verify it", func() error { _, err := Verify(dir); return err }, ""},
		{"repair it", func() error { _, err := Repair(dir, time.Now(), false); return err }, ""},
		{"prune", func() error {
			_, err := Prune(dir, time.Date(2031, 4, 15, 0, 0, 0, 0, time.UTC), false, false)
			return err
		}, ""},
	} {
		before := open()
		err := step.do()
		if step.want == "" && err != nil || step.want != "" && (err == nil || !strings.Contains(err.Error(), step.want)) {
			t.Errorf("%s: %v, want %q", step.name, err, step.want)
		}
		if after := open(); after != before {
			t.Errorf("%s: %d files are open, %d were before", step.name, after, before)
		}
	}
}
