package archive

import (
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/testdata/effort"
)

// arrayCut is an array that is planned and scanned, through which the power may go at any time.
type arrayCut struct {
	run     *Run
	place   string            // of the array, below the archive
	planned map[string]string // the archive with the plan
	scanned map[string]string // every chunk has its results
	merged  map[string]string // and is merged
	plan    int               // events until it was planned
	log     []diskEvent
}

func newArrayCut(t *testing.T) *arrayCut {
	t.Helper()
	dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
	paths := inputs{"a.csv": "2031-03", "b.csv": "2031-03 2031-04", "c.csv": "bad", "d.csv": "2031-04"}.write(t, t.TempDir())
	d := &notedDisk{dir: dir}
	r := planFixtureOn(t, d, dir, run, paths)
	c := &arrayCut{run: run, plan: len(d.log), planned: contents(t, dir)}
	c.place, _ = filepath.Rel(dir, r.Dir)
	r.disk = d
	scanFixture(t, r)
	c.log, c.scanned = d.log, contents(t, dir)
	if _, _, err := mergeFixture(dir, run, r, 100, quickDisk{}); err != nil {
		t.Fatal(err)
	}
	c.merged = arrayContents(t, dir)
	return c
}

// harm returns what is wrong with the files that a power cut left after so many events, ""
// for nothing: what was planned, and what every worker has ended, must be there, and from
// any other state of the results other workers must be able to do what is missing.
func (c *arrayCut) harm(t *testing.T, files map[string]string, events int) string {
	t.Helper()
	maps.DeleteFunc(files, func(name, _ string) bool { return name == lockName || strings.HasSuffix(name, unfinishedEnding) })
	if events == len(c.log) {
		if diff := differ(files, c.scanned); diff != "" {
			return "the workers have ended, and afterwards " + diff + " is not as they left it"
		}
	}
	if events < c.plan {
		return ""
	}
	for name, data := range c.planned {
		if files[name] != data {
			return "the array is planned, and afterwards " + name + " is not as it was"
		}
	}
	dir := layOut(t, files)
	r, err := OpenArray(filepath.Join(dir, c.place))
	if err == nil {
		err = r.Use(c.run)
	}
	if err == nil {
		err = quickDisk{}.folder(filepath.Join(r.Dir, stagedFolder)) // an empty one is not laid out
	}
	if err != nil {
		return err.Error()
	}
	r.disk = quickDisk{}
	if _, _, err := r.Missing(); err != nil { // which removes damaged results
		return err.Error()
	}
	scanFixture(t, r)
	if _, _, err := mergeFixture(dir, c.run, r, 100, quickDisk{}); err != nil {
		return "the merge: " + err.Error()
	}
	if diff := differ(arrayContents(t, dir), c.merged); diff != "" {
		return "the merge leaves another " + diff
	}
	return ""
}

// TestPowerCutOfAnArray lets the power go after every change that a plan and its workers
// make, and leaves out one sync after another: without it some power cut must do harm.
func TestPowerCutOfAnArray(t *testing.T) {
	t.Parallel()
	c := newArrayCut(t)
	random := rand.New(rand.NewPCG(5, 16))
	stride := effort.Of(3, 2, 1)
	for events := 0; events <= len(c.log); events += stride {
		if events+stride > len(c.log) {
			events = len(c.log)
		}
		model := modelAfter(t, nil, c.log[:events], -1)
		for _, f := range []fate{all(), synced(), anyOf(random), anyOf(random)} {
			if harm := c.harm(t, model.after(f), events); harm != "" {
				t.Fatalf("after %d of %d events: %s", events, len(c.log), harm)
			}
		}
	}
	syncs := 0
	p := &powerCut{log: c.log}
	for left, e := range c.log {
		again := func(later diskEvent) bool { return later.kind == e.kind && later.path == e.path }
		if !e.isSync() || e.kind == syncedFolder && slices.ContainsFunc(c.log[left+1:], again) {
			continue // a later one of the same folder does its work
		}
		syncs++
		harmful := false
		for _, events := range []int{c.plan, len(c.log)} {
			if events <= left {
				continue
			}
			model := modelAfter(t, nil, c.log[:events], left)
			if x := modelAfterNode(t, p, events, left, model); x != nil {
				harmful = harmful || slices.ContainsFunc(fatesOf(x), func(f fate) bool { return c.harm(t, model.after(f), events) != "" })
			}
		}
		if !harmful {
			t.Errorf("sync %d of %s: nothing is worse without it", left, e.path)
		}
	}
	if syncs < 9 { // of three tasks, a copy, the plan, three folders and the results
		t.Errorf("%d syncs", syncs)
	}
	t.Logf("%d events, %d syncs", len(c.log), syncs)
}
