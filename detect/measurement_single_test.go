package detect_test

import (
	"fmt"
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
