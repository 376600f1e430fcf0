package archive

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
	"pgregory.net/rapid"

	"downlock/schemas"
	"downlock/testdata/effort"
)

// A model of the archive as plain maps: the content of each input, and the version each
// recording was last scanned with.
type model struct {
	holds   map[string]string // recording by path of the input
	content map[string]string // by recording
	version map[string]string // of the run that scanned it last, by recording
	seen    map[string]string // content and version last scanned to the end, by path
}

func newModel() *model {
	return &model{map[string]string{}, map[string]string{}, map[string]string{}, map[string]string{}}
}

// night does the same as a run over the files.
func (m *model) night(version string, files map[string]string) {
	for path, content := range files {
		if strings.HasPrefix(content, "bad") {
			delete(m.seen, path)
			continue
		}
		if m.seen[path] == version+content {
			continue
		}
		m.seen[path] = version + content
		sha, _ := fixtureResults(fixtureRun(version), "", content)
		m.holds[path], m.content[sha], m.version[sha] = sha, content, version
	}
}

// flights lists the rows the flights table must hold: a line per flight, sorted.
func (m *model) flights() []string {
	names := map[string]string{}
	for path, sha := range m.holds {
		if name := filepath.Base(path); names[sha] == "" || name < names[sha] {
			names[sha] = name
		}
	}
	var lines []string
	for sha, name := range names {
		for i, month := range fixtureMonths(m.version[sha], m.content[sha]) {
			if month == "undated" {
				month = unknownMonth
			}
			lines = append(lines, fmt.Sprintf("%s %s %d %s %s", month, sha, i+1, name, m.version[sha]))
		}
	}
	slices.Sort(lines)
	return lines
}

// flightsOf reads the flights table, and checks the other tables against it:
// as many rows of each flight as the fixture has.
func flightsOf(t *rapid.T, dir string) []string {
	var lines []string
	want, got := map[string]int{}, map[string]int{}
	for _, path := range partsOf(t, dir, schemas.FlightsTable) {
		month := strings.TrimPrefix(filepath.Base(filepath.Dir(path)), "month=")
		rows, err := parquet.ReadFile[schemas.FlightRow](path)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			lines = append(lines, fmt.Sprintf("%s %s %d %s %s", month, r.Recording, r.Number, r.RecordingName, r.Version))
			want[month+r.FlightID] = len(r.Version)
		}
	}
	for _, path := range partsOf(t, dir, schemas.EventsTable) {
		month := strings.TrimPrefix(filepath.Base(filepath.Dir(path)), "month=")
		rows, err := parquet.ReadFile[schemas.EventRow](path)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			got[month+r.FlightID]++
		}
	}
	if !maps.Equal(got, want) {
		t.Fatalf("events by flight are %v, want %v", got, want)
	}
	return lines
}

func partsOf(t *rapid.T, dir, table string) []string {
	parts, err := filepath.Glob(filepath.Join(dir, tablesFolder, table, "month=*", "part.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	return parts
}

// TestHistories runs nights at random over inputs that come, go, change, go bad
// and swap, some of them cut off and run again, and holds the tables against the
// model. At the end an archive made in one run of the same inputs has the same
// tables, byte by byte, where everything was last scanned with one version.
func TestHistories(t *testing.T) {
	t.Parallel()
	contents := []string{"2031-03", "2031-03 2031-04", "undated", "2031-04 2031-04", "bad", "2031-05 undated", "2031-03 "}
	names := []string{"a.csv", "b.csv", "sub/a.csv", "sub/c.csv"}
	root := t.TempDir()
	round := 0
	rapid.Check(t, func(t *rapid.T) {
		round++
		base := filepath.Join(root, fmt.Sprint(round))
		dir, folder := filepath.Join(base, "archive"), filepath.Join(base, "in")
		if err := os.MkdirAll(filepath.Join(folder, "sub"), 0o777); err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(base)
		m := newModel()
		files := map[string]string{}
		for range rapid.IntRange(1, effort.Of(3, 3, 5)).Draw(t, "nights") {
			for _, name := range names {
				content := rapid.SampledFrom(append(contents, "", "same")).Draw(t, name)
				path := filepath.Join(folder, name)
				switch content {
				case "":
					delete(files, path)
				case "same":
				default:
					files[path] = content
					if err := os.WriteFile(path, []byte(content), 0o666); err != nil {
						t.Fatal(err)
					}
				}
			}
			version := rapid.SampledFrom([]string{"1", "22"}).Draw(t, "version")
			paths := slices.Collect(maps.Keys(files)) // in any order
			if cut := rapid.IntRange(-100, 100).Draw(t, "cut off after"); cut > 0 {
				night(dir, fixtureRun(version), paths, &brittleDisk{left: cut})
			}
			if _, err := night(dir, fixtureRun(version), paths, quickDisk{}); err != nil {
				t.Fatal(err)
			}
			m.night(version, files)
			if got, want := flightsOf(t, dir), m.flights(); !slices.Equal(got, want) {
				t.Fatalf("flights are\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		}
		sameAsFresh(t, dir, base, m)
	})
}

// sameAsFresh makes an archive of the inputs in one run and compares
// the tables.
func sameAsFresh(t *rapid.T, dir, base string, m *model) {
	var paths []string
	for path, sha := range m.holds {
		if m.version[sha] != "22" {
			return
		}
		paths = append(paths, path)
		if err := os.WriteFile(path, []byte(m.content[sha]), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	fresh := filepath.Join(base, "fresh")
	if _, err := night(fresh, fixtureRun("22"), paths, quickDisk{}); err != nil {
		t.Fatal(err)
	}
	for _, table := range tables {
		got, want := partsOf(t, dir, table.name), partsOf(t, fresh, table.name)
		if len(got) != len(want) {
			t.Fatalf("%s: %d parts, want %d", table.name, len(got), len(want))
		}
		for i := range got {
			a, _ := os.ReadFile(got[i])
			b, _ := os.ReadFile(want[i])
			if string(a) != string(b) {
				t.Fatalf("%s differs from %s", got[i], want[i])
			}
		}
	}
}
