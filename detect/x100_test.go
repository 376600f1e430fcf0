package detect_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// The eight flights of testdata/x100 were flown by JSBSim, a flight dynamics
// library that knows nothing of this project; the truth beside them was computed
// at 120 Hz from the simulation, not from the samples. See the README there.

// ruleOfKind says which rule answers for a kind of true event.
var ruleOfKind = map[string]string{
	"gear extension speed": "gear-extension-speed",
	"gear extended speed":  "gear-extended-speed",
	"flap placard speed":   "flap-placard-speed",
	"intermediate flap, throttle retarded, gear not locked":     "throttle-retarded-gear-not-locked",
	"landing flap, gear not locked":                             "landing-flap-gear-not-locked",
	"horn isolation used while the silenceable warning was due": "warning-inhibited",
	"gear not locked at 1000 ft on the final approach":          "gear-late",
	"gear not locked at 500 ft on the final approach":           "gear-late-visual",
	"landing flap not set at 1000 ft on the final approach":     "landing-flap-late",
	"landing flap not set at 500 ft on the final approach":      "landing-flap-late-visual",
	"too-low-gear floor crossed downwards":                      "too-low-gear",
	"gear selected up before strut extension":                   "gear-up-before-strut-extension",
	"gear stays locked down after UP selected":                  "gear-locked-down-after-up",
	"measurement: extension time per leg s":                     "", // no event
}

type x100Event struct {
	Kind  string
	Start float64  `json:"start_s"`
	End   *float64 `json:"end_s"` // nil: a moment
}

type x100Truth struct {
	LiftOff   float64 `json:"liftoff_s"`
	Touchdown float64 `json:"touchdown_s"`
	Inverted  bool    `json:"inverted_discretes"`
	Events    []x100Event
}

// flicker joins true spans of one kind less than this apart (s): at 120 Hz the
// truth flickers at a limit in turbulence.
const flicker = 3.0

func readTruth(t *testing.T, path string) (truth x100Truth) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	sort.SliceStable(truth.Events, func(i, j int) bool { return truth.Events[i].Start < truth.Events[j].Start })
	var joined []x100Event
	last := map[string]int{}
	for _, e := range truth.Events {
		rule, known := ruleOfKind[e.Kind]
		if !known {
			t.Fatalf("%s: no rule for a true event of kind %q", path, e.Kind)
		}
		if rule == "" {
			continue
		}
		if i, ok := last[e.Kind]; ok && e.End != nil && e.Start-*joined[i].End < flicker {
			joined[i].End = e.End
			continue
		}
		last[e.Kind] = len(joined)
		joined = append(joined, e)
	}
	truth.Events = joined
	return truth
}

func detectOne(t *testing.T, recording, profile string) *detect.Result {
	t.Helper()
	p, err := schemas.ReadProfile(profile)
	if err != nil {
		t.Fatal(err)
	}
	results := detectorOf(t, p).Detect(readFile(t, recording, p))
	if len(results) != 1 {
		t.Fatalf("%s: %d flights, want 1", recording, len(results))
	}
	return results[0]
}

func TestX100(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/x100/"
	recordings, _ := filepath.Glob(dir + "flight-*.csv.gz")
	if len(recordings) != 9 {
		t.Fatalf("%d recordings, want the eight flights and one of them in long form", len(recordings))
	}
	for _, path := range recordings {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			var number int
			fmt.Sscanf(name, "flight-%d", &number)
			truth := readTruth(t, fmt.Sprintf("%struth/flight-%d.json", dir, number))
			profile := dir + "profile.yaml"
			if truth.Inverted {
				profile = dir + "profile-inverted.yaml"
			}
			compareWithTruth(t, truth, detectOne(t, path, profile), false)
		})
	}
}

// compareWithTruth finds every true event and no other. Where times are known to within
// some time only, undecided, an order of actions may be possible that was not so.
func compareWithTruth(t *testing.T, truth x100Truth, result *detect.Result, undecided bool) {
	inside := func(what string, true float64, got detect.Time) {
		t.Helper()
		if true < got.Earliest || true > got.Latest {
			t.Errorf("%s at %.3f s lies outside %.3f to %.3f", what, true, got.Earliest, got.Latest)
		}
	}
	f := result.Flight
	if f.LiftOff == nil || f.Touchdown == nil {
		t.Fatal("lift-off or touchdown not found")
	}
	inside("lift-off", truth.LiftOff, *f.LiftOff)
	inside("touchdown", truth.Touchdown, *f.Touchdown)
	var rules []string
	for _, rule := range ruleOfKind {
		rules = append(rules, rule)
	}
	left := ofRules(result.Events, rules)
	for _, want := range truth.Events {
		rule := ruleOfKind[want.Kind]
		found := -1
		for i, e := range left {
			if e.Rule.ID == rule && e.Start.Earliest <= want.Start && want.Start <= e.Start.Latest {
				found = i
				break
			}
		}
		if found < 0 {
			t.Errorf("%s at %.3f s not found", want.Kind, want.Start)
			continue
		}
		if want.End != nil && !left[found].Moment {
			inside("end of "+want.Kind, *want.End, left[found].End)
		}
		left = append(left[:found:found], left[found+1:]...)
	}
	for _, e := range left {
		if undecided && e.Certainty == detect.Possible && e.Rule.AlsoPossible {
			continue
		}
		t.Errorf("%s (%s) at %.3f s (%.3f to %.3f) is not a true event", e.Rule.ID, e.Certainty, e.Start.Nominal, e.Start.Earliest, e.Start.Latest)
	}
}
