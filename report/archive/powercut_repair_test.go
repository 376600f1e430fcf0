package archive

import (
	"encoding/json"
	"errors"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/report/output"
	"downlock/testdata/effort"
)

// repairCut is a repair through which the power may go at any time, or that a bad sector
// may end.
type repairCut struct {
	name   string
	k      *keptArchive
	before map[string]string // spoilt
	after  map[string]string // repaired
	later  map[string]string // and after the next night
	faults []Fault
	log    []diskEvent
}

var repairTime = time.Date(2031, 7, 3, 0, 0, 0, 0, time.UTC)

// newRepairCuts spoils archives so that between them a repair does all that it can do: with
// a list of checksums, without one, and where identity is withheld.
func newRepairCuts(t *testing.T) []*repairCut {
	t.Helper()
	part := func(table, month string) string { return filepath.ToSlash(partPath(table, month)) }
	named, tokens := newKeptArchive(t, nil), newKeptArchive(t, testKey(t))
	all := func(files map[string]string, pattern string) (found []string) {
		for _, name := range sortedKeys(files) {
			if ok, _ := filepath.Match(pattern, name); ok {
				found = append(found, name)
			}
		}
		if len(found) == 0 {
			t.Fatalf("no %s", pattern)
		}
		return found
	}
	flipAll := func(f map[string]string, names ...string) {
		for _, name := range names {
			flip(f, name, len(f[name])/2)
		}
	}
	exchange := func(f map[string]string, a, b string) { f[a], f[b] = f[b], f[a] }
	cuts := []*repairCut{
		{name: "listed", k: named},
		{name: "no list", k: named},
		{name: "tokens", k: tokens},
	}
	for _, c := range cuts {
		c.before = maps.Clone(c.k.files)
		f := c.before
		switch c.name {
		case "listed":
			flipAll(f, part("events", "2031-03"))
			delete(f, part("audits", "unknown"))
			exchange(f, part("measurements", "2031-03"), part("measurements", "2031-04"))
			f[part("flights", "2031-05")] = "none"
			inputs := all(f, "ledger/inputs/*")[0]
			f[inputs] = f[inputs][strings.IndexByte(f[inputs], '\n')+1:]
			flipAll(f, all(f, "ledger/recordings/*")[0])
			verdicts := all(f, "reviews/*/*.json")
			flipAll(f, verdicts[len(verdicts)-1])
			delete(f, all(f, "reviews/*/*.action")[0])
			flipAll(f, runsFolder+"/20310701T023000.000Z/batch.json")
			f[unreportedName] = "some"
		case "no list":
			delete(f, checksumsName)
			flipAll(f, runsFolder+"/"+checksumsName)
			f[part("events", "2031-03")] = f[part("events", "2031-03")][:100]
			f[part("audits", "2031-04")] = "none"
			flipAll(f, all(f, "ledger/inputs/*")[0])
			f["tables/actions/part.parquet"] = "none" // one with a byte flipped may still be read, and its actions made again
			for _, action := range all(f, "reviews/*/*.action") {
				delete(f, action)
			}
		case "tokens":
			exchange(f, runsFolder+"/20310701T023000.000Z/batch.json", runsFolder+"/20310702T023000.000Z/batch.json")
			flipAll(f, markName)
			f["tables/verdicts/part.parquet"] = "none"
			shards := all(f, "ledger/recordings/*")
			exchange(f, shards[0], shards[1])
		}
		dir := layOut(t, c.before)
		d := &notedDisk{dir: dir}
		condition, err := repair(dir, repairTime, false, d)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		for _, fault := range condition.Faults {
			if fault.Mended == "" {
				t.Errorf("%s: %+v", c.name, fault)
			}
		}
		c.after, c.log, c.faults = contents(t, dir), d.log, condition.Faults
		c.k.next(t, dir)
		c.later = contents(t, dir)
	}
	return cuts
}

// withoutCopies leaves out what repairs replaced.
func withoutCopies(files map[string]string) map[string]string {
	files = maps.Clone(files)
	maps.DeleteFunc(files, func(name, _ string) bool { return strings.HasPrefix(name, replacedFolder+"/") })
	return files
}

