package detect_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
)

// TestOneOpportunityIsAsTheFlight makes the built-in measurements twice on the
// demonstration flights: as they are, and of the flight as a whole, without their
// opportunity. Where a flight has one opportunity both are the same; where it has
// several, that of the flight is one of theirs.
func TestOneOpportunityIsAsTheFlight(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile("packs/measurements.yaml")
	if err != nil {
		t.Fatal(err)
	}
	stripped := regexp.MustCompile(`(?m)^    (opportunity|including): .*\n`).ReplaceAll(data, nil)
	_, profile := shippedDetector(t)
	detector := func(pack []byte) *detect.Detector {
		rules, err := detect.ParseRules("measurements.yaml", pack)
		if err != nil {
			t.Fatal(err)
		}
		d, err := detect.New(profile, &detect.RuleSet{Measurements: rules.Measurements})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	each, ofFlight := detector(data), detector(stripped)
	files, err := filepath.Glob("../testdata/demo/tarnholm-*")
	if err != nil || len(files) < 30 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	one, several := 0, 0
	for _, file := range files {
		recording := readFile(t, file, profile)
		flights := ofFlight.Detect(recording)
		for i, result := range each.Detect(recording) {
			for _, flight := range flights[i].Measurements {
				made := measurementsOf(result, flight.Rule.ID)
				what := fmt.Sprintf("%s, flight %d, %s: %s %v of the flight, %+v", filepath.Base(file), i+1, flight.Rule.ID, flight.Outcome, flight.Value, made)
				switch numbered := slices.DeleteFunc(slices.Clone(made), func(m detect.Measurement) bool { return m.Opportunity == 0 }); {
				case flight.Outcome == detect.NotMeasurable:
					// The recording begins or ends in the air: what was recorded counts now.
				case len(numbered) > 1:
					several++
					if !slices.ContainsFunc(made, func(m detect.Measurement) bool { return m.Outcome == flight.Outcome && m.Value == flight.Value }) {
						t.Error(what)
					}
				case len(made) != 1 || !sameMeasured(made[0], flight):
					t.Error(what)
				default:
					one++
				}
			}
		}
	}
	if one < 1000 || several < 50 {
		t.Errorf("compared %d with one opportunity, %d with several", one, several)
	}
}

// sameMeasured compares what was measured. What did not happen is possible, not
// certain, where the opportunity lies partly outside of the recording.
func sameMeasured(m, flight detect.Measurement) bool {
	return m.Outcome == flight.Outcome && m.Value == flight.Value && m.Lowest == flight.Lowest && m.Highest == flight.Highest &&
		(m.Certainty == flight.Certainty || m.Partial && m.Outcome == detect.DidNotHappen)
}

// TestOpportunityPartlyRecorded looks at a flight whose recording ends in the air on
// an approach. A value found is that of the part recorded; what did not happen in it
// may have happened after. An extension within the recording is evaluated wholly.
func TestOpportunityPartlyRecorded(t *testing.T) {
	t.Parallel()
	detector, profile := shippedDetector(t)
	result := detector.Detect(readFile(t, "../testdata/demo/tarnholm-25.arrow.zst", profile))[0]
	if approaches := result.Flight.Approaches; !result.Flight.EndsInAir || len(approaches) != 1 || approaches[0].Outcome != detect.EndsWithFlight {
		t.Fatalf("approaches %+v", result.Flight.Approaches)
	}
	for id, want := range map[string]struct {
		outcome   detect.Outcome
		certainty detect.Certainty
		coverage  detect.Coverage
	}{
		"landing-flap-height": {detect.Measured, detect.Certain, detect.PartlyEvaluated},
		"gear-down-height":    {detect.Measured, detect.Certain, detect.Evaluated},
		"extension-time":      {detect.Measured, detect.Certain, detect.Evaluated},
		"touchdown-airspeed":  {detect.NotMeasurable, detect.Certain, detect.NotEvaluable},
	} {
		m := measurementOf(t, result, id)
		if m.Outcome != want.outcome || m.Certainty != want.certainty || m.Coverage() != want.coverage {
			t.Errorf("%s: %s, %s, %s; want %v", id, m.Outcome, m.Certainty, m.Coverage(), want)
		}
		if note := strings.Join(m.Fallbacks, "; "); m.Partial != strings.Contains(note, "the recording ends in the air") {
			t.Errorf("%s: partly recorded %v, noted %q", id, m.Partial, note)
		}
	}
}

// TestChatteringLeverIsNotMeasured records a lever that flickers in flight: no report
// is filled with hundreds of extensions, and it says why.
func TestChatteringLeverIsNotMeasured(t *testing.T) {
	t.Parallel()
	_, profile := shippedDetector(t)
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	detector, err := detect.New(profile, &detect.RuleSet{Measurements: rules.Measurements})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		seconds float64
		want    int // extensions measured
	}{{796, 200}, {824, 0}} {
		r := rand.New(rand.NewPCG(1, 1))
		ground := func(at float64) float64 { return map[bool]float64{true: 1, false: 0}[at < 20 || at >= 20+c.seconds] }
		result := detector.Detect(recordingOf(1000,
			record(r, "left_strut_compressed", 0.25, 1000, 0, 0, ground), record(r, "right_strut_compressed", 0.25, 1000, 0, 0, ground),
			record(r, "computed_airspeed", 1, 1000, 1, 0, func(float64) float64 { return 180 }),
			record(r, "gear_lever", 1, 1000, 0, 0, func(at float64) float64 { // two samples of UP, two of DOWN
				if at < 20+c.seconds && int(at)%4 < 2 {
					return 0
				}
				return 2
			})))[0]
		made := measurementsOf(result, "gear-down-airspeed")
		numbered := slices.DeleteFunc(slices.Clone(made), func(m detect.Measurement) bool { return m.Opportunity == 0 })
		if len(numbered) < c.want-10 || len(numbered) > 200 || c.want == 0 && (len(made) != 1 || len(made[0].Missing) != 1 || !strings.Contains(made[0].Missing[0], "too many to be real")) {
			t.Errorf("%v s: %d extensions measured, first %+v", c.seconds, len(numbered), made[0])
		}
	}
}
