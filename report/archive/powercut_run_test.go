package archive

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/testdata/effort"
)

// wholeRun is one run as scan makes it, from the lock to the figures: it tells the
// findings of its inputs, and those earlier runs did not tell.
func wholeRun(dir string, run *Run, paths []string, d disk, tell func(told []string)) error {
	list := make([]Input, len(paths))
	for i, p := range paths {
		list[i] = Input{p, []string{p}, nil}
	}
	a, err := open(dir, run, list, d)
	if err != nil {
		return err
	}
	defer a.Close()
	var told []string
	for _, u := range a.EarlierRuns() {
		if !u.Told {
			told = append(told, string(u.Report))
		}
	}
	for _, in := range list {
		sight, err := in.Look()
		if err != nil {
			return err
		}
		if same, err := a.Unchanged(in, sight, later()); same || err != nil {
			if err != nil {
				return err
			}
			continue
		}
		content, err := os.ReadFile(in.Path)
		if err != nil {
			return err
		}
		if strings.HasPrefix(string(content), "bad") {
			if err := a.StageFailure(in, sight, later(), errors.New("line 1: is bad")); err != nil {
				return err
			}
			continue
		}
		sha, results := fixtureResults(run, filepath.Base(in.Path), string(content))
		rows := Rows{Recording: sha}
		for _, r := range results {
			rows.Add(run, r)
		}
		rows.Report, _ = json.Marshal(filepath.Base(in.Path))
		told = append(told, string(rows.Report))
		if err := a.StageRows(in, sight, later(), rows); err != nil {
			return err
		}
	}
	if err := a.Commit(); err != nil {
		return err
	}
	if _, err := a.KeepVerdicts(); err != nil {
		return err
	}
	_, err = a.KeepRun(fmt.Appendf(nil, `{"exit_code":0,"began":%q}`, run.Began.Format(time.RFC3339)), func() error { tell(told); return nil })
	return err
}

// powerCut is a run through which the power may go at any time.
type powerCut struct {
	run    *Run
	paths  []string
	before map[string]string // the archive before the run
	after  map[string]string // and after it
	log    []diskEvent
	said   int      // events until it told its findings
	told   []string // which ones
}

// newPowerCut makes the run that the crash tests disturb. The first of its kind keeps
// figures and verdicts in an archive that has none yet.
func newPowerCut(t *testing.T, first bool) *powerCut {
	t.Helper()
	archiveBefore, paths := nightToDisturb(t)
	p := &powerCut{run: fixtureRun("1"), paths: paths}
	p.run.Began = time.Date(2031, 6, 30, 2, 30, 0, 0, time.UTC)
	dir := archiveBefore()
	if !first {
		if err := wholeRun(dir, p.run, nil, quickDisk{}, func([]string) {}); err != nil {
			t.Fatal(err)
		}
	}
	p.run.Began = p.run.Began.AddDate(0, 0, 1)
	p.before = contents(t, dir)
	d := &notedDisk{dir: dir}
	if err := wholeRun(dir, p.run, paths, d, func(told []string) { p.said, p.told = len(d.log), told }); err != nil {
		t.Fatal(err)
	}
	p.log, p.after = d.log, contents(t, dir)
	return p
}

// fault returns what is wrong with the files that a power cut after so many events left, ""
// for nothing: what a reader finds, what a run over nothing makes of it, and what a
// run over the same inputs does.
func (p *powerCut) fault(t *testing.T, files map[string]string, events int) string {
	t.Helper()
	delete(files, lockName)
	maps.DeleteFunc(files, func(name, _ string) bool { return strings.HasPrefix(name, newFolder+"/") })
	if events == len(p.log) {
		if diff := differ(files, p.after); diff != "" && diff != unreportedName {
			return "the run has ended, and afterwards " + diff + " is not as it left it"
		}
	}
	dir := layOut(t, files)
	if list, err := runChecksums(dir); err != nil {
		return err.Error()
	} else {
		for key, listed := range list.files {
			if sumOfText([]byte(files[key])) != listed.fileSum {
				return key + " is listed and not there"
			}
		}
	}
	list, err := readChecksums(filepath.Join(dir, checksumsName))
	if err != nil {
		return err.Error()
	}
	if list.Changing {
		if err := wholeRun(dir, p.laterRun(), nil, quickDisk{}, func([]string) {}); err != nil {
			return "a run over nothing: " + err.Error()
		}
		if diff := differ(withoutRuns(contents(t, dir)), withoutRuns(p.after)); diff != "" {
			if other := differ(withoutRuns(contents(t, dir)), withoutRuns(p.before)); other != "" && other != "tables/verdicts/part.parquet" {
				return "a run over nothing leaves neither the old nor the new: " + diff + ", " + other
			}
		}
		dir = layOut(t, files)
	}
	var told []string
	if events >= p.said {
		told = append(told, p.told...)
	}
	if err := wholeRun(dir, p.laterRun(), p.paths, quickDisk{}, func(more []string) { told = append(told, more...) }); err != nil {
		return "the next run: " + err.Error()
	}
	if diff := differ(withoutRuns(contents(t, dir)), withoutRuns(p.after)); diff != "" {
		return "the next run leaves another " + diff
	}
	for _, report := range p.told {
		if !slices.Contains(told, report) {
			return "nobody is told of " + report
		}
	}
	if events == len(p.log) && len(told) != len(p.told) {
		return fmt.Sprintf("told twice: %v", told)
	}
	return ""
}

