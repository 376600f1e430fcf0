package detect_test

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
	"downlock/testdata"
	"downlock/testdata/effort"
)

// The truth of the demonstration recordings comes from the simulator's
// functions of continuous time, not from the samples and not from this package.
type demoTruth struct {
	Rules []string // those the truth speaks of
	Files []struct {
		File    string
		Flights []trueFlight
	}
}

type trueFlight struct {
	Number       int
	LiftOff      *float64  `json:"lift_off"`
	Touchdown    *float64  `json:"touchdown"`
	GoArounds    []float64 `json:"go_arounds"`
	TouchAndGoes []float64 `json:"touch_and_goes"`
	Events       []trueEvent
}

type trueEvent struct {
	Rule       string
	Start, End float64
	Moment     bool
	Certainty  detect.Certainty
}

func shippedDetector(t testing.TB) (*detect.Detector, *schemas.Profile) {
	t.Helper()
	return shippedDetectorOf(t, "th120")
}

// shippedDetectorOf makes a detector for one of the shipped profiles.
func shippedDetectorOf(t testing.TB, name string) (*detect.Detector, *schemas.Profile) {
	t.Helper()
	p, err := schemas.ShippedProfileNamed(name)
	if err != nil {
		t.Fatal(err)
	}
	return detectorOf(t, p), p
}

// builtinRules are read once: that takes longer than many a flight.
var builtinRules = sync.OnceValues(func() (*detect.RuleSet, error) { return detect.LoadRules() })

