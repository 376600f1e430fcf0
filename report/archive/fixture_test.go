package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"downlock/detect"
	"downlock/ingest"
	"downlock/report/identity"
	"downlock/schemas"
)

// fixtureRun is a run with a profile and packs of no consequence.
func fixtureRun(version string) *Run {
	return &Run{Version: version,
		Profile: &schemas.Profile{Aircraft: "TH-120", SHA256: strings.Repeat("ab", 32)},
		Packs:   []detect.Pack{{Name: "builtin", SHA256: strings.Repeat("cd", 32)}}}
}

var fixtureRules = []*detect.Rule{
	{ID: "gear_up_early", Title: "Gear selected up early", Group: "Retraction", Opportunity: detect.OpenLiftOff},
	{ID: "flap_late", Title: "Landing flap late", Group: "Approach", Opportunity: detect.OpenApproach},
}

// fixtureResults makes the results of a recording that holds the text: as many
// flights as it has words, a word being the month of the flight or "undated".
// The version of the run has a say in the findings, and moves those it dates in
// May to June.
func fixtureResults(run *Run, name, content string) (sha string, results []*detect.Result) {
	sum := sha256.Sum256([]byte(content))
	sha = hex.EncodeToString(sum[:])
	for i, month := range fixtureMonths(run.Version, content) {
		rec := &ingest.Recording{Name: name, SHA256: sha}
		if at, err := time.Parse("2006-01", month); err == nil {
			rec.Epoch = at.Add(36 * time.Hour)
		}
		f := &detect.Flight{ID: fmt.Sprintf("F%s-%d", sha[:8], i+1), Number: i + 1, Recording: rec, Span: detect.Span{Start: 10, End: 5000},
			LiftOff: &detect.Time{Nominal: 100.12345, Earliest: 99.5, Latest: 100.5}}
		r := &detect.Result{Flight: f}
		// Two approaches, the flap unknown in 50 s of the 200 of the first; a take-off
		// roll that was rejected, and one that lifted off.
		exactly := func(t float64) detect.Time { return detect.Time{Nominal: t, Earliest: t, Latest: t} }
		for _, o := range []struct {
			kind        detect.OpportunityKind
			begin, ends float64
		}{{detect.OpenTakeOffRoll, 20, 40}, {detect.OpenTakeOffRoll, 60, 100}, {detect.OpenLiftOff, 60, 160}, {detect.OpenApproach, 1000, 1200}, {detect.OpenApproach, 2000, 2100}, {detect.OpenTouchdown, 2000, 2110}} {
			r.Opportunities = append(r.Opportunities, detect.Opportunity{Kind: o.kind, Begins: exactly(o.begin), Ends: exactly(o.ends)})
		}
		f.Rolls = []detect.TakeOffRoll{{Ended: detect.Rejected}, {Ended: detect.InLiftOff}}
		for k, rule := range fixtureRules {
			r.Evaluations = append(r.Evaluations, detect.Evaluation{Rule: rule, Coverage: detect.PartlyEvaluated, Missing: []string{},
				ScopeSeconds: 4990, UnknownSeconds: float64(k), Fallbacks: []string{"airborne from radio altitude"}, Events: len(run.Version)})
		}
		r.Evaluations[0].Chances = detect.Chances{All: 1, Evaluated: 1}
		r.Evaluations[1].Chances, r.Evaluations[1].Unknown = detect.Chances{All: 2, Evaluated: 1, Partly: 1}, []detect.Span{{Start: 1100, End: 1150}}
		for k := range len(run.Version) {
			r.Events = append(r.Events, fixtureEvent(sha, i, k))
		}
		r.Audits = []detect.Audit{{Warning: &detect.Warning{Name: "gear horn"}, Coverage: detect.Evaluated, Due: 2, Sounded: 1, DueSeconds: 20.5,
			Findings: []detect.AuditFinding{{Finding: detect.Missed}, {Finding: detect.Late}, {Finding: detect.Missed}}, SwitchUses: make([]detect.SwitchUse, 3)}}
		touchdownSpeed := &detect.MeasurementRule{ID: "touchdown_speed", Unit: "kt", Opportunity: detect.OpenTouchdown}
		r.Measurements = []detect.Measurement{
			{Rule: touchdownSpeed, Opportunity: 1, Begins: exactly(1000), Ends: exactly(1210.00049), Outcome: detect.Measured, Certainty: detect.Certain,
				Value: 134, Lowest: 133, Highest: 135, At: &detect.Time{Nominal: 1200}},
			{Rule: touchdownSpeed, Opportunity: 2, Begins: exactly(3800), Ends: exactly(4010), Outcome: detect.Measured, Certainty: detect.Certain,
				Value: 131.0004, Lowest: 130, Highest: math.Inf(1), At: &detect.Time{Nominal: 4000}},
			{Rule: &detect.MeasurementRule{ID: "transit_time", Unit: "s", Opportunity: detect.OpenExtension}, Outcome: detect.NotMeasurable, Certainty: detect.Certain, Missing: []string{"gear_lever: not recorded"}}}
		results = append(results, r)
	}
	return sha, results
}

