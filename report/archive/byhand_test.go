package archive

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// A number is kept to three decimals, absent where it is none; a bound left open is the end
// of the flight; a time has milliseconds.
func TestCellsByHand(t *testing.T) {
	t.Parallel()
	for x, want := range map[float64]float64{1.23449: 1.234, 1.2345: 1.235, -1.23449: -1.234, 0.0004: 0, 1e12: 1e12, 1e12 + 0.3: 1e12 + 0.3, 999999999999.1234: 999999999999.123} {
		if got := known(x); got == nil || *got != want || rounded(x) != want {
			t.Errorf("%v is kept as %v, want %v", x, got, want)
		}
	}
	if got := known(-0.0001); math.Signbit(*got) {
		t.Error("a negative zero")
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if known(x) != nil || rounded(x) != 0 {
			t.Errorf("%v is kept", x)
		}
	}
	f := &detect.Flight{Span: detect.Span{Start: 10, End: 20}, Recording: &ingest.Recording{Epoch: time.Date(2031, 5, 1, 0, 0, 0, 0, time.FixedZone("", 7200))}}
	for x, want := range map[float64]float64{math.Inf(-1): 10, math.Inf(1): 20, 15: 15, 5: 5, 25: 25} {
		if got := within(f, x); got != want {
			t.Errorf("within(%v) is %v", x, got)
		}
	}
	midnight := time.Date(2031, 4, 30, 22, 0, 0, 0, time.UTC)
	for x, want := range map[float64]time.Time{0: midnight, 1.2344: midnight.Add(1234 * time.Millisecond), -0.0006: midnight.Add(-time.Millisecond), 1e9: midnight.Add(1e9 * time.Second),
		1e9 + 1: {}, -1e9 - 1: {}, math.NaN(): {}} {
		if got := utc(f, x); !got.Equal(want) {
			t.Errorf("%v s is %v, want %v", x, got, want)
		}
	}
	for year, dated := range map[int]bool{0: false, 1: true, 9999: true, 10000: false} {
		f.Recording.Epoch = time.Date(year, 6, 1, 0, 0, 0, 0, time.UTC)
		if got := utc(f, 0); got.IsZero() == dated {
			t.Errorf("the year %d is %v", year, got)
		}
	}
	f.Recording.Epoch = time.Time{}
	if got := utc(f, 5); !got.IsZero() {
		t.Errorf("without a date: %v", got)
	}
	if got := texts([]string{"a\xffb", ""}); got[0] != "a\uFFFDb" || got[1] != "" || len(got) != 2 {
		t.Errorf("texts: %q", got)
	}
	if got := clip(strings.Repeat("x", 2000)); len(got) != 2000 {
		t.Errorf("2000 characters become %d", len(got))
	}
	if got := clip(strings.Repeat("x", 2001)); got != strings.Repeat("x", 2000)+" …" {
		t.Errorf("2001 characters become %d", len(got))
	}
}

// A file is at rest when its times are more than two seconds old; one of the future is not.
func TestTwoSecondsOfRest(t *testing.T) {
	t.Parallel()
	now := time.Unix(1_900_000_000, 0)
	at := func(before time.Duration) int64 { return now.Add(-before).UnixNano() }
	for _, c := range []struct {
		modified, changed time.Duration
		want              bool
	}{
		{2*time.Second + 1, 2*time.Second + 1, true},
		{2 * time.Second, time.Hour, false},
		{time.Hour, 2 * time.Second, false},
		{time.Hour, time.Second, false},
		{-time.Hour, time.Hour, false},
		{time.Hour, -time.Hour, false},
		{time.Hour, time.Hour, true},
	} {
		if got := (Sight{Modified: at(c.modified), Changed: at(c.changed)}).atRest(now); got != c.want {
			t.Errorf("%v and %v old: at rest %v", c.modified, c.changed, got)
		}
	}
}

