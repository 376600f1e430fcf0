package detect_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect"
	"downlock/schemas"
)

// withPack detects with a pack alone.
func withPack(t *testing.T, pack string, r *detect.RuleSet) *detect.Detector {
	t.Helper()
	p, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	if r == nil {
		if r, err = detect.ParseRules("pack.yaml", []byte(pack)); err != nil {
			t.Fatal(err)
		}
	}
	d, err := detect.New(p, r)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const speedPack = `schema: downlock rules 1
pack: speeds
rules:
  - id: fast
    title: Fast
    meaning: Above 200 kt.
    when: computed_airspeed > 200
    severity: {by: %s}
    measure:
      - {name: largest, of: computed_airspeed, take: largest}
      - {name: smallest, of: computed_airspeed, take: smallest}
      - {name: at_start, of: computed_airspeed, take: start}
      - {name: at_end, of: computed_airspeed, take: end}
      - {name: long, take: duration}
      - {name: altitude, of: pressure_altitude, take: start}
    basis: common practice
`

// TestSeverityLevels: at, below and above each threshold, rising and falling,
// and without one of the levels. The airspeed is the peak of a level stretch.
func TestSeverityLevels(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		by    string
		speed float64
		want  detect.Severity
	}{
		{"largest, low: 0, medium: 250, high: 300", 249.9, detect.Low},
		{"largest, low: 0, medium: 250, high: 300", 250, detect.Medium},
		{"largest, low: 0, medium: 250, high: 300", 299.9, detect.Medium},
		{"largest, low: 0, medium: 250, high: 300", 300, detect.High},
		{"largest, low: 0, medium: 250, high: 300", 400, detect.High},
		{"largest, low: 240, medium: 250, high: 300", 210, detect.Low}, // below the lowest it is the lowest
		{"largest, low: 0, high: 300", 299.9, detect.Low},
		{"largest, low: 0, high: 300", 300, detect.High},
		{"largest, low: 0, medium: 250", 400, detect.Medium},
		{"largest, low: 0", 400, detect.Low},
		{"largest, low: 400, medium: 300, high: 250", 300.1, detect.Low}, // falling: smaller is worse
		{"largest, low: 400, medium: 300, high: 250", 300, detect.Medium},
		{"largest, low: 400, medium: 300, high: 250", 250.1, detect.Medium},
		{"largest, low: 400, medium: 300, high: 250", 250, detect.High},
		{"largest, low: 400, high: 250", 250, detect.High},
		{"altitude, low: 0, high: 1", 400, detect.Low}, // the measure is not known
	} {
		d := withPack(t, fmt.Sprintf(speedPack, c.by), nil)
		r := recordingOf(300, append(struts(300, 50, 250), sampledEvery("computed_airspeed", 1, 300, func(t float64) float64 {
			return 150 + (c.speed-150)*during(100, 121)(t)
		}))...)
		results := d.Detect(r)
		if len(results) != 1 || len(results[0].Events) != 1 {
			t.Fatalf("%s: %v", c.by, results)
		}
		if got := results[0].Events[0].Severity; got != c.want {
			t.Errorf("by %s with %v kt: %s, want %s", c.by, c.speed, got, c.want)
		}
	}
}

