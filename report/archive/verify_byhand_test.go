package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// TestLinesByHand: which lines of the ledger are entries of their shard.
func TestLinesByHand(t *testing.T) {
	t.Parallel()
	shard := filepath.Base(inputShard("/exports/a.csv"))
	for _, c := range []struct {
		kind, shard, key, line string
		says                   string // "" for a sound one
	}{
		{"inputs", shard, "00", `{"key":"00","path":"/exports/a.csv"}`, ""},
		{"inputs", shard, "00", `{"key":"00","path":"/exports/b.csv","check":"00000000"}`, ""},
		{"inputs", "zzz.jsonl", "00", `{"key":"00","path":"/exports/a.csv"}`, "an input of another shard"},
		{"inputs", "zzz.jsonl", "00", `{"key":"00","path":"d-01/r-02"}`, ""},               // tokens tell no folder
		{"inputs", "zzz.jsonl", "00", `{"key":"00","path":""}`, ""},                        // nor does a pruned one
		{"inputs", "zzz.jsonl", "00", "{\"key\":\"00\",\"path\":\"/ex\uFFFD/a.csv\"}", ""}, // nor one with broken letters
		{"inputs", shard, "00", `{"key":"00","other":1}`, "unknown field"},
		{"inputs", shard, "00", `{"key":"00"`, "unexpected"},
		{"inputs", shard, "00", `{"key":"00"} `, "goes on after its entry"},
		{"inputs", shard, "00", `{"key":"00"}}`, "goes on after its entry"},
		{"inputs", shard, "00", `{"key":"00"} {}`, "goes on after its entry"},
		{"recordings", "00.jsonl", "00ff", `{"key":"00ff"}`, ""},
		{"recordings", "00.jsonl", "00", `{"key":"00"}`, ""},
		{"recordings", "00.jsonl", "0", `{"key":"0"}`, "a recording of another shard"},
		{"recordings", "01.jsonl", "00ff", `{"key":"00ff"}`, "a recording of another shard"},
		{"recordings", "00.jsonl", "00ff", `{"key":"00ff","path":""}`, "unknown field"},
	} {
		err := strictLine(c.kind, filepath.Join("ledger", c.kind, c.shard), c.key, []byte(c.line))
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.line, err, c.says)
		}
	}
}

// TestIntactLines: of a shard the lines with their checks are trusted; where none has one, those that
// can be read. They come in order, each key once.
func TestIntactLines(t *testing.T) {
	t.Parallel()
	plain := func(key string) string { return `{"key":"` + key + `","holders":null,"months":null}` }
	checked := func(key string) string { return string(withCheck([]byte(plain(key)))) }
	spoilt := func(key string) string { return strings.Replace(checked(key), "holders", "holderz", 1) }
	for _, c := range []struct {
		lines []string
		want  string
	}{
		{nil, ""}, {[]string{plain("000b"), plain("000a")}, "000a 000b"}, {[]string{checked("000a"), plain("000b"), checked("000c")}, "000a 000c"},
		{[]string{spoilt("000a"), plain("000b")}, "000b"}, // a check that is wrong is none
		{[]string{checked("000c"), spoilt("000b"), checked("000a"), checked("000a")}, "000a 000c"},
		{[]string{checked("00ff"), checked("01ff"), `{"key":"00`, "", checked("00aa")}, "00aa 00ff"},
	} {
		dir := layOut(t, map[string]string{"ledger/recordings/00.jsonl": strings.Join(c.lines, "\n")})
		lines, err := intactLines(dir, filepath.Join("ledger", "recordings", "00.jsonl"))
		var keys []string
		for _, l := range lines {
			keys = append(keys, l.key)
		}
		if got := strings.Join(keys, " "); err != nil || got != c.want {
			t.Errorf("%q: %s, want %s, %v", c.lines, got, c.want, err)
		}
	}
	if lines, err := intactLines(t.TempDir(), "none"); lines != nil || err != nil {
		t.Errorf("a missing shard: %v, %v", lines, err)
	}
}

