package report

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
)

// TestLimitsOfEvents: on the demonstration flights the page says by how much each limit was
// passed. Where the rule itself measures the excess, which is another way to the same
// figure, both are equal; and an event of a rule of an upper limit alone is beyond it.
func TestLimitsOfEvents(t *testing.T) {
	t.Parallel()
	compared := 0
	for _, r := range demonstrationResults(t) {
		for _, e := range r.Events {
			i := slices.IndexFunc(e.Measures, func(m detect.Measure) bool { return m.Name == "excess" && m.Known })
			if i < 0 || e.Certainty != detect.Certain {
				continue
			}
			views := limitViews(r, e)
			if !slices.ContainsFunc(views, func(v limitView) bool {
				return v.Exceeded() && math.Abs(float64(*v.Beyond)-e.Measures[i].Value) < 1e-6
			}) {
				t.Errorf("%s: %s is exceeded by %g, the limits say %+v", r.Recording().Name, e.Rule.ID, e.Measures[i].Value, views)
			}
			compared++
		}
	}
	if compared < 5 {
		t.Errorf("only %d events were compared", compared)
	}
}

// TestWhySeverity by hand from the rule's thresholds.
func TestWhySeverity(t *testing.T) {
	t.Parallel()
	by := detect.SeverityRule{By: "excess", Low: 0, Medium: 5, High: 15, HasMedium: true, HasHigh: true}
	measured := func(v float64, known bool) []detect.Measure {
		return []detect.Measure{{Name: "excess", Unit: "kt", Value: v, Known: known}}
	}
	for _, c := range []struct {
		severity detect.SeverityRule
		got      detect.Severity
		measures []detect.Measure
		want     string
	}{
		{detect.SeverityRule{Always: detect.High}, detect.High, nil, "every event of this rule has this severity"},
		{detect.SeverityRule{Always: detect.High, LoweredWhile: "approach_given_up"}, detect.Medium, nil, "one level lower than high, because at its start: approach_given_up"},
		{by, detect.High, measured(16.25, true), "excess is 16.2 kt; low at excess ≥ 0, medium ≥ 5, high ≥ 15"},
		{by, detect.Low, measured(0, false), "excess was not recorded, so the lowest severity applies; low at excess ≥ 0, medium ≥ 5, high ≥ 15"},
	} {
		if got := whySeverity(detect.Event{Rule: &detect.Rule{Severity: c.severity}, Severity: c.got, Measures: c.measures}); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// TestLimitsAreDrawn: the strip of the number has the limit of the event's rule, with its
// name and value, and the whole flight shows where the height changes its reference.
func TestLimitsAreDrawn(t *testing.T) {
	t.Parallel()
	drawn := 0
	for _, r := range demonstrationResults(t) {
		page, err := renderFlight(newDocument(fixtureRun(t), r), r, NoSamples)
		if err != nil {
			t.Fatal(err)
		}
		exceeded := slices.ContainsFunc(r.Events, func(e detect.Event) bool { return e.Rule.ID == "gear-extension-speed" })
		if exceeded {
			drawn++
			if !strings.Contains(string(page), ">gear extension speed 250 kt<") || !bytes.Contains(page, []byte(`class="limit-line"`)) {
				t.Errorf("%s: the extension speed is not drawn", r.Recording().Name)
			}
		}
		if n := len(r.Tracks.HeightReferences()); n > 0 != bytes.Contains(page, []byte(arrivalReference)) {
			t.Errorf("%s: %d changes of the height's reference, and the page says it: %v", r.Recording().Name, n, n == 0)
		}
	}
	if drawn == 0 {
		t.Error("no flight has an event of the extension speed")
	}
}
