package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// fixtureEntries are two flights of a run: the fixture, and one on which a rule
// that finds nothing was evaluated everywhere.
func fixtureEntries(t testing.TB, dir string, run *Run) *Index {
	t.Helper()
	quiet := fixtureResult(t)
	quiet.Flight.Recording.Name = "north-08.csv"
	quiet.Events = quiet.Events[1:2]
	for i := range quiet.Evaluations {
		quiet.Evaluations[i].Coverage, quiet.Evaluations[i].Missing = detect.Evaluated, nil
	}
	flights := &Index{}
	for _, r := range []*detect.Result{fixtureResult(t), quiet} {
		e, err := writeFlight(dir, run, r)
		if err != nil {
			t.Fatal(err)
		}
		flights.Add(e)
	}
	return flights
}

var fixtureFailures = []Failure{
	{"north-09.csv", schemas.Problems{{File: "north-09.csv", Line: 12, Column: 3, Cause: "no number: " + hostile, Hint: "say so in the profile"}}},
	{"north-10.csv", fmt.Errorf("reading: %w", &schemas.Problem{File: "north-10.csv", Cause: "is empty"})},
	{hostile, errors.New("no space left")},
	{"north-11.csv", nil},
}

func TestIndex(t *testing.T) {
	t.Parallel()
	dir, run := t.TempDir(), fixtureRun(t)
	flights := fixtureEntries(t, dir, run)
	if err := WriteIndex(dir, run, flights, fixtureFailures); err != nil {
		t.Fatal(err)
	}
	files := readAll(t, dir)
	if err := valid(t, schemas.IndexSchema, files["index.json"]); err != nil {
		t.Error(err)
	}
	var idx index
	if err := json.Unmarshal(files["index.json"], &idx); err != nil {
		t.Fatal(err)
	}
	// By hand: gear-late 2 events on the first flight, which was partly evaluated;
	// lever-first one on each; speedbrake and go-around-late evaluated
	// on the second flight alone.
	for i, want := range []ruleTotal{
		{"gear-late", "Gear late", "Approach and landing", 2, 1, eventCounts{High: certaintyCounts{1, 0}, Medium: certaintyCounts{1, 0}}, coverageCounts{1, 1, 0, 0}, "approach", opportunityCounts{2, 0, 2, 0}},
		{"lever-first", "Lever before strut", "Retraction protection", 2, 2, eventCounts{Low: certaintyCounts{0, 2}}, coverageCounts{2, 0, 0, 0}, "flight", opportunityCounts{2, 2, 0, 0}},
		{"speedbrake", "Speedbrake with landing flap", "Approach and landing", 1, 0, eventCounts{}, coverageCounts{1, 0, 1, 0}, "touchdown", opportunityCounts{2, 0, 0, 2}},
		{"go-around-late", "Late in a go-around", "Go-around", 1, 0, eventCounts{}, coverageCounts{1, 0, 0, 1}, "go-around", opportunityCounts{}},
	} {
		if idx.Rules[i] != want {
			t.Errorf("rule %d is %+v, want %+v", i, idx.Rules[i], want)
		}
	}
	wantAudit := auditTotal{"gear_horn", "Gear warning horn", auditCounts{2, 2, 0, 0, findingCounts{Late: 2, Silenced: 2}}, 25, 10, 4} // the same on both flights
	if idx.Audits[0] != wantAudit || idx.Audits[2].NotEvaluable != 2 {
		t.Errorf("audits are %+v", idx.Audits)
	}
	// By hand: one approach on each flight, both landed; no take-off roll.
	for _, want := range []operationTotal{{"take-off roll", 0, []endedTotal{}}, {"approach", 2, []endedTotal{{"landing", 2}}}, {"landing", 2, []endedTotal{}}} {
		i := slices.IndexFunc(idx.Totals.Operations, func(o operationTotal) bool { return o.Kind == want.Kind })
		if i < 0 || !reflect.DeepEqual(idx.Totals.Operations[i], want) {
			t.Errorf("operations are %+v, want %+v", idx.Totals.Operations, want)
		}
	}
	// By hand: 1800.4 ft on both flights; a height on none.
	height, none := idx.Measurements[0], idx.Measurements[3]
	if *height.Smallest != 1800.4 || *height.Median != 1800.4 || *height.Largest != 1800.4 || height.Flights != (outcomeCounts{Measured: 2}) {
		t.Errorf("height is %+v", height)
	}
	if none.Median != nil || none.Flights != (outcomeCounts{DidNotHappen: 2}) {
		t.Errorf("what did not happen is %+v", none)
	}
	if got := strings.Count(string(files["measurements.csv"]), "\r\n"); got != 1+2*6 {
		t.Errorf("measurements.csv has %d lines, want a header and 6 measurements of each flight", got)
	}
	if want := (eventCounts{High: certaintyCounts{1, 0}, Medium: certaintyCounts{1, 0}, Low: certaintyCounts{0, 2}}); idx.Totals.Events != want || idx.Totals.Flights != 2 || idx.Totals.Failures != 4 || idx.Totals.Occurrences != 3 {
		t.Errorf("totals are %+v", idx.Totals)
	}
	if got := idx.Failures[1]; got.Problems[0] != "north-10.csv: is empty" || len(got.Hints) != 0 {
		t.Errorf("the second failure is %+v", got)
	}
	if got := strings.Count(string(files["events.csv"]), "\r\n"); got != 1+3+1 {
		t.Errorf("events.csv has %d lines, want a header and 4 events", got)
	}
}

func TestIndexPage(t *testing.T) {
	t.Parallel()
	dir, run := t.TempDir(), fixtureRun(t)
	if err := WriteIndex(dir, run, fixtureEntries(t, dir, run), fixtureFailures); err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join(dir, "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	p := parsePage(t, page)
	checkSelfContained(t, p)
	for _, want := range []string{
		"2 flights, 4 files failed", "north-09.csv:12:3: no number: <script>alert(\"x\")</script>", "say so in the profile", "no space left", "no report was written",
		"north-07.csv, flight 1 TH-120 2031-05-04 not recorded 10:02:30.0 1 1 0 (+1) 2 1 1", "4 in 3 occurrences", "Gear late gear-late, approach 2 0 2 1 1 1 · 1 1 0 0",
		"Speedbrake with landing flap speedbrake, touchdown 2 0 1 0 · · · 1 0 1 0", "Cautions",
	} {
		if !strings.Contains(p.text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, link := range p.links {
		if strings.HasPrefix(link, "#") {
			continue
		}
		name, place, _ := strings.Cut(link, "#")
		linked, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Errorf("nothing is at %s", link)
			continue
		}
		if place != "" && !slices.Contains(parsePage(t, linked).ids, place) {
			t.Errorf("no place of the page is %s", link)
		}
	}
}

func TestEmptyRun(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := WriteIndex(dir, fixtureRun(t), &Index{}, nil); err != nil {
		t.Fatal(err)
	}
	if err := valid(t, schemas.IndexSchema, readAll(t, dir)["index.json"]); err != nil {
		t.Error(err)
	}
}
