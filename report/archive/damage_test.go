package archive

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/report/review"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// damagedNight scans one more recording of the same month into an archive with a
// damaged file, and returns the error; with one the archive must stay as it is.
func damagedNight(t *testing.T, name string, damage func([]byte) []byte) error {
	t.Helper()
	dir, folder := filepath.Join(t.TempDir(), "archive"), t.TempDir()
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03"}.write(t, folder))
	matches, err := filepath.Glob(filepath.Join(dir, name))
	if err != nil || len(matches) != 1 {
		t.Fatalf("%s: %v, %v", name, matches, err)
	}
	data, err := os.ReadFile(matches[0])
	if err != nil {
		t.Fatal(err)
	}
	broken := damage(data)
	if err := os.WriteFile(matches[0], broken, 0o666); err != nil {
		t.Fatal(err)
	}
	before := contents(t, dir)
	_, err = night(dir, fixtureRun("2"), inputs{"a.csv": "2031-03"}.write(t, folder), quickDisk{})
	if err != nil {
		sameContents(t, name, contents(t, dir), before)
	}
	return err
}

// Any fault of a file of the archive is said with its name and the way
// out, and nothing is changed.
func TestDamage(t *testing.T) {
	t.Parallel()
	cut := func(data []byte) []byte { return data[:len(data)/2] }
	for _, c := range []struct {
		name   string
		file   string
		damage func([]byte) []byte
	}{
		{"part cut off", "tables/events/month=2031-03/part.parquet", cut},
		{"part empty", "tables/flights/month=2031-03/part.parquet", func([]byte) []byte { return nil }},
		{"no Parquet", "tables/flights/month=2031-03/part.parquet", func([]byte) []byte { return []byte("something else entirely") }},
		{"pages zeroed", "tables/evaluations/month=2031-03/part.parquet", func(data []byte) []byte {
			for i := 4; i < 200; i++ {
				data[i] = 0
			}
			return data
		}},
		{"ledger of inputs cut off", "ledger/inputs/*.jsonl", cut},
		{"ledger of recordings cut off", "ledger/recordings/*.jsonl", cut},
		{"ledger out of order", "ledger/recordings/*.jsonl", func(data []byte) []byte { return append(data, data...) }},
	} {
		err := damagedNight(t, c.file, c.damage)
		var problem *schemas.Problem
		if !errors.As(err, &problem) || !strings.Contains(err.Error(), "the archive is damaged here") || problem.Hint == "" {
			t.Errorf("%s: the error is %v", c.name, err)
		} else if ok, _ := filepath.Match("*/"+filepath.Base(c.file), "x/"+filepath.Base(problem.File)); !ok {
			t.Errorf("%s: the problem is of %s", c.name, problem.File)
		}
	}
}

// TestLedgerLess: a shard that has lost a line can be read, and is not what the list says.
func TestLedgerLess(t *testing.T) {
	t.Parallel()
	dir, folder := filepath.Join(t.TempDir(), "archive"), t.TempDir()
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03", "b.csv": "2031-03 ", "c.csv": "2031-03  "}.write(t, folder))
	shards, err := filepath.Glob(filepath.Join(dir, ledgerFolder, "inputs", "*"))
	if err != nil || len(shards) != 1 {
		t.Fatal(shards, err)
	}
	text, err := os.ReadFile(shards[0])
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "\n")
	writeTestFile(t, shards[0], rest)
	_, err = night(dir, fixtureRun("1"), inputs{"d.csv": "2031-04"}.write(t, folder), quickDisk{})
	var problem *schemas.Problem
	if !errors.As(err, &problem) || problem.File != shards[0] {
		t.Errorf("%v", err)
	}
}

// Any byte of a part changed is either noticed or of no consequence to the merge:
// never a panic.
func TestEveryDamagedByte(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("some hundred nights")
	}
	for at := 0; at < 3000; at += effort.Of(13, 39, 13) {
		damagedNight(t, "tables/audits/month=2031-03/part.parquet", func(data []byte) []byte {
			data[at%len(data)] ^= 0xff
			return data
		})
	}
}

// TestReadersOfDamage: the library panics on some damage of a part, and no reader does; it
// names the file.
func TestReadersOfDamage(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	e := eventRow(1, "low")
	writeEvents(t, dir, "2031-03", []schemas.EventRow{e, eventRow(2, "high")})
	verdictOn(t, dir, e, 1, review.Valid, "x")
	if _, err := KeepVerdicts(dir, false); err != nil {
		t.Fatal(err)
	}
	of := func(part string, read func(path string) error) {
		path := filepath.Join(dir, part)
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		found := 0
		for at := 0; at < len(whole); at += effort.Of(31, 23, 3) {
			spoilt := bytes.Clone(whole)
			spoilt[at] ^= 1
			writeTestFile(t, path, string(spoilt))
			var problem *schemas.Problem
			switch err := read(path); {
			case errors.As(err, &problem) && problem.File == path:
				found++
			case err != nil:
				t.Errorf("%s, byte %d: %v", part, at, err)
			}
		}
		if found == 0 {
			t.Errorf("%s: no damage is found", part)
		}
		writeTestFile(t, path, string(whole))
	}
	events := partPath(schemas.EventsTable, "2031-03")
	of(verdictsPart, func(path string) error { _, err := readReviewed[schemas.VerdictRow](path); return err })
	of(verdictsPart, func(string) error { return VerdictColumns(dir, func([]schemas.VerdictRow) error { return nil }) })
	of(events, func(string) error {
		return Columns(dir, schemas.EventsTable, "2031-03", func([]schemas.EventRow) error { return nil })
	})
	of(events, func(string) error {
		return EventsWith(dir, func(id string) bool { return id == e.EventID }, func(string, *schemas.EventRow) error { return nil })
	})
	of(events, func(string) error { return Events(dir, "", func(string, *schemas.EventRow) error { return nil }) })
}

// A part of a newer version is left alone, and one of an older version, with a
// column less, is read.
func TestVersionsOfParts(t *testing.T) {
	t.Parallel()
	type older struct {
		Recording string `parquet:"recording,dict"`
		FlightID  string `parquet:"flight_id,dict"`
		Rule      string `parquet:"rule,dict"`
	}
	write := func(version string) string {
		path := filepath.Join(t.TempDir(), "part.parquet")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		w := parquet.NewGenericWriter[older](f, parquet.KeyValueMetadata(versionKey, version))
		if _, err := w.Write([]older{{"aa", "F1", "x"}, {"bb", "F2", "y"}}); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var evaluations table
	for _, x := range tables {
		if x.name == schemas.EvaluationsTable {
			evaluations = x
		}
	}
	if _, err := evaluations.openPart(write("9")); err == nil || !strings.Contains(err.Error(), "version 9 of the table evaluations") {
		t.Errorf("the error is %v", err)
	}
	p, err := evaluations.openPart(write("1"))
	if err != nil {
		t.Fatal(err)
	}
	defer p.close()
	for _, want := range []string{"aa", "bb"} {
		row, key, err := p.peek()
		if err != nil || key != want || len(row) < len(evaluations.schema.Columns()) {
			t.Fatalf("row %v, key %q, error %v", row, key, err)
		}
		p.next++
	}
}
