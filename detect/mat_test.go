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
	t.Parallel()
	path := filepath.Join("..", "testdata", "mat", "circuit.mat")
	profile, err := schemas.ReadProfile(filepath.Join("..", "schemas", "profiles", "matlab-sample.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	recording, detector := readFile(t, path, profile), detectorOf(t, profile)
	results := detector.Detect(recording)
	if len(results) != 1 {
		t.Fatalf("%d flights, want 1", len(results))
	}
	f := results[0].Flight
	// Left main strut at 2 Hz: compressed at 79.5 and 415 s, extended at 80 and 414.5 s. Each
	// of these times is known to within the half second from sample to sample.
	if f.LiftOff == nil || f.LiftOff.Earliest < 79 || f.LiftOff.Latest > 81 || f.Touchdown == nil || f.Touchdown.Earliest < 414 || f.Touchdown.Latest > 415.5 {
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
			t.Fatal(errors.Join(err, errors.New("PH is not a struct with data")))
		}
		for i := range a.Fields["data"].Len() {
			phases = append(phases, int(a.Fields["data"].Number(i)))
		}
	}
	return phases
}

// The flights of testdata/mat are recorded at the rates, in the units and by the circuits
// of the sample data; limits and detents are those of the type that was flown. Their
// truth is the simulator's. Every true event of a rule that could be evaluated is found,
// its times within the bounds, and nothing besides.
func TestSampleFlightsEqualTruth(t *testing.T) {
	t.Parallel()
	const dir = "../testdata/mat/"
	truth := readDemoTruth(t, dir+"truth.json")
	profile := sampleProfile(t)
	detector := detectorOf(t, profile)
	for _, file := range truth.Files {
		t.Run(file.File, func(t *testing.T) {
			recording := readFile(t, dir+file.File, profile)
			results := detector.Detect(recording)
			if len(results) != 1 || len(file.Flights) != 1 {
				t.Fatalf("%d flights, want 1", len(results))
			}
			r, want := results[0], file.Flights[0]
			for _, c := range r.Checks {
				if c.Outcome == detect.Failed {
					t.Errorf("%s failed: %s", c.ID, c.Evidence)
				}
			}
			insideOrAbsent(t, "lift-off", want.LiftOff, r.Flight.LiftOff)
			insideOrAbsent(t, "touchdown", want.Touchdown, r.Flight.Touchdown)
			evaluated := map[string]bool{}
			for _, e := range r.Evaluations {
				evaluated[e.Rule.ID] = e.Coverage != detect.NotEvaluable
			}
			left, found := truth.among(t, want, r.Events), 0
			for _, w := range want.Events {
				if !evaluated[w.Rule] {
					t.Logf("%s is not evaluable here", w.Rule)
					continue
				}
				i := slices.IndexFunc(left, func(e detect.Event) bool {
					return e.Rule.ID == w.Rule && holds(e.Start, w.Start) && holds(e.End, w.End)
				})
				if i < 0 {
					t.Errorf("%s %.3f to %.3f not found", w.Rule, w.Start, w.End)
					continue
				}
				left = slices.Delete(left, i, i+1)
				found++
			}
			for _, e := range left {
				t.Errorf("%s %s at %v to %v is not a true event", e.Certainty, e.Rule.ID, e.Start, e.End)
			}
			if found == 0 {
				t.Error("no true event to be found")
			}
			t.Logf("%d of %d true events, all that could be evaluated", found, len(want.Events))
		})
	}
}

// sampleProfile is the profile of the sample data with the limits of the TH-120.
func sampleProfile(t testing.TB) *schemas.Profile {
	t.Helper()
	columns, err := schemas.ReadProfile(filepath.Join("..", "schemas", "profiles", "matlab-sample.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	type120, err := schemas.ShippedProfileNamed("th120")
	if err != nil {
		t.Fatal(err)
	}
	p := *type120
	p.Engines, p.Time, p.Columns, p.Long = columns.Engines, columns.Time, columns.Columns, columns.Long
	return &p
}