func (p *powerCut) laterRun() *Run {
	run := *p.run
	run.Began = p.run.Began.Add(time.Hour)
	return &run
}

// withoutRuns leaves out the figures of runs, of which there are more after a power cut.
func withoutRuns(files map[string]string) map[string]string {
	files = maps.Clone(files)
	maps.DeleteFunc(files, func(name, _ string) bool { return strings.HasPrefix(name, runsFolder) })
	return files
}

// differ names a file that differs, "" for none.
func differ(got, want map[string]string) string {
	for _, name := range sortedKeys(got) {
		if data, there := want[name]; !there || got[name] != data {
			return name
		}
	}
	for _, name := range sortedKeys(want) {
		if _, there := got[name]; !there {
			return name
		}
	}
	return ""
}

// TestPowerCut lets the power go after every single change to the disk, with everything
// since the last syncs kept, nothing of it, any part of it, and everything or nothing but
// what belongs to one file or folder. A sync that is taken out of the code fails here.
func TestPowerCut(t *testing.T) {
	t.Parallel()
	p := newPowerCut(t, false)
	random := rand.New(rand.NewPCG(3, 14))
	seen := map[string]bool{}
	stride := effort.Of(13, 9, 1)
	for events := 0; events <= len(p.log); events += stride {
		if events+stride > len(p.log) {
			events = len(p.log)
		}
		model := modelAfter(t, p.before, p.log[:events], -1)
		fates := []fate{all(), synced(), anyOf(random), anyOf(random)}
		for _, x := range model.unsynced("") {
			fates = append(fates, fatesOf(x)...)
		}
		for _, f := range fates {
			files := model.after(f)
			maps.DeleteFunc(files, func(name, _ string) bool { return strings.HasPrefix(name, newFolder+"/") }) // which the next run empties
			text, err := json.Marshal(files)
			if err != nil {
				t.Fatal(err)
			}
			if state := fmt.Sprint(events >= p.said, events == len(p.log), string(text)); seen[state] {
				continue
			} else {
				seen[state] = true
			}
			if fault := p.fault(t, files, events); fault != "" {
				t.Fatalf("after %d of %d events: %s", events, len(p.log), fault)
			}
		}
	}
	t.Logf("%d events, %d states of the disk", len(p.log), len(seen))
}

// TestEverySyncCounts leaves out one sync after another: without it some power cut must do
// harm, since a sync that cannot be missed by any test may go unnoticed when it goes.
func TestEverySyncCounts(t *testing.T) {
	t.Parallel()
	syncs := 0
	for _, first := range []bool{true, false} {
		p := newPowerCut(t, first)
		committed := slices.IndexFunc(p.log, func(e diskEvent) bool { return e.kind == removedName && e.path == stagingFolder })
		for i, e := range p.log {
			if !e.isSync() || i%effort.Of(7, 3, 1) > 0 || first && i < committed || first && e.path == "." && p.log[i-1].path == newFolder || !isUsed(p.log[i:]) {
				continue // a commit is the same with the figures of runs or without
			}
			syncs++
			if !p.harmWithout(t, i) {
				t.Errorf("first %v, sync %d of %s: nothing is worse without it", first, i, e.path)
			}
		}
	}
	t.Logf("%d syncs", syncs)
	if syncs < 5 {
		t.Error("too few")
	}
}

// isUsed reports whether the file of the first event gets a place. A new file that is the
// same as the one in its place does not.
func isUsed(log []diskEvent) bool {
	return !strings.HasPrefix(log[0].path, newFolder+"/") || slices.ContainsFunc(log, func(e diskEvent) bool { return e.kind == renamed && e.path == log[0].path })
}

// harmWithout reports whether some power cut does harm when a sync was left out. It tries the times
// from the last on until the same file or folder is synced again.
func (p *powerCut) harmWithout(t *testing.T, left int) bool {
	last := len(p.log)
	for i := left + 1; i < len(p.log); i++ {
		if p.log[i].isSync() && p.log[i].path == p.log[left].path {
			last = i
			break
		}
	}
	for events := last; events > left; events-- {
		model := modelAfter(t, p.before, p.log[:events], left)
		x := modelAfterNode(t, p, events, left, model)
		if x == nil {
			continue
		}
		for _, f := range fatesOf(x) {
			if p.fault(t, model.after(f), events) != "" {
				return true
			}
		}
	}
	return false
}

