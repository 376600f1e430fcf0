package scan

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// telling is what runs on one archive wrote to stdout, run by run.
type telling struct{ runs []*bytes.Buffer }

// next is the stdout of the next run.
func (t *telling) next() *bytes.Buffer {
	t.runs = append(t.runs, &bytes.Buffer{})
	return t.runs[len(t.runs)-1]
}

// lines are those of all runs without their headings, sorted.
func (t *telling) lines() (all []string) {
	for _, run := range t.runs {
		all = append(all, linesOf(run)...)
	}
	slices.Sort(all)
	return all
}

func linesOf(run *bytes.Buffer) []string {
	lines := strings.Split(strings.TrimSuffix(run.String(), "\n"), "\n")
	return lines[1:] // none of a run that wrote nothing
}

// events counts those in the lines of the last run.
func (t *telling) events() (n int) {
	for _, line := range linesOf(t.runs[len(t.runs)-1]) {
		for _, cell := range strings.Split(line, "\t")[2:5] {
			events, _ := strconv.Atoi(cell)
			n += events
		}
	}
	return n
}

// unnoted reports whether the last run told its lines and was killed before its figures
// got their place, which is the next thing it does. The next run tells them again.
func (t *telling) unnoted(dir string) bool {
	waiting, _ := filepath.Glob(filepath.Join(dir, "new", "runs", "*", "batch.json"))
	return len(waiting) > 0 && t.runs[len(t.runs)-1].Len() > 0
}

// figuresOf adds up the flights, events and occurrences in the figures of all runs that
// an archive keeps.
func figuresOf(t *testing.T, dir string) (sum batch) {
	t.Helper()
	sum.Events = map[string]int{}
	files, _ := filepath.Glob(filepath.Join(dir, "runs", "*", "batch.json"))
	for _, name := range files {
		var b batch
		data, err := os.ReadFile(name)
		if err == nil {
			err = json.Unmarshal(data, &b)
		}
		if err != nil {
			t.Fatal(err)
		}
		sum.Flights += b.Flights
		sum.Occurrences += b.Occurrences
		for severity, n := range b.Events {
			sum.Events[severity] += n
		}
	}
	return sum
}

// airbornePack is a rule pack that finds one event in each flight of newNights, which
// are one time in the air each.
func airbornePack(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "airborne.yaml")
	text := "schema: downlock rules 1\npack: airborne\nrules:\n  - {id: in-the-air, title: In the air, meaning: In the air., when: airborne, basis: common practice}\n"
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}