// harm returns what is wrong with the files that a repair left that was cut off, "" for
// nothing: what is still wrong must be said, and a second repair end as an
// undisturbed one, with a copy of all that was replaced. So must one after a night that came
// in between, which may fail, but not hide anything.
func (c *repairCut) harm(t *testing.T, files map[string]string, ended, night bool) string {
	t.Helper()
	delete(files, lockName)
	maps.DeleteFunc(files, func(name, _ string) bool { return strings.HasPrefix(name, newFolder+"/") })
	if ended {
		if diff := differ(files, c.after); diff != "" {
			return "the repair has ended, and afterwards " + diff + " is not as it left it"
		}
	}
	dir := layOut(t, files)
	if night {
		run := *c.k.run
		run.Began = run.Began.AddDate(0, 0, 1)
		_ = wholeRun(dir, &run, c.k.paths, quickDisk{}, func([]string) {})
	}
	if _, err := repair(dir, repairTime, false, quickDisk{}); err != nil {
		return "the second repair: " + err.Error()
	}
	got := contents(t, dir)
	if !night {
		if diff := differ(withoutCopies(got), withoutCopies(c.after)); diff != "" {
			return "the second repair leaves another " + diff
		}
	}
	for _, f := range c.faults {
		data, there := c.before[f.File]
		if made := f.File == filepath.ToSlash(verdictsPart) || f.File == filepath.ToSlash(actionsPart); there && !(made && night) { // which a night makes anew
			copied := false
			for name := range got {
				folder, key, _ := strings.Cut(strings.TrimPrefix(name, replacedFolder+"/"), "/")
				copied = copied || folder != name && key == f.File && got[name] == data
			}
			if !copied {
				return "no copy of " + f.File + " is kept"
			}
		}
	}
	if night {
		c.k.next(t, dir)
		got := contents(t, dir)
		if table := filepath.ToSlash(actionsPart); c.later[table] == "" {
			delete(got, table) // a damaged one that nobody removes becomes an empty one
		}
		if diff := differ(withoutCopies(withoutRuns(got)), withoutCopies(withoutRuns(c.later))); diff != "" {
			return "after nights and a second repair there is another " + diff
		}
	}
	return ""
}

// TestPowerCutOfRepair lets the power go after every single change that a repair makes to
// the disk.
func TestPowerCutOfRepair(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(5, 14))
	for _, c := range newRepairCuts(t) {
		seen := map[string]bool{}
		step := effort.Of(29, 17, 1)
		for events := len(c.log) % step; events <= len(c.log); events += step {
			model := modelAfter(t, c.before, c.log[:events], -1)
			for i, f := range []fate{all(), synced(), anyOf(random), anyOf(random)} {
				files := model.after(f)
				maps.DeleteFunc(files, func(name, _ string) bool { return strings.HasPrefix(name, newFolder+"/") })
				text, err := json.Marshal(files)
				if err != nil {
					t.Fatal(err)
				}
				if ended := events == len(c.log); ended || !seen[string(text)] {
					seen[string(text)] = true
					if harm := c.harm(t, files, ended, i == 0 && events%2 == 0); harm != "" {
						t.Errorf("%s: after %d of %d events, fate %d: %s", c.name, events, len(c.log), i, harm)
					}
				}
			}
		}
		t.Logf("%s: %d events, %d states of the disk", c.name, len(c.log), len(seen))
	}
}

// TestPowerCutOfRepairNeedsEverySync leaves out one sync after another: without it some power cut
// must do harm.
func TestPowerCutOfRepairNeedsEverySync(t *testing.T) {
	t.Parallel()
	syncs := 0
	for _, c := range newRepairCuts(t) {
		p := &powerCut{log: c.log}
		for left, e := range c.log {
			switch {
			case !e.isSync() || !isUsed(c.log[left:]):
				continue
			case c.name != "no list" && e.path == "." && c.log[left-1].to == checksumsName:
				continue // where a list was, it may come after the parts that go: it misses them
			case e.path == "tables/verdicts" && c.log[left-1].kind == removedName:
				continue // the table is made anew; that of actions is not where there are none
			}
			if syncs++; syncs%effort.Of(13, 11, 1) > 0 {
				continue
			}
			found := false
			for events := len(c.log); events > left && !found; events-- {
				model := modelAfter(t, c.before, c.log[:events], left)
				if x := modelAfterNode(t, p, events, left, model); x != nil {
					found = slices.ContainsFunc(fatesOf(x), func(f fate) bool { return c.harm(t, model.after(f), events == len(c.log), false) != "" })
				}
			}
			if !found {
				t.Errorf("%s: sync %d of %s: nothing is worse without it", c.name, left, e.path)
			}
		}
	}
	t.Logf("%d syncs", syncs)
}

// TestDiskErrorInRepair has every single change to the disk fail once with an input/output
// error. It is said with the file; and a second repair ends as an undisturbed one.
func TestDiskErrorInRepair(t *testing.T) {
	t.Parallel()
	for _, c := range newRepairCuts(t) {
		failed := 0
		for left := 0; ; left += effort.Of(19, 11, 1) {
			dir, d := layOut(t, c.before), &brittleDisk{left: left, mode: failing}
			_, err := repair(dir, repairTime, false, d)
			if d.left >= 0 && err == nil {
				break
			}
			var written *output.Error
			if err != nil && (!errors.As(err, &written) || !errors.Is(err, errIO) || written.Path == "") {
				t.Errorf("%s: change %d: %v", c.name, left, err)
			}
			if err != nil {
				failed++
			}
			if harm := c.harm(t, contents(t, dir), err == nil, false); harm != "" {
				t.Errorf("%s: change %d, error %v: %s", c.name, left, err, harm)
			}
		}
		if failed < 3 {
			t.Errorf("%s: only %d failed", c.name, failed)
		}
	}
}
