package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/schemas"
)

// planOf plans inputs that are not there.
func planOf(t *testing.T, tasks int, sizes ...int64) *Array {
	t.Helper()
	run := fixtureRun("1")
	run.Began = later()
	a, err := open(filepath.Join(t.TempDir(), "archive"), run, nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	var list []ArrayInput
	for i, size := range sizes {
		list = append(list, ArrayInput{Path: fmt.Sprintf("/exports/%03d<.csv", i), Sight: Sight{Size: size}})
	}
	dir, err := a.PlanArray(list, tasks, []byte(`{}`), map[string][]byte{"a.yaml": []byte("a"), "b.yaml": []byte("b")})
	if err != nil {
		t.Fatal(err)
	}
	r, err := OpenArray(dir)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// chunksOf are the sizes of the inputs of each chunk.
func chunksOf(t *testing.T, r *Array) (chunks [][]int64) {
	t.Helper()
	for task := range r.Tasks {
		err := r.EachChunk(task, func(n int, inputs []ArrayInput) error {
			var sizes []int64
			for _, in := range inputs {
				sizes = append(sizes, in.Sight.Size)
			}
			if n != len(chunks) {
				t.Errorf("chunk %d comes as number %d", n, len(chunks))
			}
			chunks = append(chunks, sizes)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return chunks
}

// TestPlanByHand: chunks of at most 64 inputs, at least one for each task that can have one, and about as
// many bytes in each.
func TestPlanByHand(t *testing.T) {
	t.Parallel()
	r := planOf(t, 2, 10, 40, 20)
	chunks := chunksOf(t, r)
	slices.SortFunc(chunks, func(a, b []int64) int { return len(a) - len(b) })
	if len(chunks) != 2 || fmt.Sprint(chunks[0]) != "[40]" || chunks[1][0]+chunks[1][1] != 30 {
		t.Errorf("chunks %v", chunks)
	}
	sizes := slices.Sorted(slices.Values(r.Sizes))
	if r.Bytes != 70 || r.ArrayPlan.Inputs != 3 || !slices.Equal(r.Begins, []int{0, 1, 2}) || !slices.Equal(sizes, []int64{30, 40}) {
		t.Errorf("%+v", r.ArrayPlan)
	}
	if r := planOf(t, 3, 1, 1); r.Chunks() != 2 || len(r.Begins) != 4 {
		t.Errorf("two inputs for three tasks: begins %v", r.Begins)
	}
	for inputs, want := range map[int]int{64: 1, 65: 2, 128: 2, 129: 3} {
		if r := planOf(t, 1, make([]int64, inputs)...); r.Chunks() != want {
			t.Errorf("%d inputs in %d chunks, want %d", inputs, r.Chunks(), want)
		}
	}
	large := make([]int64, 128)
	large[5] = 1000
	for _, chunk := range chunksOf(t, planOf(t, 1, large...)) {
		if len(chunk) != 64 {
			t.Errorf("a chunk of %d inputs", len(chunk))
		}
	}
	for name, text := range map[string]string{"a.yaml": "a", "b.yaml": "b"} {
		if sum := sha256.Sum256([]byte(text)); r.Copies[name] != hex.EncodeToString(sum[:]) {
			t.Errorf("the copy of %s is %s", name, r.Copies[name])
		}
	}
	stop := errors.New("stop")
	if err := r.EachChunk(0, func(int, []ArrayInput) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("the error of a chunk: %v", err)
	}
	if err := r.CheckCopies(); err != nil {
		t.Error(err)
	}
	writeTestFile(t, filepath.Join(r.Dir, ArraySettings, "b.yaml"), "c")
	if err := r.CheckCopies(); err == nil {
		t.Error("a copy of another text is taken")
	}
	run := *fixtureRun("1")
	if err := r.Use(&run); err != nil || !r.run.Began.Equal(r.Planned) {
		t.Errorf("a chunk is of the run of %v, planned %v, %v", r.run.Began, r.Planned, err)
	}
}

// TestPlanOnDisk: each file of a plan is in its place on disk before the next, and the plan comes last.
func TestPlanOnDisk(t *testing.T) {
	t.Parallel()
	run := fixtureRun("1")
	run.Began = later()
	dir := filepath.Join(t.TempDir(), "archive")
	d := &notedDisk{dir: dir}
	a, err := open(dir, run, nil, d)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	if _, err := a.PlanArray([]ArrayInput{{Path: "/exports/a.csv"}}, 1, []byte(`{}`), map[string][]byte{"a.yaml": []byte("a")}); err != nil {
		t.Fatal(err)
	}
	var order []string
	for i, e := range d.log {
		if e.kind != renamed {
			continue
		}
		order = append(order, filepath.Base(e.to))
		if next := d.log[i+1]; next.kind != syncedFolder || next.path != filepath.Dir(e.to) {
			t.Errorf("after %s: %+v", e.to, next)
		}
		if before := d.log[i-1]; before.kind != syncedFile || before.path != e.path {
			t.Errorf("before %s: %+v", e.to, before)
		}
	}
	if got := strings.Join(order, " "); got != "00000 a.yaml plan.json" {
		t.Errorf("in the order %s", got)
	}
}

// TestDamagedPlan: a plan that contradicts itself is none, nor is a list of merged chunks that
// is not as it was written.
func TestDamagedPlan(t *testing.T) {
	t.Parallel()
	r := planOf(t, 2, 10, 40)
	path := filepath.Join(r.Dir, planName)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	body, _ := checkedBody(text)
	for key, value := range map[string]any{"schema": "another", "begins": []int{0, 2}, "sizes": []int{50}, "tasks": "two"} {
		plan := map[string]any{}
		if err := json.Unmarshal(body, &plan); err != nil {
			t.Fatal(err)
		}
		plan[key] = value
		writeTestFile(t, path, string(checkedText(marshal(plan))))
		var problem *schemas.Problem
		if _, err := OpenArray(r.Dir); !errors.As(err, &problem) || !strings.Contains(problem.Cause, "damaged") {
			t.Errorf("another %s: %v", key, err)
		}
	}
	for text, sound := range map[string]bool{string(checkedText([]byte("[1]\n"))): true, string(checkedText([]byte("1"))): false, strings.Repeat("0", 64) + "\n[1]\n": false} {
		writeTestFile(t, filepath.Join(r.Dir, mergedName), text)
		if merged, err := r.merged(); (err == nil) != sound || sound && !(merged[1] && len(merged) == 1) {
			t.Errorf("%q: %v, %v", text, merged, err)
		}
	}
}

// TestAsk: an input is current that looks as it did when it was scanned, if that can be trusted.
func TestAsk(t *testing.T) {
	t.Parallel()
	for _, rested := range []bool{true, false} {
		path := inputs{"a.csv": "2031-03"}.write(t, t.TempDir())[0]
		in := Input{path, []string{path}, nil}
		sight, err := in.Look()
		if err != nil {
			t.Fatal(err)
		}
		now := later()
		if !rested {
			now = time.Unix(0, sight.Modified)
		}
		dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
		for range 2 {
			a, err := open(dir, run, []Input{in}, quickDisk{})
			if err != nil {
				t.Fatal(err)
			}
			planned, current := a.Ask(in, sight)
			if known := planned.Was != ""; known && current != rested || !known && current {
				t.Errorf("at rest %v: known %v, current %v", rested, known, current)
			}
			if _, current := a.Ask(in, Sight{Size: sight.Size}); current {
				t.Errorf("at rest %v: a time nobody knows is current", rested)
			}
			sum, _ := in.sum()
			_, results := fixtureResults(run, "a.csv", "2031-03")
			if err := errors.Join(a.stageResults(in, sight, now, sum, results), a.Commit()); err != nil {
				t.Fatal(err)
			}
			a.Close()
		}
	}
}

// TestArrayFigures: what an array says of itself, with two chunks merged, two done, and two
// with damaged results or none.
func TestArrayFigures(t *testing.T) {
	t.Parallel()
	dir, folder, run := filepath.Join(t.TempDir(), "archive"), t.TempDir(), fixtureRun("1")
	run.Share = true
	files := inputs{"a.csv": "2031-03", "b.csv": "2031-03 2031-04", "c.csv": "bad c", "d.csv": "bad ddddd", "e.csv": "2031-04", "f.csv": "2031-05"}
	paths := files.write(t, folder)
	r := planFixture(t, dir, run, paths)
	if r.Chunks() != 3 {
		t.Fatalf("%d chunks", r.Chunks())
	}
	a, err := open(dir, run, nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	unmerged := func() string {
		t.Helper()
		dir, err := a.UnmergedArray()
		if err != nil {
			t.Fatal(err)
		}
		return dir
	}
	if unmerged() != r.Dir {
		t.Error("the array is merged")
	}
	scanFixture(t, r)
	inputsOf := map[int][]string{} // contents, by chunk
	for task := range r.Tasks {
		if err := r.EachChunk(task, func(n int, list []ArrayInput) error {
			for _, in := range list {
				inputsOf[n] = append(inputsOf[n], files[filepath.Base(in.Path)])
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	figures := func(chunks ...int) (failed, flights int, bytes int64) {
		for _, n := range chunks {
			for _, content := range inputsOf[n] {
				bytes += int64(len(content))
				if strings.HasPrefix(content, "bad") {
					failed++
				} else {
					flights += len(strings.Fields(content))
				}
			}
		}
		return failed, flights, bytes
	}
	progress := func(merged int, done []int, missing ...int) Progress {
		t.Helper()
		p, err := r.Progress(time.Now())
		failed, flights, bytes := figures(done...)
		_, _, left := figures(missing...)
		if err != nil || p.Merged != merged || p.Done != len(done) || !slices.Equal(p.Missing, missing) || p.Failed != failed || p.Flights != flights || p.Bytes != bytes || p.Left != left {
			t.Errorf("%+v, %v; want %d failed, %d flights, %d bytes, %d left", p, err, failed, flights, bytes, left)
		}
		if len(done) > 0 != (p.Seconds > 0) {
			t.Errorf("%v s of %v", p.Seconds, done)
		}
		return p
	}
	progress(0, []int{0, 1, 2})
	usual := filepath.Join(t.TempDir(), "usual")
	if err := os.WriteFile(usual, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	want, _ := os.Stat(usual)
	if info, err := os.Stat(r.chunkPath(0)); err != nil || info.Mode() != want.Mode() {
		t.Errorf("shared results have mode %v, %v", info.Mode(), err)
	}

	results := map[int][]byte{}
	for n := range 3 {
		if results[n], err = os.ReadFile(r.chunkPath(n)); err != nil {
			t.Fatal(err)
		}
	}
	// Of chunk 1 there is nothing at first, of chunk 2 damage.
	if err := os.Remove(r.chunkPath(1)); err != nil {
		t.Fatal(err)
	}
	writeTestFile(t, r.chunkPath(2), string(results[2][:100]))
	if p := progress(0, []int{0}, 1, 2); len(p.Damaged) != 1 || p.Damaged[0].File != r.chunkPath(2) {
		t.Errorf("damaged %v", p.Damaged)
	}
	if missing, damaged, err := r.Missing(); err != nil || !slices.Equal(missing, []int{1, 2}) || len(damaged) != 1 || fileExists(r.chunkPath(2)) {
		t.Errorf("missing %v, %v, %v", missing, damaged, err)
	}
	merge := func() {
		t.Helper()
		if _, err := a.MergeArray(r, 0, func(string, []MergedInput) {}); err != nil {
			t.Fatal(err)
		}
	}
	merge()
	progress(1, nil, 1, 2)
	writeTestFile(t, r.chunkPath(2), string(results[2]))
	merge()
	progress(2, nil, 1)
	if missing, _, err := r.Missing(); err != nil || !slices.Equal(missing, []int{1}) || unmerged() != r.Dir {
		t.Errorf("missing %v, %v", missing, err)
	}
	if c, err := r.Begin(0, nil); c != nil || err != nil {
		t.Errorf("a chunk that is merged begins again: %v", err)
	}
	writeTestFile(t, r.chunkPath(1), string(results[1]))
	other := *r
	other.plan = "another"
	if _, there, err := other.readChunk(1, nil); !there || !errors.Is(err, errRecord) {
		t.Errorf("results of another plan: %v, %v", there, err)
	}
	first, err := json.Marshal(chunkHead{Plan: r.plan, Chunk: 1, Inputs: 1})
	if err != nil {
		t.Fatal(err)
	}
	each := func(int64, stagedHead, []byte) error { return nil }
	for _, c := range []struct {
		head string
		want error
	}{{`{"entry":{"key":"00"}}`, nil}, {`{"entry":{"key":""}}`, errRecord}, {`{"entry":{"key":"00"},"name":5}`, errRecord}} {
		writeTestFile(t, r.chunkPath(1), recordOf(string(first)+"\n")+recordOf(c.head+"\n"))
		if _, there, err := r.readChunk(1, each); !there || !errors.Is(err, c.want) {
			t.Errorf("an input with the head %s: %v, %v", c.head, there, err)
		}
	}
	writeTestFile(t, r.chunkPath(1), string(results[1]))
	if text, err := os.ReadFile(filepath.Join(r.Dir, planName)); err != nil || r.plan != sumOfText(text).SHA256 {
		t.Errorf("the plan is %s, %v", r.plan, err)
	}
	progress(2, []int{1})
	d := &notedDisk{dir: dir}
	a.disk = d
	merge()
	at := slices.IndexFunc(d.log, func(e diskEvent) bool { return e.kind == renamed && filepath.Base(e.to) == mergedName })
	if at < 1 || d.log[at-1].kind != syncedFile || d.log[at+1].kind != syncedFolder || d.log[at+1].path != filepath.Dir(d.log[at].to) {
		t.Error("the list of merged chunks is not on disk before its chunks go")
	}
	progress(3, nil)
	if text, _ := os.ReadFile(filepath.Join(r.Dir, mergedName)); !strings.HasSuffix(string(text), "\n[0,1,2]\n") || unmerged() != "" {
		t.Errorf("merged are %q", text)
	}
	a.Close()
	undisturbed := filepath.Join(t.TempDir(), "archive")
	mustNight(t, undisturbed, run, paths)
	sameContents(t, "merged chunk by chunk", arrayContents(t, dir), contents(t, undisturbed))
}

// TestMergeOfOneMonth: every input of a month is merged and told once, however they share chunks.
func TestMergeOfOneMonth(t *testing.T) {
	t.Parallel()
	dir, run, files := filepath.Join(t.TempDir(), "archive"), fixtureRun("1"), inputs{}
	for i := range 7 {
		files[fmt.Sprintf("%d.csv", i)] = "2031-03" + strings.Repeat(" ", i)
	}
	paths := files.write(t, t.TempDir())
	r := planFixture(t, dir, run, paths)
	scanFixture(t, r)
	m, told, err := mergeFixture(dir, run, r, 0, quickDisk{})
	slices.Sort(told)
	if err != nil || m != (Merged{}) || len(told) != 7 || len(slices.Compact(told)) != 7 {
		t.Errorf("%+v, %q, %v", m, told, err)
	}
	undisturbed := filepath.Join(t.TempDir(), "archive")
	mustNight(t, undisturbed, run, paths)
	sameContents(t, "one month", arrayContents(t, dir), contents(t, undisturbed))
}

// TestMergeBesideDamage: a damaged month keeps its results, and those of other months are merged and told.
func TestMergeBesideDamage(t *testing.T) {
	t.Parallel()
	dir, folder, run := filepath.Join(t.TempDir(), "archive"), t.TempDir(), fixtureRun("1")
	mustNight(t, dir, run, inputs{"old.csv": "2031-03"}.write(t, folder))
	r := planFixture(t, dir, run, inputs{"a.csv": "2031-03 ", "b.csv": "2031-04", "c.csv": "2031-05"}.write(t, folder))
	scanFixture(t, r)
	part := filepath.Join(dir, partPath(schemas.EventsTable, "2031-03"))
	whole, err := os.ReadFile(part)
	if err != nil {
		t.Fatal(err)
	}
	writeTestFile(t, part, "none")
	a, err := open(dir, run, nil, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	say := func(month string, list []MergedInput) {
		for _, in := range list {
			told = append(told, month+" "+filepath.Base(in.Path))
		}
	}
	m, err := a.MergeArray(r, 0, say)
	if err != nil || m.Already != 0 || a.Unmerged() == nil || fmt.Sprint(told) != "[2031-04 b.csv 2031-05 c.csv]" {
		t.Errorf("%+v, %v, %v, told %q", m, err, a.Unmerged(), told)
	}
	a.Close()
	if p, err := r.Progress(time.Now()); err != nil || p.Merged != 0 || p.Done != 3 {
		t.Errorf("%+v, %v", p, err)
	}
	writeTestFile(t, part, string(whole))
	if a, err = open(dir, run, nil, quickDisk{}); err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	told = nil
	m, err = a.MergeArray(r, 0, say)
	if err != nil || m.Already != 2 || a.Unmerged() != nil || fmt.Sprint(told) != "[2031-03 a.csv]" {
		t.Errorf("mended: %+v, %v, %v, told %q", m, err, a.Unmerged(), told)
	}
	if staged, _ := os.ReadDir(filepath.Join(dir, stagingFolder)); len(staged) > 0 {
		t.Errorf("%v are left in staging", staged)
	}
}

// TestWorkerByHand: signs of life, a chunk that two workers end, one that is given up.
func TestWorkerByHand(t *testing.T) {
	t.Parallel()
	dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
	paths := inputs{"a.csv": "bad"}.write(t, t.TempDir())
	r := planFixture(t, dir, run, paths)
	in := Input{paths[0], paths, nil}
	var chunks []*Chunk
	var planned ArrayInput
	err := r.EachChunk(0, func(n int, list []ArrayInput) error {
		planned = list[0]
		for range 3 {
			c, err := r.Begin(n, list)
			if err != nil {
				return err
			}
			chunks = append(chunks, c)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	c := chunks[0]
	for what, s := range map[string]struct {
		in    Input
		sight Sight
		same  bool
	}{
		"the same": {in, planned.Sight, true}, "another size": {in, Sight{Size: planned.Sight.Size + 1, Modified: planned.Sight.Modified}, false},
		"another time": {in, Sight{Size: planned.Sight.Size, Modified: planned.Sight.Modified + 1}, false}, "no input of it": {Input{Path: "/none"}, Sight{}, true},
	} {
		if err := c.SameSight(s.in, s.sight); (err == nil) != s.same {
			t.Errorf("%s: %v", what, err)
		}
	}
	now := time.Now().Add(-time.Hour).Truncate(time.Second)
	for _, c := range chunks {
		if err := os.Chtimes(c.name, now, now); err != nil {
			t.Fatal(err)
		}
	}
	running := func(at time.Time) int {
		t.Helper()
		p, err := r.Progress(at)
		if err != nil {
			t.Fatal(err)
		}
		return len(p.Running)
	}
	for _, name := range []string{"000001.unfinished", "+.b.c.d.unfinished", "000000.host.1.2.staged"} {
		writeTestFile(t, filepath.Join(r.Dir, stagedFolder, name), "")
	}
	if at := now.Add(10 * time.Minute); running(at) != 0 || running(at.Add(-time.Nanosecond)) != 3 {
		t.Errorf("%d run after ten minutes, %d before", running(at), running(at.Add(-time.Nanosecond)))
	}
	if err := c.StageFailure(in, Sight{}, time.Time{}, errors.New("is bad")); err != nil {
		t.Fatal(err)
	}
	if running(time.Now()) != 1 {
		t.Error("a result is no sign of life")
	}
	if err := c.StageFailure(Input{Path: "/none"}, Sight{}, time.Time{}, errors.New("is bad")); err == nil {
		t.Error("an input of no chunk")
	}
	if err := chunks[1].StageFailure(in, Sight{}, time.Time{}, errors.New("is bad in another way")); err != nil {
		t.Fatal(err)
	}
	full := chunks[2] // on a disk that takes no more
	if err := full.StageFailure(in, Sight{}, time.Time{}, errors.New("is bad")); err != nil {
		t.Fatal(err)
	}
	full.file.Close()
	if full.file, err = os.Open(full.name); err != nil {
		t.Fatal(err)
	}
	if err := full.End(); err == nil || fileExists(full.name) || fileExists(r.chunkPath(0)) {
		t.Errorf("results that could not be written: %v", err)
	}
	if err := errors.Join(c.End(), chunks[1].End(), full.Drop(), full.Drop()); err != nil {
		t.Error(err)
	}
	_, _, err = r.readChunk(0, func(_ int64, head stagedHead, _ []byte) error {
		if head.Entry.Cause != "is bad" {
			t.Errorf("the results are those of the second: %s", head.Entry.Cause)
		}
		return nil
	})
	if left, _ := filepath.Glob(filepath.Join(r.Dir, stagedFolder, "000000.*.*"+unfinishedEnding)); err != nil || len(left) > 0 {
		t.Errorf("%v, %v are left", err, left)
	}
	if p, err := r.Progress(time.Now()); err != nil || p.Failed != 1 || p.Done != 1 {
		t.Errorf("%+v, %v", p, err)
	}
	if c, err := r.Begin(0, nil); c != nil || err != nil {
		t.Errorf("a chunk that is done begins again: %v", err)
	}
}