// TestVerifyByHand: what is said of an archive beside damage of its listed files, which TestRepairByHand has.
func TestVerifyByHand(t *testing.T) {
	t.Parallel()
	k := newKeptArchive(t, nil)
	tokens := newKeptArchive(t, testKey(t))
	table := filepath.ToSlash(verdictsPart)
	rows, err := parquet.Read[schemas.VerdictRow](strings.NewReader(k.files[table]), int64(len(k.files[table])))
	if err != nil || len(rows) != 3 {
		t.Fatal(rows, err)
	}
	var fewer bytes.Buffer
	if err := WriteVerdicts(&fewer, rows[:2]); err != nil {
		t.Fatal(err)
	}
	review := "reviews/" + rows[0].EventID + "/"
	put := func(names ...string) func(map[string]string) {
		return func(f map[string]string) {
			for _, name := range names {
				f[name] = "some"
			}
		}
	}
	foreign := func(names ...string) (lines []string) {
		for _, name := range names {
			lines = append(lines, name+" foreign: downlock did not write it")
		}
		return lines
	}
	const lost = "checksums missing: the list of checksums is missing"
	flights := func(month string) string { return filepath.ToSlash(partPath(schemas.FlightsTable, month)) }
	shard := ""
	for name := range k.files {
		if strings.HasPrefix(name, "ledger/recordings/") {
			shard = name
		}
	}
	notOurs := []string{"ledger/inputs/000.json", "ledger/notes.jsonl", "notes.txt", review + "notes.txt", "reviews/E/" + rows[0].File, "reviews/notes.json", "runs/x/notes.json", "runs/x/y/batch.json", "tables/events/month=2031-03/part.txt",
		"tables/notes/month=2031-03/notes.txt", "tables/part.parquet", "tables/verdicts/.part.parquet-xyz"}
	for _, c := range []struct {
		name string
		k    *keptArchive
		do   func(map[string]string)
		want []string
	}{
		{"sound", k, func(map[string]string) {}, nil},
		{"sound, of tokens", tokens, func(map[string]string) {}, nil},
		{"not ours", k, put(notOurs...), foreign(notOurs...)},
		{"ours", k, put("replaced/x/y", "new/x", "arrays/x/plan.json", "tables/verdicts/.part.parquet-0123456789abcdef", "runs/20310703T023000.000Z/batch.json"), nil},
		{"waiting", k, put("staging/x.staged"), []string{"staging unended: inputs wait that a run was cut off from putting into the archive"}},
		{"changing", k, func(f map[string]string) {
			list, err := parseChecksums([]byte(f[checksumsName]))
			if err != nil {
				t.Fatal(err)
			}
			list.Changing = true
			f[checksumsName] = string(list.text())
		}, []string{"checksums unended: a run was cut off while new files took their places"}},
		{"no runs", k, func(f map[string]string) {
			maps.DeleteFunc(f, func(name, _ string) bool { return strings.HasPrefix(name, runsFolder) })
		}, nil},
		{"one run and no list of it", k, func(f map[string]string) {
			maps.DeleteFunc(f, func(name, _ string) bool { return strings.HasPrefix(name, runsFolder) })
			f["runs/20310703T023000.000Z/batch.json"] = "some"
		}, []string{"runs/checksums missing: the list of checksums is missing"}},
		{"no identity", tokens, func(f map[string]string) { delete(f, markName) }, []string{"identity missing: identity is withheld in this archive, and the file that says so is missing"}},
		{"another identity", tokens, func(f map[string]string) { f[markName] += "x" }, []string{"identity damaged: it is not that of this archive"}},
		{"fewer verdicts in the table", k, func(f map[string]string) { f[table] = fewer.String() }, []string{table + " damaged: it is not what the verdicts and events say"}},
		{"no table of actions", k, func(f map[string]string) { delete(f, filepath.ToSlash(actionsPart)) }, []string{"tables/actions/part.parquet missing: the table of actions is missing"}},
		{"no actions at all", k, func(f map[string]string) {
			maps.DeleteFunc(f, func(name, _ string) bool { return strings.HasSuffix(name, ".action") })
			delete(f, filepath.ToSlash(actionsPart))
		}, nil},
		{"the table of actions in the place of that of verdicts", k, func(f map[string]string) { f[table] = f[filepath.ToSlash(actionsPart)] },
			[]string{table + " damaged: it is of another table: it has a column action"}},
		{"no lists", k, func(f map[string]string) { delete(f, checksumsName); delete(f, "runs/checksums") }, []string{lost}},
		{"no list, a damaged shard", k, func(f map[string]string) { delete(f, checksumsName); f[shard] = "none\n" },
			[]string{lost, shard + " damaged: no line of a ledger, or out of order"}},
		{"no list, a line of another shard", k, func(f map[string]string) {
			delete(f, checksumsName)
			f["ledger/recordings/zz.jsonl"] = f[shard]
		}, []string{lost, "ledger/recordings/zz.jsonl damaged: it holds a recording of another shard"}},
		{"no list, a part of another month", k, func(f map[string]string) {
			delete(f, checksumsName)
			f[flights("2031-03")] = f[flights("2031-04")]
		}, []string{lost, flights("2031-03") + " damaged: it holds a flight of 2031-04"}},
		{"in order of names", k, func(f map[string]string) { f["zz"], f["aa"], f[flights("2031-03")] = "", "", "" },
			[]string{"aa foreign: downlock did not write it", fmt.Sprintf("%s damaged: it has 0 bytes where downlock wrote %d", flights("2031-03"), len(k.files[flights("2031-03")])), "zz foreign: downlock did not write it"}},
		{"a folder in the place of a verdict", k, func(f map[string]string) {
			delete(f, review+rows[0].File)
			f[review+rows[0].File+"/x"] = ""
		}, nil}, // see below
	} {
		files := maps.Clone(c.k.files)
		c.do(files)
		condition, err := Verify(layOut(t, files))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var got []string
		for _, f := range condition.Faults {
			got = append(got, fmt.Sprintf("%s %s: %s", f.File, f.Kind, f.Cause))
		}
		if strings.HasPrefix(c.name, "a folder") {
			if len(condition.Faults) == 0 || condition.Faults[0].Kind != FaultMissing {
				t.Errorf("%s: %q", c.name, got)
			}
			continue
		}
		slices.Sort(c.want)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s:\n got %q\nwant %q", c.name, got, c.want)
		}
		// All but the two lists are counted.
		if strings.HasPrefix(c.name, "sound") && condition.Files != len(files)-2 {
			t.Errorf("%s: %d files of %d", c.name, condition.Files, len(files))
		}
	}
}