// modelAfterNode finds the file or folder that a sync was of, wherever it is now.
func modelAfterNode(t *testing.T, p *powerCut, events, left int, model *node) *node {
	path := p.log[left].path
	for _, e := range p.log[left:events] {
		if e.kind == renamed && e.path == path {
			path = e.to
		}
	}
	return model.at(path)
}

// TestPowerCutOfAnIdentity: in an archive that withholds identity nothing is ever there
// that a run without the key would go on with, and one with it can.
func TestPowerCutOfAnIdentity(t *testing.T) {
	t.Parallel()
	key := testKey(t)
	run := fixtureRun("1")
	run.Identity = key
	paths := inputs{"a.csv": "2031-03"}.write(t, t.TempDir())
	dir := filepath.Join(t.TempDir(), "archive")
	d := &notedDisk{dir: dir}
	if err := wholeRun(dir, run, paths, d, func([]string) {}); err != nil {
		t.Fatal(err)
	}
	harm := func(left int) (harm string) {
		for events := range d.log {
			model := modelAfter(t, nil, d.log[:events], left)
			fates := []fate{all(), synced()}
			if left >= 0 && events > left {
				if x := model.at("."); x != nil {
					fates = append(fates, fatesOf(x)...)
				}
				if x := model.at(markName); x != nil {
					fates = append(fates, fatesOf(x)...)
				}
			}
			for _, f := range fates {
				files := model.after(f)
				tokens := 0
				for name := range files {
					if strings.HasPrefix(name, tablesFolder) || strings.HasPrefix(name, ledgerFolder) || strings.HasPrefix(name, stagingFolder) {
						tokens++
					}
				}
				dir := layOut(t, files)
				if tokens > 0 && CheckKey(dir, nil) == nil || CheckKey(dir, key) != nil {
					return fmt.Sprintf("after %d events", events)
				}
			}
		}
		return ""
	}
	if at := harm(-1); at != "" {
		t.Errorf("a run without the key is let in, or one with it kept out, %s", at)
	}
	for i, e := range d.log {
		if e.kind == syncedFile && strings.HasSuffix(e.path, markName) || i > 0 && e.kind == syncedFolder && d.log[i-1].to == markName {
			if harm(i) == "" {
				t.Errorf("sync %d of %s: nothing is worse without it", i, e.path)
			}
		}
	}
}

// TestPowerCutOfPrune: rows that are pruned are all there, or are gone after once more.
func TestPowerCutOfPrune(t *testing.T) {
	t.Parallel()
	base := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"old.csv": "2031-01 2031-02", "both.csv": "2031-01 2031-03", "young.csv": "2031-03"}.write(t, t.TempDir())
	mustNight(t, base, fixtureRun("1"), paths)
	cut := time.Date(2031, 3, 1, 0, 0, 0, 0, time.UTC)
	before := contents(t, base)
	dir := layOut(t, before)
	d := &notedDisk{dir: dir}
	if _, err := prune(dir, cut, false, false, d); err != nil {
		t.Fatal(err)
	}
	after := contents(t, dir)
	harm := func(events int, model *node, f fate) string {
		files := model.after(f)
		if events == len(d.log) && differ(files, after) != "" {
			return "ended, and " + differ(files, after) + " is not as it was left"
		}
		dir := layOut(t, files)
		if _, err := prune(dir, cut, false, false, quickDisk{}); err != nil {
			return err.Error()
		}
		mustNight(t, dir, fixtureRun("1"), nil)
		if diff := differ(contents(t, dir), after); diff != "" {
			return "pruned again, and " + diff + " is another one"
		}
		return ""
	}
	random := rand.New(rand.NewPCG(2, 7))
	for events := 0; events <= len(d.log); events += stride() {
		model := modelAfter(t, before, d.log[:events], -1)
		for _, f := range []fate{all(), synced(), anyOf(random), anyOf(random)} {
			if fault := harm(events, model, f); fault != "" {
				t.Fatalf("after %d events: %s", events, fault)
			}
		}
	}
	p := &powerCut{log: d.log}
	for left, e := range d.log {
		if !e.isSync() || !isUsed(d.log[left:]) || left%effort.Of(5, 3, 1) > 0 {
			continue
		}
		found := false
		for events := len(d.log); events > left && !found; events-- {
			model := modelAfter(t, before, d.log[:events], left)
			if x := modelAfterNode(t, p, events, left, model); x != nil {
				found = slices.ContainsFunc(fatesOf(x), func(f fate) bool { return harm(events, model, f) != "" })
			}
		}
		if !found {
			t.Errorf("sync %d of %s: nothing is worse without it", left, e.path)
		}
	}
}