// The sizes of an input's files add up, and the latest of their times counts, whichever
// comes first.
func TestLookByHand(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := func(name string, size int, at int64) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, make([]byte, size), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, time.Unix(at, 0), time.Unix(at, 0)); err != nil {
			t.Fatal(err)
		}
		return path
	}
	a, b := file("a", 3, 2_000_000), file("b", 4, 1_000_000)
	for _, in := range []Input{{Files: []string{a, b}}, {Files: []string{b, a}}} {
		s, err := in.Look()
		if err != nil || s.Size != 7 || s.Modified != 2_000_000e9 {
			t.Errorf("%v: %+v %v", in.Files, s, err)
		}
	}
	if _, err := (Input{Files: []string{a, filepath.Join(dir, "none")}}).Look(); err == nil {
		t.Error("no error for a file that is not there")
	}
	if _, err := (Input{Files: []string{a, filepath.Join(dir, "none")}}).sum(); err == nil {
		t.Error("no sum of a file that is not there")
	}
	// SHA-256 of seven zero bytes, as `head -c 7 /dev/zero | sha256sum` has it.
	if sum, err := (Input{Files: []string{a, b}}).sum(); err != nil || sum != "837885c8f8091aeaeb9ec3c3f85a6ff470a415e610b8ba3e49f9b33c9cf9d619" {
		t.Errorf("sum %s %v", sum, err)
	}
}

// A file whose times cannot be trusted is known again by its hash, and only if it looks
// after hashing as it did before: what is written meanwhile may not be in the hash.
func TestLookedAtAgainAfterHashing(t *testing.T) {
	t.Parallel()
	dir, in := filepath.Join(t.TempDir(), "archive"), Input{}
	path := filepath.Join(t.TempDir(), "a.csv")
	if err := os.WriteFile(path, []byte("2031-03"), 0o600); err != nil {
		t.Fatal(err)
	}
	in = Input{Path: path, Files: []string{path}}
	run := fixtureRun("1")
	sight, err := in.Look()
	if err != nil {
		t.Fatal(err)
	}
	scanned := func(now time.Time) {
		t.Helper()
		a, err := open(dir, run, []Input{in}, quickDisk{})
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		sha, results := fixtureResults(run, "a.csv", "2031-03")
		rows := Rows{Recording: sha}
		for _, r := range results {
			rows.Add(run, r)
		}
		if err := a.StageRows(in, sight, now, rows); err != nil {
			t.Fatal(err)
		}
		if err := a.Commit(); err != nil {
			t.Fatal(err)
		}
	}
	unchanged := func(sight Sight, now time.Time) bool {
		t.Helper()
		a, err := open(dir, run, []Input{in}, quickDisk{})
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		same, err := a.Unchanged(in, sight, now)
		if err != nil {
			t.Fatal(err)
		}
		a.Discard()
		return same
	}
	written := time.Unix(0, max(sight.Modified, sight.Changed))
	scanned(written.Add(time.Second)) // too soon for its times to be trusted
	if !unchanged(sight, written.Add(time.Hour)) {
		t.Error("not known by its hash")
	}
	other := sight
	other.Modified--
	if unchanged(other, written.Add(time.Hour)) {
		t.Error("known although it looks otherwise after hashing than before")
	}
	scanned(written.Add(time.Hour)) // its times are trusted: the bytes are not read again
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if !unchanged(sight, written.Add(time.Hour)) {
		t.Error("not known by its size and times")
	}
	other = sight
	other.Size++
	if unchanged(other, written.Add(time.Hour)) {
		t.Error("known although its size is another")
	}
	sight = Sight{Size: sight.Size} // a time of zero, which nobody set, tells nothing
	scanned(written.Add(time.Hour))
	if unchanged(sight, written.Add(time.Hour)) {
		t.Error("known by a time of zero")
	}
}