// TestMeasures: 150 kt to 100, 230 kt at 101, 250 kt at 110, 210 at 120, 150 at
// 121. Above 200 kt from 100 + 50/80 to 120 + 10/60.
func TestMeasures(t *testing.T) {
	t.Parallel()
	d := withPack(t, fmt.Sprintf(speedPack, "largest, low: 0"), nil)
	speed := through(100, 150, 101, 230, 110, 250, 120, 210, 121, 150)
	r := recordingOf(300, append(struts(300, 50, 250), sampledEvery("computed_airspeed", 1, 300, speed))...)
	got := d.Detect(r)[0].Events[0].Measures
	want := []detect.Measure{
		{Name: "largest", Unit: "kt", Value: 250, Known: true},
		{Name: "smallest", Unit: "kt", Value: 200, Known: true},
		{Name: "at_start", Unit: "kt", Value: 200, Known: true},
		{Name: "at_end", Unit: "kt", Value: 200, Known: true},
		{Name: "long", Unit: "s", Value: 20 + 10/60.0 - 50/80.0, Known: true},
		{Name: "altitude", Unit: "ft"},
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(0, 1e-6)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestEventsAreOrderedAndStable: by start, then by the order of the rules; the
// same bytes give the same ids, other bytes or another flight others.
func TestEventsAreOrderedAndStable(t *testing.T) {
	t.Parallel()
	first, second := detected(t, twoHours()), detected(t, twoHours())
	ids := map[string]bool{}
	for _, r := range [][]*detect.Result{first, second} {
		last := math.Inf(-1)
		for _, e := range r[0].Events {
			if e.Start.Nominal < last {
				t.Errorf("%s at %v after %v", e.Rule.ID, e.Start.Nominal, last)
			}
			last = e.Start.Nominal
			ids[e.ID] = true
		}
	}
	if len(first[0].Events) == 0 {
		t.Fatal("no event to look at")
	}
	if len(ids) != len(first[0].Events) || first[0].Flight.ID != second[0].Flight.ID {
		t.Errorf("%d different ids for twice %d events", len(ids), len(first[0].Events))
	}
	other := twoHours()
	other.SHA256 = "other"
	for _, e := range detected(t, other)[0].Events {
		if ids[e.ID] {
			t.Errorf("%s has the id of an event of another recording", e.Rule.ID)
		}
	}
}

// TestEveryEventIsWithinItsBounds on flights with and without their parameters.
func TestEveryEventIsWithinItsBounds(t *testing.T) {
	t.Parallel()
	whole := twoHours()
	for drop := -1; drop < len(whole.Series); drop++ {
		r := *whole
		if drop >= 0 {
			r.Series = append(r.Series[:drop:drop], r.Series[drop+1:]...)
		}
		for _, result := range detected(t, &r) {
			for _, e := range result.Events {
				for _, x := range []detect.Time{e.Start, e.End} {
					if !(x.Earliest <= x.Nominal && x.Nominal <= x.Latest) {
						t.Errorf("without series %d: %s %v is out of its bounds", drop, e.Rule.ID, x)
					}
				}
				if e.End.Nominal < e.Start.Nominal || e.Moment != (e.Start == e.End) && e.Moment {
					t.Errorf("without series %d: %s from %v to %v", drop, e.Rule.ID, e.Start, e.End)
				}
			}
			for _, v := range result.Evaluations {
				if v.Coverage == detect.NotEvaluable != (len(v.Missing) > 0) || v.Coverage == detect.PartlyEvaluated != (len(v.Unknown) > 0 || v.Partial) || v.UnknownSeconds > v.ScopeSeconds {
					t.Errorf("without series %d: %+v", drop, v)
				}
			}
		}
	}
}

// A rule that follows thresholds is at least low, since below the lowest it stays so;
// lowered, medium may become low and high medium.
func TestSeveritiesARuleCanHave(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"high": "high", "{always: high, lowered_while: approach_given_up}": "medium high", "{always: medium, lowered_while: approach_given_up}": "low medium",
		"{by: d, low: 0}": "low", "{by: d, low: 0, high: 3}": "low high", "{by: d, low: 0, high: 3, lowered_while: approach_given_up}": "low medium high",
		"{by: d, low: 9, medium: 5, high: 3}": "low medium high",
	} {
		set, err := detect.ParseRules("one.yaml", []byte("schema: downlock rules 1\npack: one\nrules:\n  - id: one\n    title: One\n    meaning: One.\n"+
			"    when: airborne\n    measure: [{name: d, take: duration}]\n    basis: common practice\n    severity: "+text+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Trim(fmt.Sprint(set.Rule("one").Severity.Levels()), "[]"); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
}
