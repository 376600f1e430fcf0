package columns_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/columns"
	"downlock/schemas"
	"downlock/testdata/effort"
)

const data = "../../testdata"

// flights are every recording there is with its profile: those of the simulator, those of
// a flight dynamics library, those flown elsewhere, and MATLAB files.
var flights = []struct{ pattern, profile string }{
	{"demo/*-*.*", "../schemas/profiles/th120.yaml"},
	{"demo440/*-*.*", "../schemas/profiles/th440.yaml"},
	{"x100/*.csv.gz", "x100/profile.yaml"},
	{"x100/*.csv.gz", "x100/profile-inverted.yaml"},
	{"operations/*.csv.gz", "operations/profile.yaml"},
	{"mat/[^c]*.mat", "../schemas/profiles/matlab-sample.yaml"}, // classes.mat has no column of the profile
	{"mat/circuit.mat", "../schemas/profiles/matlab-sample.yaml"},
}

func readProfile(t testing.TB, name string) *schemas.Profile {
	t.Helper()
	p, err := schemas.ReadProfile(filepath.Join(data, name))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func newDetector(t testing.TB, p *schemas.Profile) *detect.Detector {
	t.Helper()
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	d, err := detect.New(p, rules)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// written writes a recording's columns to a file and returns its path.
func written(t testing.TB, r *ingest.Recording, p *schemas.Profile, d *detect.Detector, k columns.Kind) string {
	t.Helper()
	c, err := columns.New("0", r, p, d)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := c.Write(&b, k); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "columns"+string(k))
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// reports are the files written for the flights of a recording, by name.
func reports(t testing.TB, r *ingest.Recording, p *schemas.Profile, d *detect.Detector) map[string]string {
	t.Helper()
	dir, run := t.TempDir(), &report.Run{Version: "0", Profile: p}
	for result, err := range d.Results(r) {
		if err != nil {
			t.Fatal(err)
		}
		files, err := report.NewFlightFiles(run, result)
		if err == nil {
			err = files.Write(dir, run)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	found := map[string]string{}
	paths, _ := filepath.Glob(filepath.Join(dir, "*", "*"))
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		name, _ := filepath.Rel(dir, path)
		found[name] = string(text)
	}
	return found
}

func bits(values []float64) (out []uint64) {
	for _, v := range values {
		out = append(out, math.Float64bits(v))
	}
	return out
}

// sameSeries compares series to the bit.
func sameSeries(t *testing.T, want, got []*ingest.Series) {
	t.Helper()
	if len(want) != len(got) {
		t.Fatalf("%d series, want %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if diff := cmp.Diff(w, g, cmpopts.IgnoreFields(ingest.Series{}, "Times", "Values"), cmpopts.IgnoreUnexported(ingest.Series{})); diff != "" {
			t.Errorf("%s: %s", w.Parameter.Name, diff)
		}
		if !slices.Equal(bits(w.TimeValues()), bits(g.TimeValues())) || !slices.Equal(bits(w.Numbers()), bits(g.Numbers())) || !slices.Equal(w.Codes(), g.Codes()) {
			t.Errorf("%s: samples differ", w.Parameter.Name)
		}
	}
}

// sameRecording compares recordings, but for what is said of the file itself, which got
// takes over.
func sameRecording(t *testing.T, want, got *ingest.Recording) {
	t.Helper()
	if len(want.Stretches()) != len(got.Stretches()) {
		t.Fatalf("%d stretches, want %d", len(got.Stretches()), len(want.Stretches()))
	}
	for k, stretch := range got.Stretches() {
		other := want.Stretches()[k]
		stretch.Name, stretch.SHA256, stretch.Unpacked, stretch.Bytes, stretch.Format = other.Name, other.SHA256, other.Unpacked, other.Bytes, other.Format
		sameSeries(t, other.Series, stretch.Series)
		sameSeries(t, other.Alternatives, stretch.Alternatives)
		if diff := cmp.Diff(other, stretch, cmpopts.IgnoreFields(ingest.Recording{}, "Series", "Alternatives", "Later"), cmpopts.EquateEmpty()); diff != "" {
			t.Error(diff)
		}
	}
}

// TestOddTimes: stretches, further sources, times that are known to a second alone, samples
// that were dropped and columns without any come back too.
func TestOddTimes(t *testing.T) {
	t.Parallel()
	shared := "t,cas,standby,alt,lever,horn\n"
	for i := range 60 {
		shared += fmt.Sprintf("10:00:%02d,%d,,%d,XX,%d\n", i/4, 100+i%40*20, 1000+i, i%2)
	}
	_, p, d := smallColumns(t)
	p.InvalidTokens = []string{"XX"}
	for _, text := range []string{string(smallExport()), shared} {
		want, err := ingest.ReadBytes("odd.csv", []byte(text), p)
		if err != nil {
			t.Fatal(err)
		}
		for _, kind := range []columns.Kind{columns.Parquet, columns.Arrow} {
			got, err := ingest.Read(written(t, want, p, d, kind), p)
			if err != nil {
				t.Fatal(err)
			}
			sameRecording(t, want, got)
		}
		cas := want.Series[0]
		if lever := want.Lookup("gear_lever"); text == shared && (cas.TimeAccuracy != 1 || cas.Dropped.Range == 0 || lever.Len() != 0 || lever.Dropped.Token == 0) {
			t.Errorf("the export has nothing odd: %+v, %+v", cas, lever)
		}
	}
}

// TestSameEvents: every recording written as columns and read back has the same samples to
// the bit and the same reports to the byte, but for what is said of the file itself; also
// packed. The expectation is what the export itself leads to.
func TestSameEvents(t *testing.T) {
	t.Parallel()
	seen := 0
	for _, set := range flights {
		profile := readProfile(t, set.profile)
		detector := newDetector(t, profile)
		paths, _ := filepath.Glob(filepath.Join(data, set.pattern))
		if len(paths) == 0 {
			t.Errorf("no recordings %s", set.pattern)
		}
		for i, path := range paths {
			if i%effort.Of(6, 3, 1) != 0 {
				continue
			}
			t.Run(filepath.Base(path)+" "+filepath.Base(set.profile), func(t *testing.T) {
				want, err := ingest.Read(path, profile)
				if err != nil {
					t.Fatal(err)
				}
				seen++
				expected := reports(t, want, profile, detector)
				for _, limits := range []ingest.Limits{{}, {PackAbove: 1}} {
					kind := []columns.Kind{columns.Parquet, columns.Arrow}[(i+limits.PackAbove)%2]
					source, err := limits.Read(path, profile)
					if err != nil {
						t.Fatal(err)
					}
					got, err := limits.Read(written(t, source, profile, detector, kind), profile)
					if err != nil {
						t.Fatal(err)
					}
					if got.Packed() != (limits.PackAbove > 0) {
						t.Errorf("packed: %v", got.Packed())
					}
					if !strings.HasPrefix(got.Format, "canonical columns, ") {
						t.Errorf("format %q", got.Format)
					}
					sameRecording(t, want, got)
					if diff := cmp.Diff(expected, reports(t, got, profile, detector)); diff != "" {
						t.Errorf("%s: %.2000s", kind, diff)
					}
				}
			})
		}
	}
	if seen < effort.Of(7, 14, 40) {
		t.Errorf("%d recordings were compared", seen)
	}
}