// detectorOf makes a detector of the built-in rules for a profile.
func detectorOf(t testing.TB, p *schemas.Profile) *detect.Detector {
	t.Helper()
	rules, err := builtinRules()
	if err != nil {
		t.Fatal(err)
	}
	d, err := detect.New(p, rules)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// profileOf parses the text of a profile.
func profileOf(t testing.TB, text string) *schemas.Profile {
	t.Helper()
	p, err := schemas.ParseProfile("made.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func readFile(t testing.TB, path string, p *schemas.Profile) *ingest.Recording {
	t.Helper()
	r, err := ingest.Read(path, p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func readDemoTruth(t *testing.T, path string) (truth demoTruth) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	return truth
}

func TestDemoEqualsTruth(t *testing.T) {
	t.Parallel()
	for _, folder := range testdata.DemoFolders {
		dir := "../testdata/" + folder.Folder + "/"
		truth := readDemoTruth(t, dir+"truth.json")
		detector, profile := shippedDetectorOf(t, folder.Profile)
		speaksOfRules(t, truth)
		for _, file := range truth.Files {
			t.Run(file.File, func(t *testing.T) {
				r, err := ingest.Read(dir+file.File, profile)
				if err != nil {
					t.Fatal(err)
				}
				results := detector.Detect(r)
				if len(results) != len(file.Flights) {
					t.Fatalf("%d flights, want %d", len(results), len(file.Flights))
				}
				for i, want := range file.Flights {
					f := results[i].Flight
					insideOrAbsent(t, "lift-off", want.LiftOff, f.LiftOff)
					insideOrAbsent(t, "touchdown", want.Touchdown, f.Touchdown)
					near(t, "go-around", want.GoArounds, f.LowestPoints())
					near(t, "touch-and-go", want.TouchAndGoes, f.TouchedDown(detect.TouchAndGo))
					sameEvents(t, want, truth.among(t, want, results[i].Events))
				}
			})
		}
	}
}

// speaksOfRules checks that every rule the truth speaks of is built in. The pack
// may have more: a rule needs cases, and a scenario only where one helps.
func speaksOfRules(t *testing.T, truth demoTruth) {
	t.Helper()
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	if len(truth.Rules) == 0 {
		t.Error("the truth speaks of no rule")
	}
	for _, id := range truth.Rules {
		if rules.Rule(id) == nil {
			t.Errorf("the truth speaks of %s, which is not a built-in rule", id)
		}
	}
}

// among keeps the events of the rules the truth speaks of. A flight on which
// nothing is wrong must have no event of any other rule either.
func (truth demoTruth) among(t *testing.T, flight trueFlight, events []detect.Event) (kept []detect.Event) {
	t.Helper()
	for _, e := range events {
		switch {
		case slices.Contains(truth.Rules, e.Rule.ID):
			kept = append(kept, e)
		case len(flight.Events) == 0:
			t.Errorf("flight %d: %s %s at %v to %v, but the crew and the aircraft do nothing wrong on this flight",
				flight.Number, e.Certainty, e.Rule.ID, e.Start, e.End)
		}
	}
	return kept
}

// sameEvents finds every true event among the events found, of the same
// certainty and with the true times within the earliest and latest ones, and
// nothing besides.
func sameEvents(t *testing.T, want trueFlight, left []detect.Event) {
	t.Helper()
	for _, w := range want.Events {
		found := slices.IndexFunc(left, func(e detect.Event) bool {
			return e.Rule.ID == w.Rule && e.Certainty == w.Certainty && e.Moment == w.Moment && holds(e.Start, w.Start) && holds(e.End, w.End)
		})
		if found < 0 {
			t.Errorf("flight %d: %s %s %.3f to %.3f not found", want.Number, w.Certainty, w.Rule, w.Start, w.End)
			continue
		}
		left = append(left[:found:found], left[found+1:]...)
	}
	for _, e := range left {
		t.Errorf("flight %d: %s %s at %v to %v is not a true event", want.Number, e.Certainty, e.Rule.ID, e.Start, e.End)
	}
}

// ofRules keeps the events of some rules.
func ofRules(events []detect.Event, rules []string) (kept []detect.Event) {
	for _, e := range events {
		if slices.Contains(rules, e.Rule.ID) {
			kept = append(kept, e)
		}
	}
	return kept
}

func holds(t detect.Time, true float64) bool { return t.Earliest <= true && true <= t.Latest }

func insideOrAbsent(t *testing.T, what string, want *float64, got *detect.Time) {
	t.Helper()
	switch {
	case want == nil && got == nil:
	case want == nil || got == nil:
		t.Errorf("%s: want %v, found %v", what, want, got)
	case !holds(*got, *want):
		t.Errorf("%s at %.3f lies outside %.3f to %.3f", what, *want, got.Earliest, got.Latest)
	}
}

// near compares moments that are read off a curve, within two samples.
func near(t *testing.T, what string, want []float64, got []detect.Time) {
	t.Helper()
	if len(want) != len(got) {
		t.Errorf("%d of %s, want %d", len(got), what, len(want))
		return
	}
	for i := range want {
		if d := got[i].Nominal - want[i]; d < -2 || d > 2 {
			t.Errorf("%s at %.3f, want %.3f", what, got[i].Nominal, want[i])
		}
	}
}

// seen holds the results that must not depend on the layout of the export.
type seen struct {
	Rule      string
	Severity  detect.Severity
	Certainty detect.Certainty
	Start     detect.Time
	End       detect.Time
	Phase     string
	Measures  []detect.Measure
}

func seenIn(results []*detect.Result) (out []seen) {
	for _, r := range results {
		for _, e := range r.Events {
			out = append(out, seen{e.Rule.ID, e.Severity, e.Certainty, e.Start, e.End, e.Phase, e.Measures})
		}
	}
	return out
}

// sameInEveryLayout writes a table in every layout, reads each and compares the
// events with those of the original.
func sameInEveryLayout(t *testing.T, table export.Table, original []*detect.Result, detector *detect.Detector, profile *schemas.Profile) {
	t.Helper()
	want := seenIn(original)
	same := func(name string, layout export.Layout, table export.Table, profile *schemas.Profile) {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		r, err := ingest.ReadBytes("flight", b.Bytes(), profile)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		if diff := cmp.Diff(want, seenIn(detector.Detect(r))); diff != "" {
			t.Errorf("%s: events differ (-original +%s):\n%s", name, name, diff)
		}
	}
	for _, layout := range export.Layouts {
		same(string(layout), layout, table, profile)
	}
	rows, places, err := export.SampledRows(table)
	if err != nil {
		t.Fatal(err)
	}
	for _, layout := range []export.Layout{export.WideCSV, export.WideParquet} {
		same(string(layout)+", a row per second", layout, rows, export.RowsProfile(profile, places))
	}
}

func TestDemoInEveryLayout(t *testing.T) {
	t.Parallel()
	for i, files := range []func() ([]simulator.DemoFile, error){simulator.Demo, simulator.DemoLarge} {
		demo, err := files()
		if err != nil {
			t.Fatal(err)
		}
		folder := testdata.DemoFolders[i]
		detector, profile := shippedDetectorOf(t, folder.Profile)
		for n, f := range demo {
			if n%effort.Of(6, 3, 1) != 0 {
				continue
			}
			t.Run(f.Name, func(t *testing.T) {
				if f.Clock {
					return // its clock times and separators exist in CSV only
				}
				r, err := ingest.Read("../testdata/"+folder.Folder+"/"+f.Name, profile)
				if err != nil {
					t.Fatal(err)
				}
				sameInEveryLayout(t, f.Flight.Record(), detector.Detect(r), detector, profile)
			})
		}
	}
}

func TestX100InEveryLayout(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/x100/"
	recordings, _ := filepath.Glob(dir + "flight-?.csv.gz")
	if len(recordings) != 8 {
		t.Fatalf("%d recordings, want 8", len(recordings))
	}
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range recordings {
		t.Run(filepath.Base(path), func(t *testing.T) {
			name := dir + "profile.yaml"
			if strings.Contains(path, "flight-6") {
				name = dir + "profile-inverted.yaml"
			}
			profile, err := schemas.ReadProfile(name)
			if err != nil {
				t.Fatal(err)
			}
			detector, err := detect.New(profile, rules)
			if err != nil {
				t.Fatal(err)
			}
			r, err := ingest.Read(path, profile)
			if err != nil {
				t.Fatal(err)
			}
			sameInEveryLayout(t, tableOf(t, path), detector.Detect(r), detector, profile)
		})
	}
}

// tableOf reads a wide CSV export with the standard library into a table.
func tableOf(t *testing.T, path string) export.Table {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(z).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	table := export.Table{TimeName: rows[0][0]}
	for c, name := range rows[0][1:] {
		column := export.Column{Name: name}
		numeric := true
		for _, row := range rows[1:] {
			cell := row[c+1]
			if cell == "" {
				continue
			}
			time, err := strconv.ParseFloat(row[0], 64)
			if err != nil {
				t.Fatal(err)
			}
			column.Times, column.Texts = append(column.Times, time), append(column.Texts, cell)
			if _, decimals, ok := strings.Cut(cell, "."); ok {
				column.Decimals = max(column.Decimals, len(decimals))
			}
			v, err := strconv.ParseFloat(cell, 64)
			numeric = numeric && err == nil
			column.Numbers = append(column.Numbers, v)
		}
		if numeric {
			column.Texts = nil
		} else {
			column.Numbers = nil
		}
		table.Columns = append(table.Columns, column)
	}
	return table
}