// fixtureMonths are the months of the flights of a recording.
func fixtureMonths(version, content string) []string {
	if len(version) > 1 {
		content = strings.ReplaceAll(content, "2031-05", "2031-06")
	}
	return strings.Fields(content)
}

func fixtureEvent(sha string, flight, k int) detect.Event {
	start := 200 + 10*float64(k)
	return detect.Event{ID: fmt.Sprintf("E%s-%d-%d", sha[:8], flight+1, k), Rule: fixtureRules[k%len(fixtureRules)],
		Severity: detect.High, Certainty: detect.Possible, Phase: "initial climb",
		Start:    detect.Time{Nominal: start, Earliest: math.Inf(-1), Latest: start + 1},
		End:      detect.Time{Nominal: start + 5, Earliest: start + 4, Latest: start + 6},
		Measures: []detect.Measure{{Name: "height", Unit: "ft", Value: 35.5, Known: true}, {Name: "speed", Unit: "kt"}}}
}

// inputs is a folder of input files by name; a content beginning with "bad" is
// one that cannot be scanned.
type inputs map[string]string

func (in inputs) write(t testing.TB, dir string) []string {
	t.Helper()
	var paths []string
	for _, name := range sortedKeys(in) {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(in[name]), 0o666); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	return paths
}

// later is a time at which files written just now have been at rest.
func later() time.Time { return time.Now().Add(time.Hour) }

// night is one run over the inputs, as scan makes it, without the scanning. It
// returns the first error, and how many inputs were skipped.
func night(dir string, run *Run, paths []string, d disk) (skipped int, err error) {
	list := make([]Input, len(paths))
	for i, p := range paths {
		list[i] = Input{p, []string{p}, nil}
	}
	a, err := open(dir, run, list, d)
	if err != nil {
		return 0, err
	}
	defer a.Close()
	for _, in := range list {
		p := in.Path
		sight, err := in.Look()
		if err != nil {
			return skipped, err
		}
		if same, err := a.Unchanged(in, sight, later()); err != nil {
			a.Discard()
			return skipped, err
		} else if same {
			skipped++
			continue
		}
		content, err := os.ReadFile(p)
		if err != nil {
			return skipped, err
		}
		if strings.HasPrefix(string(content), "bad") {
			err = a.StageFailure(in, sight, later(), fmt.Errorf("line 1: is bad"))
		} else {
			sha, results := fixtureResults(run, filepath.Base(p), string(content))
			err = a.stageResults(in, sight, later(), sha, results)
		}
		if err != nil {
			a.Discard()
			return skipped, err
		}
	}
	return skipped, a.Commit()
}

func mustNight(t testing.TB, dir string, run *Run, paths []string) int {
	t.Helper()
	skipped, err := night(dir, run, paths, quickDisk{})
	if err != nil {
		t.Fatal(err)
	}
	return skipped
}

// stageResults keeps the results of an input until Commit; sight is how it looked when
// it was read, at the time now. The error is an output.Error.
func (a *Archive) stageResults(in Input, sight Sight, now time.Time, sha256 string, results []*detect.Result) error {
	rows := Rows{Recording: sha256}
	for _, r := range results {
		rows.Add(a.run, r)
	}
	return a.StageRows(in, sight, now, rows)
}

// testKey is a key of an archive that withholds identity.
func testKey(t *testing.T) *identity.Key {
	t.Helper()
	path := filepath.Join(t.TempDir(), "key")
	writeTestFile(t, path, "0123456789abcdef")
	key, _, err := identity.ReadKey(path)
	if err != nil {
		t.Fatal(err)
	}
	return key
}