// A staged file counts when its first line is the SHA-256 of the rest, to the last byte.
func TestStagedChecksum(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	run := fixtureRun("1")
	a, err := open(dir, run, nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	in := Input{Path: "a.csv", Files: []string{"a.csv"}}
	sha, results := fixtureResults(run, "a.csv", "2031-03 undated")
	rows := Rows{Recording: sha}
	for _, r := range results {
		rows.Add(run, r)
	}
	if err := a.StageRows(in, Sight{Size: 1}, time.Now(), rows); err != nil {
		t.Fatal(err)
	}
	found, err := filepath.Glob(filepath.Join(dir, stagingFolder, "*"+stagedEnding))
	if err != nil || len(found) != 1 {
		t.Fatal(found, err)
	}
	flights := 0
	head, ok, err := readStaged(found[0], func(*flightRows) error { flights++; return nil })
	if err != nil || !ok || flights != 2 || head.Entry.Flights != 2 || fmt.Sprint(head.Months) != "[2031-03 unknown]" {
		t.Fatalf("%+v %v %v, %d flights", head, ok, err, flights)
	}
	stop := errors.New("stop")
	if _, _, err := readStaged(found[0], func(*flightRows) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("an error of each is lost: %v", err)
	}
	whole, err := os.ReadFile(found[0])
	if err != nil {
		t.Fatal(err)
	}
	damagedOnes := map[string][]byte{"empty": nil, "the sum alone": whole[:64], "the sum and its line end": whole[:65], "the last byte missing": whole[:len(whole)-1], "a byte more": append(bytes.Clone(whole), '\n')}
	for _, i := range []int{0, 63, 64, 65, 66, len(whole) / 2, len(whole) - 1} {
		flipped := bytes.Clone(whole)
		flipped[i] ^= 1
		damagedOnes[fmt.Sprintf("byte %d", i)] = flipped
	}
	for name, data := range damagedOnes {
		if err := os.WriteFile(found[0], data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, ok, err := readStaged(found[0], nil); ok || err != nil {
			t.Errorf("%s: taken for whole (%v, %v)", name, ok, err)
		}
	}
	if all, err := a.stagedFiles(); err != nil || len(all) != 0 {
		t.Errorf("a damaged one is listed: %v %v", all, err)
	}
	if _, err := os.Stat(found[0]); err == nil {
		t.Error("a damaged one stays")
	}
}

// partOf writes a part of the evaluations, a row for each recording, under a version.
func partOf(t *testing.T, version string, recordings ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "part.parquet")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	table := tableNamed(schemas.EvaluationsTable)
	w := table.newWriter(file)
	if version != "" {
		w.SetKeyValueMetadata(versionKey, version)
	}
	for _, r := range recordings {
		row := schemas.EvaluationRow{Recording: r, Missing: []string{}, Fallbacks: []string{}}
		if _, err := w.WriteRows([]parquet.Row{table.schema.Deconstruct(nil, &row)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// A part of this version or an older one is read; of a newer one, or of none, it is refused.
func TestPartsOfOtherVersions(t *testing.T) {
	t.Parallel()
	table := tableNamed(schemas.EvaluationsTable)
	newest := schemas.TableVersions[table.name]
	for version, cause := range map[string]string{
		strconv.Itoa(newest): "", "1": "", strconv.Itoa(newest + 1): fmt.Sprintf("has version %d of the table evaluations; this downlock knows up to %d", newest+1, newest),
		"new": "it does not say which version of the table evaluations it has",
	} {
		p, err := table.openPart(partOf(t, version, "a"))
		var problem *schemas.Problem
		switch {
		case cause == "" && err != nil, cause != "" && (!errors.As(err, &problem) || !strings.Contains(problem.Cause, cause)):
			t.Errorf("version %s: %v, want %q", version, err, cause)
		}
		if err == nil {
			p.close()
		}
	}
	p, err := table.openPart(filepath.Join(t.TempDir(), "none.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	if row, key, err := p.peek(); row != nil || key != "" || err != nil {
		t.Errorf("a part that is not there: %v %q %v", row, key, err)
	}
	p.close()
}

// Rows come in the order of recordings, those of one recording together; anything else is
// damage.
func TestOrderOfRows(t *testing.T) {
	t.Parallel()
	table := tableNamed(schemas.EvaluationsTable)
	read := func(recordings ...string) (keys []string, err error) {
		p, err := table.openPart(partOf(t, "", recordings...))
		if err != nil {
			t.Fatal(err)
		}
		defer p.close()
		for {
			row, key, err := p.peek()
			if row == nil || err != nil {
				return keys, err
			}
			keys = append(keys, key)
			p.next++
		}
	}
	many := make([]string, 300) // more than are read at a time
	for i := range many {
		many[i] = fmt.Sprintf("%04d", i)
	}
	for _, in := range [][]string{{"a", "a", "b", "c"}, many, nil} {
		if keys, err := read(in...); err != nil || strings.Join(keys, " ") != strings.Join(in, " ") {
			t.Errorf("%v: %v %v", in, keys, err)
		}
	}
	swapped := append(append([]string{}, many[:200]...), "0100")
	for _, in := range [][]string{{"a", "c", "b"}, swapped} {
		var problem *schemas.Problem
		if keys, err := read(in...); !errors.As(err, &problem) || !strings.Contains(problem.Cause, "its rows are out of order") || len(keys) != len(in)-1 {
			t.Errorf("%d rows, the last out of order: %d keys, %v", len(in), len(keys), err)
		}
	}
}

// A row group ends after 32,768 rows, and the rows found in a column are those of the file.
func TestRowGroupBound(t *testing.T) {
	t.Parallel()
	names := make([]string, 32_769)
	for i := range names {
		names[i] = fmt.Sprintf("%05d", i)
	}
	table := tableNamed(schemas.EvaluationsTable)
	p, err := table.openPart(partOf(t, "", names...))
	if err != nil {
		t.Fatal(err)
	}
	defer p.close()
	groups := p.opened.RowGroups()
	if len(groups) != 2 || groups[0].NumRows() != 32_768 {
		t.Fatalf("%d groups, of which the first has %d rows", len(groups), groups[0].NumRows())
	}
	rows, err := p.rowsWhere("recording", func(cell string) bool { return cell == "00000" || cell == "00300" || cell == "32768" })
	if err != nil || fmt.Sprint(rows) != "[0 300 32768]" {
		t.Errorf("rows %v, %v", rows, err)
	}
	if err := p.seek(300); err != nil {
		t.Fatal(err)
	}
	if _, key, err := p.peek(); key != "00300" || err != nil {
		t.Errorf("row 300 is %q, %v", key, err)
	}
	if err := p.seek(5); err != nil {
		t.Fatal(err)
	}
	if _, key, err := p.peek(); key != "00005" || err != nil {
		t.Errorf("row 5, after row 300, is %q, %v", key, err)
	}
	if _, err := p.rowsWhere("none", func(string) bool { return true }); err == nil || !strings.Contains(err.Error(), "it has no column none") {
		t.Errorf("a column that is not there: %v", err)
	}
}

// Lines with changes merged in, by hand; a line out of order has its number.
func TestShardsByHand(t *testing.T) {
	t.Parallel()
	line := func(key, rest string) string { return `{"key":"` + key + `","n":` + rest + `}` }
	path := filepath.Join(t.TempDir(), "shard.jsonl")
	put := func(lines ...string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(strings.Join(lines, "\n")+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	keys := func(text string) (out string) {
		for l := range strings.Lines(text) {
			key, ok := lineKey([]byte(strings.TrimSpace(l)))
			if !ok {
				t.Errorf("no line: %s", l)
			}
			out += key + l[len(line(key, ""))-1:len(line(key, ""))] // the key, and the digit of n
		}
		return out
	}
	put(line("b", "1"), line("d", "1"), line("f", "1"))
	for _, c := range []struct {
		changes []shardLine
		want    string
	}{
		{nil, "b1d1f1"},
		{[]shardLine{{"a", []byte(line("a", "2"))}, {"d", []byte(line("d", "2"))}, {"g", []byte(line("g", "2"))}}, "a2b1d2f1g2"},
		{[]shardLine{{"b", nil}, {"c", []byte(line("c", "2"))}, {"e", nil}}, "c2d1f1"},
		{[]shardLine{{"b", nil}, {"d", nil}, {"f", nil}}, ""},
	} {
		var out bytes.Buffer
		n, err := mergeShard(path, c.changes, &out)
		if got := keys(out.String()); err != nil || got != c.want || n != len(c.want)/2 {
			t.Errorf("%d lines %s, %v, want %s", n, got, err, c.want)
		}
	}
	for wrong, number := range map[string]int{line("b", "1"): 2, line("a", "1"): 2, "{}": 2, `{"key":"z`: 2} {
		put(line("b", "1"), wrong)
		err := readShard(path, func(string, []byte) error { return nil })
		var problem *schemas.Problem
		if !errors.As(err, &problem) || problem.Line != number {
			t.Errorf("%s: %v", wrong, err)
		}
	}
	if err := readShard(path+".none", func(string, []byte) error { return errors.New("called") }); err != nil {
		t.Errorf("a shard that is not there: %v", err)
	}
}
