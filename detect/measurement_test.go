package detect_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/detect"
)

// measurementOf finds the first measurement of an id in a result.
func measurementOf(t testing.TB, r *detect.Result, id string) detect.Measurement {
	t.Helper()
	made := measurementsOf(r, id)
	if len(made) == 0 {
		t.Fatalf("no measurement %s", id)
	}
	return made[0]
}

// measurementsOf lists those of an id, one for each opportunity.
func measurementsOf(r *detect.Result, id string) (made []detect.Measurement) {
	for _, m := range r.Measurements {
		if m.Rule.ID == id {
			made = append(made, m)
		}
	}
	return made
}

// bounds reports whether a true value lies in a measurement's bounds, but for
// the rounding of times.
func bounds(m detect.Measurement, true float64) bool {
	const rounding = 2e-5
	return m.Lowest-rounding <= true && true <= m.Highest+rounding
}

// measuredTimes are the seconds each leg took to lock down in a check flight,
// nil where it did not.
type measuredTimes struct {
	Kind              string
	Start             float64 `json:"start_s"` // DOWN selected
	Nose, Left, Right *float64
}

func readMeasuredTimes(t *testing.T, path string) (found []measuredTimes) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var truth struct{ Events []measuredTimes }
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	for _, e := range truth.Events {
		if e.Kind == "measurement: extension time per leg s" {
			found = append(found, e)
		}
	}
	return found
}

// TestExtensionTimesOfX100 holds the extension time of each leg against the
// times the legs were flown with, read off at 120 Hz by another program.
func TestExtensionTimesOfX100(t *testing.T) {
	t.Parallel()
	compared := 0
	for n := 1; n <= 8; n++ {
		profile := "../testdata/x100/profile.yaml"
		if n == 6 {
			profile = "../testdata/x100/profile-inverted.yaml"
		}
		result := detectOne(t, fmt.Sprintf("../testdata/x100/flight-%d.csv.gz", n), profile)
		for _, e := range readMeasuredTimes(t, fmt.Sprintf("../testdata/x100/truth/flight-%d.json", n)) {
			for leg, want := range map[string]*float64{"nose": e.Nose, "left": e.Left, "right": e.Right} {
				if want == nil {
					continue
				}
				compared++
				m := measurementOf(t, result, "extension-time-"+leg)
				if m.Outcome != detect.Measured || m.Certainty != detect.Certain || !bounds(m, *want) {
					t.Errorf("flight %d, %s leg: %s %v in %v to %v, true %v", n, leg, m.Outcome, m.Value, m.Lowest, m.Highest, *want)
				}
				if width := m.Highest - m.Lowest; width > 2.001 { // lever and lock, both at 1 Hz
					t.Errorf("flight %d, %s leg: bounds %v s apart", n, leg, width)
				}
				if at := m.At; at == nil || e.Start < at.Earliest || e.Start > at.Latest {
					t.Errorf("flight %d, %s leg: DOWN selected at %v, found %v", n, leg, e.Start, at)
				}
			}
		}
	}
	if compared != 21 {
		t.Errorf("%d times were compared, want those of seven flights and three legs", compared)
	}
}

// TestDemoMeasurements looks at every measurement of the demonstration flights:
// the nominal value lies in its bounds, and what is missing is named.
func TestDemoMeasurements(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../testdata/demo/tarnholm-*")
	if err != nil || len(files) < 15 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	detector, profile := shippedDetector(t)
	measured := map[string]int{}
	for _, file := range files {
		for _, result := range detector.Detect(readFile(t, file, profile)) {
			for _, m := range result.Measurements {
				checkMeasurement(t, filepath.Base(file), m)
				if m.Outcome == detect.Measured {
					measured[m.Rule.ID]++
				}
			}
		}
	}
	if len(measured) < 45 {
		t.Errorf("only %d kinds of measurement were made in the demonstration flights", len(measured))
	}
}

func checkMeasurement(t *testing.T, file string, m detect.Measurement) {
	t.Helper()
	what := fmt.Sprintf("%s, %s: %s %v in %v to %v", file, m.Rule.ID, m.Outcome, m.Value, m.Lowest, m.Highest)
	if m.Outcome == detect.Measured && !bounds(m, m.Value) {
		t.Errorf("%s: outside its bounds", what)
	}
	if m.Outcome == detect.Measured && (math.IsNaN(m.Value) || math.IsInf(m.Value, 0)) {
		t.Errorf("%s: no number", what)
	}
	if (m.Outcome == detect.NotMeasurable) != (len(m.Missing) > 0) || (m.Coverage() == detect.NotEvaluable) != (len(m.Missing) > 0) {
		t.Errorf("%s: missing %v, coverage %s", what, m.Missing, m.Coverage())
	}
}

