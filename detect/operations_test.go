package detect_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// operationSlack: the flicker of the struts and turbulence move times by this, s.
const operationSlack = 1.0

// recordingSlack: a row of the recordings has one time, and its last parameter is
// sampled so much later, s.
const recordingSlack = 0.125

// flyRow flies a row in the figures of a seed through weather and a recorder of its
// own, and holds the findings against the truth.
func flyRow(t testing.TB, row int, seed uint64, d *detect.Detector) (simulator.Operation, score) {
	t.Helper()
	o, err := simulator.FlyOperation(row, seed)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(seed, uint64(row)))
	w := newWeather(o.Flight, random)
	var r *ingest.Recording
	if o.Apart || len(o.Cuts) > 0 {
		r = readBack(t, o)
	} else {
		r = sampled{flight: o.Flight, wanted: inVocabulary(o.Flight), sampling: anyOffset(random), change: coarse(random, w.change)}.recording()
	}
	results := d.Detect(r)
	o.Truth.MustNot = append(o.Truth.MustNot, unspokenOf(results, o, w)...)
	note := ""
	if len(results) == 0 {
		if note, err = d.WhyNoFlight(r); err != nil {
			t.Fatal(err)
		}
	}
	return o, held{results, note, o.Truth, operationSlack}.score()
}

// unspokenOf are the rules of a detector that neither the simulator nor what must be
// said speaks of: nothing happens in these flights that they are about, but for what the
// weather does.
func unspokenOf(results []*detect.Result, o simulator.Operation, w *weather) (out []simulator.Barred) {
	for _, r := range results {
		for _, e := range r.Evaluations {
			spoken := slices.Contains(simulator.Rules(), e.Rule.ID) || o.May[e.Rule.ID] || w.makes(e.Rule.ID) ||
				slices.ContainsFunc(o.Truth.Must, func(d simulator.Due) bool { return d.Rule != nil && *d.Rule == e.Rule.ID })
			if b := (simulator.Barred{Rule: e.Rule.ID}); !spoken && !slices.Contains(out, b) {
				out = append(out, b)
			}
		}
	}
	return out
}

// coarse rounds the samples of some parameters to a resolution of the recorder's,
// within the accuracy the profile states.
func coarse(random *rand.Rand, change func(simulator.Channel, []float64, []float64) ([]float64, []float64)) func(simulator.Channel, []float64, []float64) ([]float64, []float64) {
	steps := map[string]float64{
		"computed_airspeed": []float64{0.1, 0.25, 0.5, 1}[random.IntN(4)],
		"pressure_altitude": []float64{1, 2, 4, 8}[random.IntN(4)],
		"radio_altitude":    []float64{1, 2}[random.IntN(2)],
		"flap_angle":        []float64{0.1, 0.5}[random.IntN(2)],
	}
	return func(c simulator.Channel, times, values []float64) ([]float64, []float64) {
		times, values = change(c, times, values)
		if step := steps[c.Parameter]; step > 0 {
			for i, v := range values {
				values[i] = step * math.Round(v/step)
			}
		}
		return times, values
	}
}

// inVocabulary leaves out what these flights record and no parameter is for.
func inVocabulary(f *simulator.Flight) map[string]bool {
	wanted := map[string]bool{}
	for _, c := range f.Channels() {
		_, wanted[c.Column] = schemas.LookupParameter(c.Parameter)
	}
	return wanted
}

