package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// What Verify finds and Repair does with it, worked out by hand of an archive of these
// recordings: a of March and April, b (and its copy) of March, c undated, d of April and e
// of March. A line is
//
//	FILE kind: cause [recordings] scan | mended, kept
func TestRepairByHand(t *testing.T) {
	t.Parallel()
	k := newKeptArchive(t, nil)
	only := func(pattern string) string {
		t.Helper()
		var found []string
		for _, name := range sortedKeys(k.files) {
			if ok, _ := filepath.Match(pattern, name); ok {
				found = append(found, name)
			}
		}
		if len(found) != 1 {
			t.Fatalf("%s is %v", pattern, found)
		}
		return found[0]
	}
	part := func(table, month string) string { return filepath.ToSlash(partPath(table, month)) }
	shard, runs := only("ledger/inputs/*.jsonl"), []string{"runs/20310701T023000.000Z/batch.json", "runs/20310702T023000.000Z/batch.json"}
	of := func(content string) string {
		sum := sha256.Sum256([]byte(content))
		return filepath.ToSlash(recordingShard(hex.EncodeToString(sum[:])))
	}
	if lines := strings.Count(k.files[shard], "\n"); lines != 7 {
		t.Fatalf("%d inputs", lines)
	}
	lineOfE := "" // of e.csv, whose place among the lines follows from the folder of the inputs
	for line := range strings.Lines(k.files[shard]) {
		if strings.Contains(line, "/e.csv\"") {
			lineOfE = line
		}
	}
	verdict, action := "", "" // the last of each
	for _, name := range sortedKeys(k.files) {
		switch filepath.Ext(name) {
		case ".action":
			action = name
		case ".json":
			if strings.HasPrefix(name, "reviews/") {
				verdict = name
			}
		}
	}
	without := func(name string) func(map[string]string) { return func(f map[string]string) { delete(f, name) } }
	flipped := func(name string) func(map[string]string) {
		return func(f map[string]string) { flip(f, name, len(f[name])/2) }
	}
	exchanged := func(a, b string) func(map[string]string) {
		return func(f map[string]string) { f[a], f[b] = f[b], f[a] }
	}
	put := func(name, text string) func(map[string]string) { return func(f map[string]string) { f[name] = text } }
	const (
		other   = "its bytes are not those downlock wrote"
		scan    = "taken away; the next run scans the recordings again that are still there"
		again   = "made again of the files that are there"
		rest    = "made again of the rest of the archive"
		march   = " [a.csv b.csv e.csv] scan | " + scan
		figures = "taken from the list; figures of a run cannot be made again"
	)
	swapped := func(a, b string) string {
		return fmt.Sprintf("%s exchanged: it holds the bytes of %s; its own bytes are in the place of %[2]s [] | put back from %[2]s, kept", a, b)
	}
	for _, c := range []struct {
		name  string
		do    func(map[string]string)
		want  []string
		lacks string // what the parts lack before the next night
	}{
		{"nothing", func(map[string]string) {}, nil, ""},
		{"a part", flipped(part("events", "2031-03")), []string{part("events", "2031-03") + " damaged: " + other + march + ", kept"}, "a.csv b.csv e.csv"},
		{"a part gone", without(part("audits", "unknown")), []string{part("audits", "unknown") + " missing: the file is missing [c.csv] scan | " + scan}, "c.csv"},
		{"a part cut", func(f map[string]string) { f[part("flights", "2031-04")] = f[part("flights", "2031-04")][:100] },
			[]string{fmt.Sprintf("%s damaged: it has 100 bytes where downlock wrote %d [a.csv d.csv] scan | %s, kept", part("flights", "2031-04"), len(k.files[part("flights", "2031-04")]), scan)}, "a.csv d.csv"},
		{"two parts exchanged", exchanged(part("flights", "2031-03"), part("flights", "2031-04")),
			[]string{swapped(part("flights", "2031-03"), part("flights", "2031-04")), swapped(part("flights", "2031-04"), part("flights", "2031-03"))}, ""},
		{"a part in another's place", func(f map[string]string) { f[part("flights", "2031-03")] = f[part("flights", "2031-04")] },
			[]string{part("flights", "2031-03") + " exchanged: it holds the bytes of " + part("flights", "2031-04") + march + ", kept"}, "a.csv b.csv e.csv"},
		{"a part gone of which there is a copy", func(f map[string]string) {
			f["replaced/x/"+part("audits", "unknown")] = f[part("audits", "unknown")]
			delete(f, part("audits", "unknown"))
		}, []string{fmt.Sprintf("%s missing: the file is missing; a copy of what it was is replaced/x/%[1]s [] | put back from replaced/x/%[1]s", part("audits", "unknown"))}, ""},
		{"a foreign part", put(part("flights", "2031-05"), "none"), []string{part("flights", "2031-05") + " foreign: the file is none of this archive [] | taken away, kept"}, ""},
		{"a foreign file", put("tables/notes.txt", "none"), []string{"tables/notes.txt foreign: downlock did not write it [] | "}, ""},
		{"files of no table", put("tables/other/month=2031-03/part.parquet", "none"), []string{"tables/other/month=2031-03/part.parquet foreign: downlock did not write it [] | taken away, kept"}, ""},
		{"an input less", func(f map[string]string) { f[shard] = strings.Replace(f[shard], lineOfE, "", 1) },
			[]string{fmt.Sprintf("%s damaged: it has %d bytes where downlock wrote %d [e.csv] scan | %s, but for what the next run adds when it scans the inputs again, kept", shard,
				len(k.files[shard])-len(lineOfE), len(k.files[shard]), rest)}, ""},
		{"no inputs", without(shard), []string{shard + " missing: the file is missing [a.csv b.csv c.csv d.csv e.csv] scan | " + rest + ", but for what the next run adds when it scans the inputs again"}, ""},
		{"a recording gone", without(of("undated")), []string{of("undated") + " missing: the file is missing [] | " + rest}, ""},
		{"a recording damaged", flipped(of("2031-03")), []string{of("2031-03") + " damaged: " + other + " [] | " + rest + ", kept"}, ""},
		{"shards exchanged", exchanged(of("2031-03"), of("undated")), order(swapped(of("2031-03"), of("undated")), swapped(of("undated"), of("2031-03"))), ""},
		{"a foreign shard", put("ledger/inputs/zz.jsonl", "{}\n"), []string{"ledger/inputs/zz.jsonl foreign: the file is none of this archive [] | taken away, kept"}, ""},
		{"the list", flipped("checksums"), []string{"checksums damaged: the list of checksums does not have the checksum of its first line [] | " + again + ", kept"}, ""},
		{"no list", without("checksums"), []string{"checksums missing: the list of checksums is missing [] | " + again}, ""},
		{"the list in the place of the other", func(f map[string]string) { f["checksums"] = f["runs/checksums"] },
			[]string{"checksums damaged: it lists " + runs[0] + ", which belongs into another list [] | " + again + ", kept"}, ""},
		{"no list of runs", without("runs/checksums"), []string{"runs/checksums missing: the list of checksums is missing [] | " + again}, ""},
		{"the figures of a run", flipped(runs[0]), []string{runs[0] + " damaged: " + other + " [] | " + figures + ", kept"}, ""},
		{"no figures of a run", without(runs[1]), []string{runs[1] + " missing: the file is missing [] | " + figures}, ""},
		{"figures exchanged", exchanged(runs[0], runs[1]), []string{swapped(runs[0], runs[1]), swapped(runs[1], runs[0])}, ""},
		{"a verdict gone", without(verdict), []string{verdict + " missing: the file of a verdict is missing: valid by Analyst A at 2031-07-01 08:02:00 [] | made again of the table of verdicts"}, ""},
		{"the table of verdicts gone", without("tables/verdicts/part.parquet"), []string{"tables/verdicts/part.parquet missing: the table of verdicts is missing [] | made again of the verdicts"}, ""},
		{"an action gone", without(action), []string{action + " missing: the file of an action is missing: assigned-to AL by Analyst A at 2031-07-01 09:02:00 [] | made again of the table of actions"}, ""},
		{"a verdict and an action of other bytes", func(f map[string]string) { f[verdict], f[action] = "{}", "{}" },
			[]string{action + " damaged: is not a readable action, and is left out: it lacks \"schema\", \"event_id\", \"action\", \"value\", \"by\", \"at_utc\" [] | made again of the table of actions, kept",
				verdict + " damaged: is not a readable verdict, and is left out: it lacks \"schema\", \"event_id\", \"verdict\", \"by\", \"at_utc\", \"evidence\" [] | made again of the table of verdicts, kept"}, ""},
		{"the table of actions gone", without("tables/actions/part.parquet"), []string{"tables/actions/part.parquet missing: the table of actions is missing [] | made again of the actions"}, ""},
		{"an identity", put(markName, "some"), []string{"identity foreign: this archive holds names [] | "}, ""},
		{"unreported", put(unreportedName, "some"), []string{"unreported damaged: it does not have the checksum of its first line [] | taken away: what the last run had still to report is in the tables, kept"}, ""},
		{"a part and a shard", func(f map[string]string) {
			without(part("audits", "unknown"))(f)
			without(of("undated"))(f)
		}, []string{of("undated") + " missing: the file is missing [] | " + rest, part("audits", "unknown") + " missing: the file is missing [c.csv] scan | " + scan}, "c.csv"},
	} {
		files := maps.Clone(k.files)
		c.do(files)
		dir := layOut(t, files)
		found, err := Verify(dir)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		repaired, err := Repair(dir, time.Date(2031, 7, 3, 0, 0, 0, 0, time.UTC), false)
		if err != nil {
			t.Errorf("%s: repair: %v", c.name, err)
			continue
		}
		if got := told(repaired); !slices.Equal(got, c.want) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, strings.Join(got, "\n     "), strings.Join(c.want, "\n     "))
		}
		for i := range repaired.Faults { // Verify says the same before
			repaired.Faults[i].Mended, repaired.Faults[i].Kept, repaired.Faults[i].Scan = "", "", false
		}
		if a, b := told(found), told(repaired); !slices.Equal(a, b) {
			t.Errorf("%s: Verify found %q, Repair %q", c.name, a, b)
		}
		var left []string
		lacks := map[string]bool{}
		after, err := Verify(dir)
		if err != nil {
			t.Errorf("%s: after it: %v", c.name, err)
			continue
		}
		for _, f := range after.Faults {
			if f.Kind == FaultLacking && f.Cause == "rows that were lost are not back yet" && f.Scan && f.Mended == "" {
				for _, sha := range f.Recordings {
					lacks[after.Names[sha]] = true
				}
			} else if f.Kind != FaultForeign {
				left = append(left, f.File)
			}
		}
		os.Remove(filepath.Join(dir, markName)) // a foreign one, which would end the next night
		k.next(t, dir)
		if night, err := Verify(dir); err != nil || slices.ContainsFunc(night.Faults, func(f Fault) bool { return f.Kind != FaultForeign }) {
			t.Errorf("%s: after the next night: %v, %v", c.name, told(night), err)
		}
		for name, data := range contents(t, dir) {
			if was, there := k.files[name]; there && was != data && !strings.HasPrefix(name, runsFolder+"/") {
				t.Errorf("%s: after the next night %s is another one", c.name, name)
			}
		}
		if got := strings.Join(sortedKeys(lacks), " "); len(left) > 0 || got != c.lacks {
			t.Errorf("%s: after it %v is left, and the rows of %q are lacking, want %q", c.name, left, got, c.lacks)
		}
	}
}

func order(lines ...string) []string { return slices.Sorted(slices.Values(lines)) }

// told is what a condition says, a line for each fault.
func told(c *Condition) (lines []string) {
	for _, f := range c.Faults {
		names := map[string]bool{}
		for _, sha := range f.Recordings {
			names[c.Names[sha]] = true
		}
		l := fmt.Sprintf("%s %s: %s %v", f.File, f.Kind, f.Cause, sortedKeys(names))
		if f.Scan {
			l += " scan"
		}
		l += " | " + f.Mended
		if f.Kept != "" {
			l += ", kept"
		}
		lines = append(lines, l)
	}
	return lines
}
