package detect_test

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"downlock/detect"
	"downlock/ingest/matlab"
	"downlock/schemas"
)

// recordedPhases maps the flight phase that NASA's sample flight data records
// (PH, meanings read in its dictionary) to the phases of the CAST/ICAO taxonomy
// it spans.
var recordedPhases = map[int][]detect.Phase{
	2: {detect.Taxi, detect.Standing},
	3: {detect.TakeOff},
	4: {detect.InitialClimb, detect.EnRoute},
	5: {detect.EnRoute},
	6: {detect.ApproachPhase, detect.Landing},
	7: {detect.Landing},
}

// phaseBlur is how many seconds either side of a change the two definitions may
// differ: PH changes with thrust, speed and flap, ours with height and speed.
const phaseBlur = 5

// The circuit was written by SciPy with the phases of its story; ours are found
// from its other parameters.
func TestPhasesAgreeWithTheRecordedOnes(t *testing.T) {
	path := filepath.Join("..", "testdata", "mat", "circuit.mat")
	profile, err := schemas.ReadProfile(filepath.Join("..", "schemas", "profiles", "nasa-sample.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	recording, detector := readFile(t, path, profile), detectorOf(t, profile)
	results := detector.Detect(recording)
	if len(results) != 1 {
		t.Fatalf("%d flights, want 1", len(results))
	}
	f := results[0].Flight
	// Left main strut at 4 Hz: compressed at 79.75 and 415 s, extended at 80 and 414.75 s.
	if f.LiftOff == nil || f.LiftOff.Earliest < 79.75 || f.LiftOff.Latest > 80.5 || f.Touchdown == nil || f.Touchdown.Earliest < 414.75 || f.Touchdown.Latest > 415 {
		t.Errorf("lift-off %+v, touchdown %+v; want them at 80 and 415 s", f.LiftOff, f.Touchdown)
	}
	ph := recordedPhase(t, path)
	if len(ph) != 500 {
		t.Fatalf("%d samples of PH, want 500", len(ph))
	}
	compared := map[int]int{}
	for _, p := range f.Phases {
		for at := math.Ceil(p.Span.Start); at < p.Span.End && int(at) < len(ph); at++ {
			want := ph[int(at)]
			if !steady(ph, int(at)) {
				continue
			}
			compared[want]++
			if !slices.Contains(recordedPhases[want], p.Phase) {
				t.Errorf("%s at %v s, where phase %d is recorded", p.Phase, at, want)
			}
		}
	}
	for phase := range recordedPhases {
		if compared[phase] < 10 {
			t.Errorf("phase %d was compared at %d samples only", phase, compared[phase])
		}
	}
}

// steady reports whether the recorded phase stays the same for phaseBlur seconds
// either side of a sample, at 1 Hz.
func steady(ph []int, at int) bool {
	for i := max(at-phaseBlur, 0); i <= min(at+phaseBlur, len(ph)-1); i++ {
		if ph[i] != ph[at] {
			return false
		}
	}
	return true
}

func recordedPhase(t *testing.T, path string) (phases []int) {
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	file, err := matlab.Open(content, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	for v, err := range file.Variables() {
		if err != nil {
			t.Fatal(err)
		}
		if v.Name != "PH" {
			continue
		}
		a, err := v.Array()
		if err != nil || a.Fields["data"] == nil {
			t.Fatal(errors.Join(err, errors.New("PH is no struct with data")))
		}
		for i := range a.Fields["data"].Len() {
			phases = append(phases, int(a.Fields["data"].Number(i)))
		}
	}
	return phases
}