func TestBuiltinMeasurements(t *testing.T) {
	t.Parallel()
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	if len(rules.Measurements) < 30 {
		t.Errorf("%d measurements", len(rules.Measurements))
	}
	// Units by hand: of a height, a speed, a rate, a time, a count.
	for id, unit := range map[string]string{"gear-down-height": "ft", "gear-up-climb-rate": "ft/min", "extension-time": "s",
		"horn-seconds": "s", "go-arounds": "1", "touchdown-acceleration": "g", "too-low-gear-margin": "ft", "touchdown-weight": "kg"} {
		if m := rules.Measurement(id); m == nil || m.Unit != unit {
			t.Errorf("%s: %+v, want it in %s", id, m, unit)
		}
	}
	for _, m := range rules.Measurements {
		if !strings.HasSuffix(m.Definition, ".") || m.Title == "" || m.Group == "Other" || m.Pack != "built-in measurements" {
			t.Errorf("%s: title %q, group %q, definition %q, pack %q", m.ID, m.Title, m.Group, m.Definition, m.Pack)
		}
	}
}

// TestUserMeasurements adds one, puts one in the place of another of a different
// form, and switches one off.
func TestUserMeasurements(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "ours.yaml")
	pack := `schema: downlock rules 1
pack: ours
measurements:
  - {id: longest-horn-height, title: Highest horn, definition: Largest height with the horn., of: height, while: gear_horn, take: largest}
  - {id: gear-down-height, title: Ours, definition: Seconds at DOWN., seconds: 'gear_lever == "DOWN"'}
  - {id: lever-movements, off: true}
`
	if err := os.WriteFile(file, []byte(pack), 0o666); err != nil {
		t.Fatal(err)
	}
	builtin, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	rules, err := detect.LoadRules(file)
	if err != nil {
		t.Fatal(err)
	}
	if len(rules.Measurements) != len(builtin.Measurements) || rules.Measurement("lever-movements") != nil {
		t.Errorf("%d measurements, want one more and one fewer than %d", len(rules.Measurements), len(builtin.Measurements))
	}
	if m := rules.Measurement("longest-horn-height"); m == nil || m.Pack != "ours" || m.Group != "Other" || m.Unit != "ft" {
		t.Errorf("added: %+v", m)
	}
	if m := rules.Measurement("gear-down-height"); m == nil || m.Of != "" || m.Take != "" || m.Unit != "s" || m.Pack != "ours" {
		t.Errorf("in the place of another: %+v", m)
	}
	first := builtin.Measurements[0].ID
	for id, want := range map[string]string{first: "", "no-such": `there is no measurement "no-such" to switch off`} {
		switch without, err := builtin.With("off.yaml", []byte("schema: downlock rules 1\npack: off\nmeasurements: [{id: "+id+", off: true}]\n")); {
		case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
			t.Errorf("%s: %v, want %s", id, err, want)
		case want == "" && (err != nil || without.Measurement(id) != nil || len(without.Measurements) != len(builtin.Measurements)-1):
			t.Errorf("%s is not switched off: %v", id, err)
		}
	}
	if m := builtin.Measurement(first); m != builtin.Measurements[0] {
		t.Errorf("the first is found as %+v", m)
	}
	ours, err := builtin.With("first.yaml", []byte("schema: downlock rules 1\npack: ours\nmeasurements: [{id: "+first+", title: Ours, definition: Seconds of the horn., seconds: gear_horn}]\n"))
	if err != nil || len(ours.Measurements) != len(builtin.Measurements) || ours.Measurements[0].Pack != "ours" {
		t.Errorf("the first is not replaced: %v", err)
	}
	over, err := builtin.With("ours.yaml", []byte(pack))
	if err != nil || over.Measurement("lever-movements") != nil || builtin.Measurement("lever-movements") == nil {
		t.Errorf("on top: %v; the set below was changed: %v", err, builtin.Measurement("lever-movements") == nil)
	}
}

// BenchmarkMeasurements finds a two-hour flight, without any rule, with the
// measurements and without.
func BenchmarkMeasurements(b *testing.B) {
	_, profile := shippedDetector(b)
	recording := twoHours()
	rules, err := detect.LoadRules()
	if err != nil {
		b.Fatal(err)
	}
	alone := &detect.RuleSet{Measurements: rules.Measurements}
	for name, set := range map[string]*detect.RuleSet{"with": alone, "without": {}} {
		detector, err := detect.New(profile, set)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if got := detector.Detect(recording); len(got) != 1 {
					b.Fatalf("%d flights", len(got))
				}
			}
		})
	}
}