// readBack writes the flight as its recorder does, and reads the file.
func readBack(t testing.TB, o simulator.Operation) *ingest.Recording {
	t.Helper()
	var b bytes.Buffer
	if err := o.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	r, err := ingest.ReadBytes(o.Truth.Recording, b.Bytes(), o.Flight.Profile)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// eachRow: 36 make a thousand flights.
var eachRow = flag.Int("each-row", 6, "how often to fly each row of ordinary operations")

// Every row of ordinary operations, flown some times: all that must be said is said,
// what must not is not, and opportunities are counted. coverage.yaml lists what is not
// right yet; what has become right and is in it fails, so that the list says no more
// than is so.
func TestOperations(t *testing.T) {
	t.Parallel()
	times := *eachRow
	if testing.Short() {
		times = 2
	}
	d, _ := shippedDetector(t)
	for row := 1; row <= simulator.Operations(); row++ {
		var sum score
		var title string
		for seed := range uint64(times) {
			o, s := flyRow(t, row, seed+1, d)
			title = o.Title
			sum.add(s)
		}
		t.Logf("%2d %-75s %s", row, title, sum.line())
		check(t, fmt.Sprintf("row %d", row), sum, testing.Short())
	}
}

// TestOperationsAreHeld: each row of ordinary operations names the scenario that flies it
// and cases that hold it by hand, and all of them are there.
func TestOperationsAreHeld(t *testing.T) {
	t.Parallel()
	rows := detect.OrdinaryOperations()
	if len(rows) != 28 || len(rows) != simulator.Operations() {
		t.Fatalf("%d rows in coverage.yaml and %d scenarios, want 28", len(rows), simulator.Operations())
	}
	for i, row := range rows {
		o, err := simulator.FlyOperation(i+1, 1)
		if err != nil {
			t.Fatal(err)
		}
		if o.Title != row.Scenario || row.Operation == "" {
			t.Errorf("row %d, %q: the scenario is %q, coverage.yaml says %q", i+1, row.Operation, o.Title, row.Scenario)
		}
		if len(row.Cases) == 0 {
			t.Errorf("row %d, %s: no case holds it by hand", i+1, row.Operation)
		}
		for _, c := range row.Cases {
			if why := noCase(c); why != "" {
				t.Errorf("row %d, %s: %s", i+1, row.Operation, why)
			}
		}
		for _, f := range row.Faults {
			if f.Fault == "" || f.Why == "" {
				t.Errorf("row %d, %s: a fault without its line or its reason", i+1, row.Operation)
			}
		}
	}
}

// noCase says why there is no case "FILE: NAME", "" where there is one.
func noCase(c string) string {
	file, name, _ := strings.Cut(c, ": ")
	path, member := "../"+file, name
	if !strings.Contains(file, "/") {
		path, member = "testdata/cases/"+file, "\n-- "+name+" --\n"
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return err.Error()
	}
	if name == "" || !strings.Contains(string(text), member) {
		return fmt.Sprintf("%s has no %q", file, name)
	}
	return ""
}

func (s score) line() string {
	return fmt.Sprintf("missed %d; falsely certain %d, possible %d; miscounted %d", len(s.missed), len(s.certain), len(s.possible), len(s.counts))
}

// check holds a score against what is known to be wrong. A few flights alone need
// not show all that more do.
func check(t *testing.T, name string, s score, few bool) {
	t.Helper()
	shown, known := map[wrong]bool{}, knownWrong()
	unknown := s.without(func(line string) bool {
		i := slices.IndexFunc(known, func(w wrong) bool { return w.name == name && strings.Contains(line, w.fault) })
		if i >= 0 {
			shown[known[i]] = true
		}
		return i >= 0
	})
	if !unknown.clean() {
		t.Errorf("%s:\n%s", name, unknown.detail())
	}
	for _, w := range known {
		if w.name == name && !shown[w] && !few {
			t.Errorf("%s has become right: take %q (%s) off the list of what is known to be wrong", name, w.fault, w.why)
		}
	}
}

// without leaves out the faults that are known.
func (s score) without(known func(line string) bool) score {
	left := func(lines []string) []string { return slices.DeleteFunc(slices.Clone(lines), known) }
	return score{left(s.missed), left(s.certain), left(s.possible), left(s.counts)}
}

// detail lists the faults, those that are alike but for their figures once.
func (s score) detail() string {
	var b strings.Builder
	for _, sort := range []struct {
		name  string
		lines []string
	}{{"missed", s.missed}, {"falsely certain", s.certain}, {"falsely possible", s.possible}, {"miscounted", s.counts}} {
		alike := map[string]int{}
		var firsts []string
		for _, line := range sort.lines {
			words := strings.Map(func(r rune) rune {
				if r >= '0' && r <= '9' || r == '.' {
					return -1
				}
				return r
			}, line)
			if alike[words]++; alike[words] == 1 {
				firsts = append(firsts, line)
			}
		}
		slices.Sort(firsts)
		for _, line := range firsts {
			fmt.Fprintf(&b, "    %s: %s\n", sort.name, line)
		}
	}
	return b.String()
}

// operationsRecording is one of the six recordings of testdata/operations and its truth.
type operationsRecording struct {
	name, path string
	truth      simulator.OperationsTruth
}

const operationsFolder = "../testdata/operations/"

func operationsRecordings(t *testing.T) (all []operationsRecording) {
	t.Helper()
	for i := range 6 {
		name := fmt.Sprintf("op-%d", i+1)
		text, err := os.ReadFile(operationsFolder + "truth/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		o := operationsRecording{name: name, path: operationsFolder + name + ".csv.gz"}
		if err := json.Unmarshal(text, &o.truth); err != nil {
			t.Fatal(err)
		}
		all = append(all, o)
	}
	return all
}

// operationsDetector has the profile of the six recordings and looks for what it allows.
func operationsDetector(t *testing.T) (*schemas.Profile, *detect.Detector) {
	t.Helper()
	p, err := schemas.ReadProfile(operationsFolder + "profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return p, detectorOf(t, p)
}

// The six recordings were flown by JSBSim, a flight dynamics
// library that knows nothing of this project; the truth beside them was computed at
// 120 Hz from the simulation. See the README there.
func TestOperationsRecordings(t *testing.T) {
	t.Parallel()
	p, d := operationsDetector(t)
	for _, o := range operationsRecordings(t) {
		s := held{d.Detect(readFile(t, o.path, p)), "", o.truth, recordingSlack}.score()
		t.Logf("%s %s: %s", o.name, o.truth.Description, s.line())
		check(t, o.name, s, false)
	}
}

// BenchmarkOperations flies one ordinary flight after the other, row by row:
// -benchtime 1000x makes a thousand. TestOperations with -each-row 36 -v lists them.
func BenchmarkOperations(b *testing.B) {
	d, _ := shippedDetector(b)
	var sum score
	n := 0
	for b.Loop() {
		_, s := flyRow(b, n%simulator.Operations()+1, uint64(1000+n/simulator.Operations()), d)
		sum.add(s)
		n++
	}
	b.ReportMetric(float64(len(sum.certain))/float64(n), "certain-false/flight")
	b.ReportMetric(float64(len(sum.possible))/float64(n), "possible-false/flight")
	b.ReportMetric(float64(len(sum.missed))/float64(n), "missed/flight")
	b.ReportMetric(float64(len(sum.counts))/float64(n), "miscounted/flight")
}
