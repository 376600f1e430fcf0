package archive

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/report/output"
	"downlock/testdata/effort"
)

// planFixture plans an array over input files.
func planFixture(t testing.TB, dir string, run *Run, paths []string) *Array {
	t.Helper()
	return planFixtureOn(t, quickDisk{}, dir, run, paths)
}

func planFixtureOn(t testing.TB, d disk, dir string, run *Run, paths []string) *Array {
	t.Helper()
	var list []Input
	for _, p := range paths {
		list = append(list, Input{Path: p, Files: []string{p}})
	}
	planned := *run
	planned.Began = later()
	a, err := open(dir, &planned, list, d)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	var inputs []ArrayInput
	for _, in := range list {
		sight, err := in.Look()
		if err != nil {
			t.Fatal(err)
		}
		if input, current := a.Ask(in, sight); !current {
			inputs = append(inputs, input)
		}
	}
	place, err := a.PlanArray(inputs, 3, []byte(`{}`), map[string][]byte{"profile.yaml": []byte("profile")})
	if err != nil {
		t.Fatal(err)
	}
	r, err := OpenArray(place)
	if err == nil {
		err = errors.Join(r.CheckCopies(), r.Use(run))
	}
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// scanFixture scans the chunks of an array that have no results, as tasks do.
func scanFixture(t testing.TB, r *Array) {
	t.Helper()
	for task := range r.Tasks {
		err := r.EachChunk(task, func(n int, inputs []ArrayInput) error {
			c, err := r.Begin(n, inputs)
			if err != nil || c == nil {
				return err
			}
			for _, planned := range inputs {
				in := Input{Path: planned.Path, Files: planned.Files}
				content, err := os.ReadFile(in.Path)
				if err != nil {
					return err
				}
				if strings.HasPrefix(string(content), "bad") {
					err = c.StageFailure(in, Sight{}, time.Time{}, errors.New("line 1: is bad"))
				} else {
					sha, results := fixtureResults(r.run, filepath.Base(in.Path), string(content))
					rows := Rows{Recording: sha, Report: []byte(`{"of":"` + in.Path + `"}`)}
					for _, result := range results {
						rows.Add(r.run, result)
					}
					err = c.StageRows(in, Sight{}, time.Time{}, rows)
				}
				if err != nil {
					return err
				}
			}
			return c.End()
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// mergeFixture merges what is there.
func mergeFixture(dir string, run *Run, r *Array, months int, d disk) (m Merged, told []string, err error) {
	a, err := open(dir, run, nil, d)
	if err != nil {
		return m, nil, err
	}
	defer a.Close()
	m, err = a.MergeArray(r, months, func(month string, inputs []MergedInput) {
		for _, in := range inputs {
			told = append(told, month+" "+filepath.Base(in.Path)+" "+in.Cause)
		}
	})
	return m, told, err
}

// arrayContents are the files of an archive but those of its arrays.
func arrayContents(t testing.TB, dir string) map[string]string {
	all := contents(t, dir)
	for name := range all {
		if strings.HasPrefix(name, arraysFolder) {
			delete(all, name)
		}
	}
	return all
}

// TestMergeKilledAnywhere lets a merge die at every change it makes to the disk, and in every
// other round a run over nothing follows: the next merge leaves the bytes of one machine's
// run, and the results are gone then.
func TestMergeKilledAnywhere(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	undisturbed := archiveBefore()
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	want := contents(t, undisturbed)
	planned := archiveBefore()
	r := planFixture(t, planned, fixtureRun("1"), paths)
	if r.Tasks != 3 || r.Chunks() != 3 || r.ArrayPlan.Inputs != 6 {
		t.Fatalf("%d tasks, %d chunks, %d inputs", r.Tasks, r.Chunks(), r.ArrayPlan.Inputs)
	}
	scanFixture(t, r)
	for left := 0; ; left += effort.Of(7, 5, 1) {
		dir := filepath.Join(t.TempDir(), "archive")
		if err := os.CopyFS(dir, os.DirFS(planned)); err != nil {
			t.Fatal(err)
		}
		of := *r
		of.Dir = filepath.Join(dir, arraysFolder, filepath.Base(r.Dir))
		_, _, err := mergeFixture(dir, fixtureRun("1"), &of, 0, &brittleDisk{left: left})
		done := err == nil
		if err != nil && !errors.Is(err, errDead) {
			t.Fatalf("after %d changes: %v", left, err)
		}
		if left%2 == 0 {
			mustNight(t, dir, fixtureRun("1"), nil)
		}
		if _, _, err := mergeFixture(dir, fixtureRun("1"), &of, 0, quickDisk{}); err != nil {
			t.Fatalf("after %d changes: %v", left, err)
		}
		sameContents(t, "merged", arrayContents(t, dir), want)
		if left, _ := filepath.Glob(filepath.Join(of.Dir, stagedFolder, "*")); len(left) > 0 {
			t.Errorf("%v are left", left)
		}
		if t.Failed() {
			t.Fatalf("killed after %d changes", left)
		}
		if done {
			if left < 50 {
				t.Errorf("only %d changes", left)
			}
			return
		}
	}
}

// TestMergeDiskFullAnywhere fills the disk at every change: nothing of the results is lost.
func TestMergeDiskFullAnywhere(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	undisturbed := archiveBefore()
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	want := contents(t, undisturbed)
	for left := 0; ; left += 5 * stride() {
		dir := archiveBefore()
		r := planFixture(t, dir, fixtureRun("1"), paths)
		scanFixture(t, r)
		_, _, err := mergeFixture(dir, fixtureRun("1"), r, 0, &brittleDisk{left: left, mode: full})
		done := err == nil
		var failed *output.Error
		if err != nil && !errors.As(err, &failed) {
			t.Fatalf("after %d changes: %v", left, err)
		}
		if _, _, err := mergeFixture(dir, fixtureRun("1"), r, 0, quickDisk{}); err != nil {
			t.Fatalf("after %d changes: %v", left, err)
		}
		sameContents(t, "with room again", arrayContents(t, dir), want)
		if t.Failed() {
			t.Fatalf("full after %d changes", left)
		}
		if done {
			return
		}
	}
}

// TestMergeByMonths merges a month at a time, in its order and with inputs without a flight first, and says
// of each input once that it is in the archive.
func TestMergeByMonths(t *testing.T) {
	t.Parallel()
	archiveBefore, paths := nightToDisturb(t)
	undisturbed, dir := archiveBefore(), archiveBefore()
	mustNight(t, undisturbed, fixtureRun("1"), paths)
	r := planFixture(t, dir, fixtureRun("1"), paths)
	scanFixture(t, r)
	var told []string
	for left := 3; left >= 0; left-- {
		m, now, err := mergeFixture(dir, fixtureRun("1"), r, 1, quickDisk{})
		if err != nil || m.MonthsLeft != left || m.Superseded != 0 {
			t.Fatalf("%+v %v", m, err)
		}
		told = append(told, now...)
	}
	if want := []string{" c.csv line 1: is bad", "2031-03 a.csv ", "2031-03 b.csv ", "2031-04 d.csv ", "2031-04 g.csv ", "2031-06 f.csv "}; !slices.Equal(told, want) {
		slices.Sort(told)
		if !slices.Equal(told, want) {
			t.Errorf("told %q, want %q", told, want)
		}
	}
	sameContents(t, "month by month", arrayContents(t, dir), contents(t, undisturbed))
}

// TestNewerStays: an input that a run scanned after the plan keeps that result, whether a
// task scanned it before that run or after it.
func TestNewerStays(t *testing.T) {
	t.Parallel()
	folder, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03", "b.csv": "2031-04"}.write(t, folder)
	mustNight(t, dir, fixtureRun("1"), paths)
	newRun := fixtureRun("22")
	r := planFixture(t, dir, newRun, paths)
	scanFixture(t, r)
	inputs{"a.csv": "2031-05 2031-06"}.write(t, folder) // corrected since
	mustNight(t, dir, newRun, paths[:1])
	m, told, err := mergeFixture(dir, newRun, r, 0, quickDisk{})
	if err != nil || m.Superseded != 1 || m.Already != 0 || fmt.Sprint(told) != "[2031-04 b.csv ]" {
		t.Fatalf("%+v %q %v", m, told, err)
	}
	undisturbed := filepath.Join(t.TempDir(), "archive")
	mustNight(t, undisturbed, newRun, paths)
	sameContents(t, "newer", arrayContents(t, dir), contents(t, undisturbed))
}

// TestDamagedChunk: results that are not as a worker wrote them are noticed, whichever byte is
// another one, and count as missing.
func TestDamagedChunk(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03", "b.csv": "2031-04", "c.csv": "bad"}.write(t, t.TempDir())
	r := planFixture(t, dir, fixtureRun("1"), paths)
	scanFixture(t, r)
	whole, err := os.ReadFile(r.chunkPath(1))
	if err != nil {
		t.Fatal(err)
	}
	other, err := os.ReadFile(r.chunkPath(0))
	if err != nil {
		t.Fatal(err)
	}
	cases := map[string][]byte{"empty": nil, "cut": whole[:len(whole)-1], "longer": append(bytes.Clone(whole), "x"...), "that of another chunk": other, "twice": append(bytes.Clone(whole), whole...)}
	for i := 0; i < len(whole); i += 1 + len(whole)/50 {
		flipped := bytes.Clone(whole)
		flipped[i] ^= 1
		cases[fmt.Sprintf("byte %d", i)] = flipped
	}
	for name, data := range cases {
		if err := os.WriteFile(r.chunkPath(1), data, 0o600); err != nil {
			t.Fatal(err)
		}
		missing, damaged, err := r.Missing()
		if err != nil || fmt.Sprint(missing) != "[1]" || len(damaged) != 1 || !strings.Contains(damaged[0].Cause, "chunk 1") {
			t.Errorf("%s: missing %v, %v, %v", name, missing, damaged, err)
		}
	}
	if p, err := r.Progress(time.Now()); err != nil || fmt.Sprint(p.Missing) != "[1]" || p.Done != 2 || p.Left != r.Sizes[1] {
		t.Errorf("%+v, %v", p, err)
	}
}

// TestProgress: workers count as running for ten minutes after their last sign of life.
func TestProgress(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	r := planFixture(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03", "b.csv": "2031-04", "c.csv": "bad"}.write(t, t.TempDir()))
	scanFixture(t, r)
	if err := os.Remove(r.chunkPath(2)); err != nil {
		t.Fatal(err)
	}
	err := r.EachChunk(2, func(n int, inputs []ArrayInput) error {
		c, err := r.Begin(n, inputs)
		if err != nil || c == nil {
			t.Fatal(c, err)
		}
		host, _ := os.Hostname()
		p, err := r.Progress(time.Now())
		if err != nil || len(p.Running) != 1 || p.Running[0].Chunk != 2 || p.Running[0].Host != strings.ReplaceAll(host, ".", "-") || p.Running[0].Process != fmt.Sprint(os.Getpid()) || len(p.Missing) != 1 {
			t.Errorf("%+v, %v", p, err)
		}
		if p, err := r.Progress(time.Now().Add(11 * time.Minute)); err != nil || len(p.Running) != 0 || len(p.Missing) != 1 {
			t.Errorf("later: %+v, %v", p, err)
		}
		if err := c.End(); err == nil || !strings.Contains(err.Error(), "results of 0 inputs") {
			t.Errorf("a chunk without results ends with %v", err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if p, err := r.Progress(time.Now()); err != nil || len(p.Running) != 0 || p.Failed+p.Flights != 2 {
		t.Errorf("%+v, %v", p, err)
	}
}