// TestRepairedEntries: what the ledger says of its inputs between a repair and the next night, which
// scans those again that it has to, and no others.
func TestRepairedEntries(t *testing.T) {
	t.Parallel()
	k := newKeptArchive(t, nil)
	part := func(table, month string) string { return filepath.ToSlash(partPath(table, month)) }
	shard := ""
	for name := range k.files {
		if strings.HasPrefix(name, "ledger/inputs/") {
			shard = name
		}
	}
	const rows, entry = "rows were lost; to be scanned again", "the entry was lost; to be scanned again"
	// The inputs by their base names; the order of the names b.csv and copy.csv, which hold one recording, tells nothing.
	for _, c := range []struct {
		name string
		do   func(map[string]string)
		want map[string]string
	}{
		{"a part of March", func(f map[string]string) { delete(f, part("events", "2031-03")) }, map[string]string{"a.csv": rows, "b.csv": rows, "copy.csv": rows, "e.csv": rows, "c.csv": "", "d.csv": "", "bad.csv": "line 1: is bad"}},
		{"a part without a date", func(f map[string]string) { f[part("flights", "unknown")] = "" }, map[string]string{"a.csv": "", "b.csv": "", "copy.csv": "", "e.csv": "", "c.csv": rows, "d.csv": "", "bad.csv": "line 1: is bad"}},
		{"no entry", func(f map[string]string) { delete(f, shard) }, map[string]string{"": strings.Repeat(entry, 6)}}, // bad.csv holds no recording
		{"every second entry", func(f map[string]string) {
			for _, name := range []string{"b.csv", "d.csv", "bad.csv"} {
				lines := slices.Collect(strings.Lines(f[shard]))
				f[shard] = strings.Join(slices.DeleteFunc(lines, func(l string) bool { return strings.Contains(l, "/"+name+`"`) }), "")
			}
		}, map[string]string{"": strings.Repeat(entry, 2), "a.csv": "", "copy.csv": "", "c.csv": "", "e.csv": ""}},
	} {
		files := maps.Clone(k.files)
		c.do(files)
		dir := layOut(t, files)
		if _, err := repair(dir, repairTime, false, quickDisk{}); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := map[string]string{}
		last := ""
		err := readShard(filepath.Join(dir, shard), func(key string, text []byte) error {
			var e inputEntry
			if err := json.Unmarshal(text, &e); err != nil {
				return err
			}
			name := ""
			if e.Path != "" {
				name = filepath.Base(e.Path)
			}
			got[name] += e.Cause
			if (e.Outcome == failed) != (e.Cause != "") || key <= last || !isIntact(text) || !bytes.Contains(text, []byte(`"check":`)) || e.Recording == "" && name != "bad.csv" {
				t.Errorf("%s: %s", c.name, text)
			}
			last = key
			return nil
		})
		if err != nil || !maps.Equal(got, c.want) {
			t.Errorf("%s: %v\n got %q\nwant %q", c.name, err, got, c.want)
		}
	}
}

