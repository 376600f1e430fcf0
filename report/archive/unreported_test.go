package archive

import (
	"encoding/json"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// spoken is everything that runs said, line by line, and the codes of those that came
// to their end.
type spoken struct {
	lines []string
	codes []int
}

// tellingNight is a night whose run reports each input it scans by its name and content,
// as scan does: it says a line, counts it in its figures, and ends with a code, 6 where
// it or an earlier run whose code could not say so found anything, else 0; stop ends it
// with 130.
func tellingNight(dir string, began time.Time, paths []string, d disk, stop bool, said *spoken) error {
	run := fixtureRun("1")
	run.Began = began
	list := make([]Input, len(paths))
	for i, p := range paths {
		list[i] = Input{p, []string{p}, nil}
	}
	a, err := open(dir, run, list, d)
	if err != nil {
		return err
	}
	defer a.Close()
	var lines []string
	code := 0
	for _, u := range a.EarlierRuns() {
		code = 6
		if !u.Told {
			var line string
			if err := json.Unmarshal(u.Report, &line); err != nil {
				return err
			}
			lines = append(lines, line)
		}
	}
	for _, in := range list {
		sight, err := in.Look()
		if err != nil {
			return err
		}
		if same, err := a.Unchanged(in, sight, later()); same || err != nil {
			if err != nil {
				a.Discard()
				return err
			}
			continue
		}
		content, _ := os.ReadFile(in.Path)
		sha, results := fixtureResults(run, filepath.Base(in.Path), string(content))
		rows := Rows{Recording: sha}
		for _, r := range results {
			rows.Add(run, r)
		}
		line := filepath.Base(in.Path) + ": " + string(content)
		rows.Report, _ = json.Marshal(line)
		if err := a.StageRows(in, sight, later(), rows); err != nil {
			a.Discard()
			return err
		}
		lines = append(lines, line)
		code = 6
	}
	if err := a.Commit(); err != nil {
		return err
	}
	if stop {
		code = 130
	}
	figures, _ := json.Marshal(map[string]any{"exit_code": code, "lines": lines})
	if _, err := a.KeepRun(figures, func() error { said.lines = append(said.lines, lines...); return nil }); err != nil {
		return err
	}
	said.codes = append(said.codes, code)
	return nil
}

// counted lists the lines that the figures of all runs in an archive count.
func counted(t *testing.T, dir string) (lines []string) {
	t.Helper()
	files, _ := filepath.Glob(filepath.Join(dir, runsFolder, "*", batchName))
	for _, name := range files {
		var b struct{ Lines []string }
		data, _ := os.ReadFile(name)
		if err := json.Unmarshal(data, &b); err != nil {
			t.Fatal(err)
		}
		lines = append(lines, b.Lines...)
	}
	slices.Sort(lines)
	return lines
}

// TestToldOnce lets a run die at every single change it makes to the disk, and the run
// after it as well, at another change: after a third, each input was counted in the
// figures of one run, and said once; said once more only where a run died in the one
// renaming between the saying and the noting. The run that says a line
// raises it.
func TestToldOnce(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	paths := inputs{"a.csv": "2031-03 2031-04", "b.csv": "2031-03", "c.csv": "undated", "d.csv": "2031-04"}.write(t, folder)
	want := []string{"a.csv: 2031-03 2031-04", "b.csv: 2031-03", "c.csv: undated", "d.csv: 2031-04"}
	twice, late := 0, 0
	for left := 0; ; left += stride() {
		dir := filepath.Join(t.TempDir(), "archive")
		said := &spoken{}
		first := tellingNight(dir, time.Unix(1, 0), paths[:3], &brittleDisk{left: left}, false, said)
		again := tellingNight(dir, time.Unix(2, 0), paths, &brittleDisk{left: left * 7 % 60}, false, said)
		for _, err := range []error{first, again} {
			if err != nil && !errors.Is(err, errDead) {
				t.Fatalf("after %d changes: %v", left, err)
			}
		}
		before := len(said.lines)
		if err := tellingNight(dir, time.Unix(3, 0), paths, quickDisk{}, false, said); err != nil {
			t.Fatal(err)
		}
		if before == 0 && len(said.lines) > 0 {
			late++
		}
		if got := counted(t, dir); !slices.Equal(got, want) {
			t.Fatalf("after %d changes the figures count %q", left, got)
		}
		times := map[string]int{}
		for _, line := range said.lines {
			times[line]++
		}
		for _, line := range want {
			switch times[line] {
			case 1:
			case 2, 3:
				twice++
			default:
				t.Fatalf("after %d changes %q was said %d times: %v", left, line, times[line], times)
			}
		}
		if len(times) != len(want) {
			t.Fatalf("after %d changes: said %v", left, slices.Collect(maps.Keys(times)))
		}
		if before < len(said.lines) && said.codes[len(said.codes)-1] != 6 {
			t.Fatalf("after %d changes the codes are %v", left, said.codes)
		}
		if _, err := os.Stat(filepath.Join(dir, unreportedName)); err == nil {
			t.Fatalf("after %d changes something is unreported still", left)
		}
		if first == nil {
			t.Logf("dead within the first %d changes; all was said by the last run in %d cases; said again in %d", left, late, twice)
			break
		}
	}
	if late == 0 {
		t.Error("the last run never had everything to say")
	}
	if most := 16; twice > most { // two runs, each once in the renaming, of four lines
		t.Errorf("%d lines were said again", twice)
	}
}

// TestStoppedRunRaisesLater: lines and figures of a run that a signal ended are not said
// again, and the code of the next run says that there was something; the one after it is
// silent.
func TestStoppedRunRaisesLater(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03", "b.csv": "2031-04"}.write(t, t.TempDir())
	said := &spoken{}
	for i, night := range []struct {
		stop  bool
		lines int
		code  int
	}{{true, 2, 130}, {true, 2, 130}, {false, 2, 6}, {false, 2, 0}} {
		if err := tellingNight(dir, time.Unix(int64(i), 0), paths, quickDisk{}, night.stop, said); err != nil {
			t.Fatal(err)
		}
		if len(said.lines) != night.lines || said.codes[i] != night.code {
			t.Errorf("after run %d: said %q, codes %v", i, said.lines, said.codes)
		}
	}
}

// TestCannotSay: a run that could not say its lines noted nothing, so that the next one
// says them.
func TestCannotSay(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03"}.write(t, t.TempDir())
	a := openAt(t, dir, time.Unix(1, 0))
	in := Input{paths[0], paths[:1], nil}
	sight, err := in.Look()
	if err == nil {
		err = a.StageRows(in, sight, later(), Rows{Recording: strings.Repeat("ab", 32), Report: json.RawMessage(`"a.csv"`)})
	}
	if err := errors.Join(err, a.Commit()); err != nil {
		t.Fatal(err)
	}
	broken := errors.New("broken pipe")
	if _, err := a.KeepRun([]byte(`{"exit_code":6}`), func() error { return broken }); !errors.Is(err, broken) {
		t.Errorf("the error is %v", err)
	}
	a.Close()
	next := openAt(t, dir, time.Unix(2, 0))
	defer next.Close()
	if got := next.EarlierRuns(); len(got) != 1 || string(got[0].Report) != `"a.csv"` || got[0].Told {
		t.Errorf("the next run has %+v to report", got)
	}
	if runs, _ := filepath.Glob(filepath.Join(dir, runsFolder, "*", batchName)); len(runs) != 0 {
		t.Errorf("noted all the same: %v", runs)
	}
}

// TestUnreportedDamaged: a list that is not as it was written is said, whatever is wrong
// with it.
func TestUnreportedDamaged(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03"}.write(t, t.TempDir())
	if err := tellingNight(dir, time.Unix(1, 0), paths, quickDisk{}, true, &spoken{}); err != nil {
		t.Fatal(err)
	}
	place := filepath.Join(dir, unreportedName)
	good, err := os.ReadFile(place)
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"empty": nil, "cut": good[:len(good)-3], "one bit": append([]byte{good[0] ^ 1}, good[1:]...),
		"longer": append(slices.Clone(good), 'x')} {
		if err := os.WriteFile(place, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := open(dir, fixtureRun("1"), nil, quickDisk{}); err == nil || !strings.Contains(err.Error(), "damaged") || !strings.Contains(err.Error(), unreportedName) {
			t.Errorf("%s: the error is %v", name, err)
		}
	}
}
