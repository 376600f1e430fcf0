package detect_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"downlock/detect"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// The simulator says when the wheels leave the ground again, and when they are back.
func TestBounceOfTheSimulator(t *testing.T) {
	t.Parallel()
	const firmTouchdown, goAround = 13, 1
	d, _ := shippedDetector(t)
	for seed := range uint64(12) {
		for row, want := range map[int]float64{firmTouchdown: 1, goAround: 0} {
			o, err := simulator.FlyOperation(row, seed)
			if err != nil {
				t.Fatal(err)
			}
			random := rand.New(rand.NewPCG(seed, 3))
			r := d.Detect(sampled{flight: o.Flight, wanted: inVocabulary(o.Flight), sampling: anyOffset(random)}.recording())[0]
			if m := measurementOf(t, r, "bounces"); m.Outcome != detect.Measured || m.Value != want || m.Lowest > want || m.Highest < want {
				t.Errorf("row %d, seed %d: %v bounces in %v to %v (%s), want %v", row, seed, m.Value, m.Lowest, m.Highest, m.Outcome, want)
			}
			hops := o.Flight.Scenario.Airborne
			for _, e := range ofRules(r.Events, []string{"bounced-landing"}) {
				if hop := hops[len(hops)-1]; !holds(e.Start, hop.LiftOff) || !holds(e.End, hop.Touchdown) || e.Certainty != detect.Certain {
					t.Errorf("row %d, seed %d: %s from %v to %v, want it certain from %v to %v", row, seed, e.Certainty, e.Start, e.End, hop.LiftOff, hop.Touchdown)
				}
			}
		}
	}
}

// None of the touchdowns of testdata/operations bounces, by the truth that was computed
// from the simulation at 120 Hz.
func TestNoBounceInTheRecordings(t *testing.T) {
	t.Parallel()
	p, err := schemas.ReadProfile("../testdata/operations/profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	d := detectorOf(t, p)
	for i := range 6 {
		for _, r := range d.Detect(readFile(t, fmt.Sprintf("../testdata/operations/op-%d.csv.gz", i+1), p)) {
			if m := measurementOf(t, r, "bounces"); m.Outcome != detect.Measured || m.Highest != 0 {
				t.Errorf("op-%d: %v bounces, at most %v (%s), want none", i+1, m.Value, m.Highest, m.Outcome)
			}
		}
	}
}