// TestRowsComeBack: a part that lost its rows has those back of the recordings that are scanned again, and the list
// says which it lacks still.
func TestRowsComeBack(t *testing.T) {
	t.Parallel()
	k := newKeptArchive(t, nil)
	part := filepath.ToSlash(partPath(schemas.EventsTable, "2031-03"))
	files := maps.Clone(k.files)
	delete(files, part)
	dir := layOut(t, files)
	if _, err := repair(dir, repairTime, false, quickDisk{}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ scanned, lacks string }{{"e.csv", "a.csv b.csv"}, {"d.csv", "a.csv b.csv"}, {"copy.csv", "a.csv"}, {"a.csv", ""}} {
		paths := slices.DeleteFunc(slices.Clone(k.paths), func(path string) bool { return filepath.Base(path) != c.scanned })
		run := *k.run
		run.Began = repairTime.AddDate(0, 0, 1)
		if err := wholeRun(dir, &run, paths, quickDisk{}, func([]string) {}); err != nil {
			t.Fatal(err)
		}
		condition, err := Verify(dir)
		if err != nil {
			t.Fatal(err)
		}
		lacks := ""
		for _, f := range condition.Faults {
			if f.File != part || f.Kind != FaultLacking || !f.Scan {
				t.Errorf("%+v", f)
			}
			for _, sha := range f.Recordings {
				lacks += condition.Names[sha] + " "
			}
		}
		if got := strings.Join(slices.Sorted(slices.Values(strings.Fields(lacks))), " "); got != c.lacks {
			t.Errorf("after %s the part lacks %s, want %s", c.scanned, got, c.lacks)
		}
	}
	if got := contents(t, dir); got[part] != k.files[part] {
		t.Error("the part is another one")
	}
}

// TestRepairRefuses what a run has to finish first, and what is no archive.
func TestRepairRefuses(t *testing.T) {
	t.Parallel()
	k := newKeptArchive(t, nil)
	files := maps.Clone(k.files)
	files["staging/x.staged"] = "some"
	dir := layOut(t, files)
	var problem *schemas.Problem
	if _, err := Repair(dir, repairTime, false); !errors.As(err, &problem) || !strings.Contains(problem.Cause, "was cut off") {
		t.Errorf("cut off: %v", err)
	}
	sameContents(t, "cut off", contents(t, dir), files)
	for _, look := range []func(dir string) error{func(dir string) error { _, err := Repair(dir, repairTime, false); return err }, func(dir string) error { _, err := Verify(dir); return err }} {
		if err := look(t.TempDir()); !errors.As(err, &problem) || !strings.Contains(problem.Cause, "is not an archive") {
			t.Errorf("no archive: %v", err)
		}
		dir := layOut(t, map[string]string{checksumsName: string((&checksums{}).text())}) // all else is lost
		if err := look(dir); err != nil {
			t.Errorf("a list alone: %v", err)
		}
	}
	a, err := Open(layOut(t, k.files), k.run, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	var locked *LockedError
	if _, err := Verify(a.dir); !errors.As(err, &locked) {
		t.Errorf("in use: %v", err)
	}
	if _, err := Repair(a.dir, repairTime, false); !errors.As(err, &locked) {
		t.Errorf("in use: %v", err)
	}
	if fileExists(filepath.Join(dir, newFolder)) {
		t.Error("a folder for new files stays")
	}
}

// TestEach does all of the work, and says what went wrong first in its order.
func TestEach(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ n, failsFrom int }{{0, 9}, {9, 9}, {9, 8}, {9, 3}, {9, 0}} {
		done := make([]bool, c.n)
		err := each(c.n, func(i int) error {
			done[i] = true
			if i >= c.failsFrom {
				return fmt.Errorf("fails at %d", i)
			}
			return nil
		})
		want := fmt.Sprintf("fails at %d", c.failsFrom)
		if slices.Contains(done, false) || (err != nil) != (c.failsFrom < c.n) || err != nil && err.Error() != want {
			t.Errorf("%+v: did %v, %v", c, done, err)
		}
	}
}
