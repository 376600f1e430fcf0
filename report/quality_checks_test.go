package report

import (
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// checkedResult is the fixture with a failed check and the rule it costs, a
// passed one and two observations.
func checkedResult(t testing.TB) *detect.Result {
	r := fixtureResult(t)
	r.Checks = []detect.Check{
		{ID: "strut-polarity", Title: "struts against speed", Outcome: detect.Failed, Parameters: []string{"left_strut_compressed"},
			Evidence: "left_strut_compressed is compressed for 0 % of 48 s on the ground", Hint: "reverse true_when"},
		{ID: "ground-speed", Title: "ground speed against airspeed", Outcome: detect.Passed, Parameters: []string{"ground_speed"}, Evidence: "0.97 times"},
	}
	r.Observations = []detect.Observation{
		{Kind: detect.Frozen, Parameter: "pressure_altitude", Spans: []detect.Span{{Start: 10, End: 50}}, Evidence: "the same value for 40 s"},
		{Kind: detect.EndOfRange, Parameter: "radio_altitude", Spans: []detect.Span{{Start: 60, End: 90}}, Evidence: "reads 2500 ft"},
	}
	r.Evaluations[2].Missing = []string{"left_strut_compressed: consistency check failed: struts against speed"}
	return r
}

func TestChecksFollowSchema(t *testing.T) {
	t.Parallel()
	r := checkedResult(t)
	for _, hostileText := range []bool{false, true} {
		if hostileText {
			r.Checks[0].Title, r.Checks[0].Evidence, r.Checks[0].Hint, r.Checks[0].Parameters = hostile, hostile, hostile, []string{hostile}
			r.Observations[0].Parameter, r.Observations[0].Evidence = hostile, hostile
		}
		data, err := encodeJSON(newDocument(fixtureRun(t), r))
		if err != nil {
			t.Fatal(err)
		}
		if err := valid(t, schemas.ReportSchema, data); err != nil {
			t.Error(err)
		}
		page, err := renderFlight(newDocument(fixtureRun(t), r), r, NoSamples)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(page), "<script>alert") {
			t.Error("text from outside is not escaped")
		}
	}
}

// A failed check stands before everything else, with evidence, the way out and the rules
// it costs.
func TestFailedChecksStandOnTop(t *testing.T) {
	t.Parallel()
	r := checkedResult(t)
	data, err := renderFlight(newDocument(fixtureRun(t), r), r, NoSamples)
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	at := 0
	for _, text := range []string{"<main>", "The profile does not fit this recording", "struts against speed", "left_strut_compressed is compressed for 0 % of 48 s on the ground",
		"reverse true_when", "left strut compressed; 1 rule not evaluable because of it", `class="glance"`, "1 consistency check failed", "1 observation",
		"Consistency checks between parameters", "ground speed against airspeed", "0.97 times", "Observations on single parameters", "the same value for 40 s", "10 to 50", "reads 2500 ft"} {
		i := strings.Index(page[at:], text)
		if i < 0 {
			t.Fatalf("%q is not on the page after what must come before it", text)
		}
		at += i
	}
}

func TestNothingFailedSaysNothing(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	data, err := renderFlight(newDocument(fixtureRun(t), r), r, NoSamples)
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"does not fit this recording", "cross-check", "Observations on"} {
		if strings.Contains(string(data), text) {
			t.Errorf("%q is on a page without checks", text)
		}
	}
}

// The index says on how many flights the recording contradicts the profile, and
// on which.
func TestFailedChecksInTheIndex(t *testing.T) {
	t.Parallel()
	run := fixtureRun(t)
	both, second := &Index{}, &Index{}
	for i, r := range []*detect.Result{checkedResult(t), fixtureResult(t)} {
		doc := newDocument(run, r)
		both.Add(newEntry([]string{"one", "two"}[i], doc))
		if i == 1 {
			second.Add(newEntry("two", doc))
		}
	}
	idx := newIndex(run, both, nil)
	if idx.Totals.Unsound != 1 || idx.Flights[0].Failed != 1 || idx.Flights[1].Failed != 0 {
		t.Errorf("%d flights with failed checks, %d and %d checks; want 1, 1 and 0", idx.Totals.Unsound, idx.Flights[0].Failed, idx.Flights[1].Failed)
	}
	page, err := renderIndex(idx)
	if err != nil {
		t.Fatal(err)
	}
	if text := string(page); !strings.Contains(text, "On 1 flight the recording contradicts the profile") || strings.Count(text, "<strong>1 failed check</strong>") != 1 {
		t.Errorf("the page does not say it once:\n%s", text)
	}
	idx = newIndex(run, second, nil)
	if page, err = renderIndex(idx); err != nil || strings.Contains(string(page), "contradicts") {
		t.Errorf("said without need, or %v", err)
	}
}

// Parameters of which nothing shows that they are read rightly stand by name at the top.
func TestUnsureColumnsStandOnTop(t *testing.T) {
	t.Parallel()
	r := checkedResult(t)
	r.Observations = append(r.Observations,
		detect.Observation{Kind: detect.Unconfirmed, Parameter: "gear_horn", Spans: []detect.Span{{Start: 0, End: 90}}, Evidence: "too little"},
		detect.Observation{Kind: detect.Unexplained, Parameter: "parking_brake", Spans: []detect.Span{{Start: 0, End: 9}}, Evidence: "never"})
	data, err := renderFlight(newDocument(fixtureRun(t), r), r, NoSamples)
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(string(data), `id="quality"`)
	if want := "<b>Check the columns of gear horn, parking brake</b>: nothing in this recording shows that they are read correctly"; !strings.Contains(head, want) {
		t.Errorf("the page does not say at its top: %s", want)
	}
	data, err = renderFlight(newDocument(fixtureRun(t), checkedResult(t)), checkedResult(t), NoSamples)
	if err != nil || strings.Contains(string(data), "Check the column") {
		t.Errorf("it says so where nothing is unsure (%v)", err)
	}
}
