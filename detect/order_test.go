package detect_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"testing"

	"downlock/detect"
	"downlock/ingest/simulator"
)

// bracket is the last sample before a change and the first one that shows it.
func bracket(change float64, s simulator.Sampling) (last, first float64) {
	k := math.Ceil((change - s.Offset) * s.PerSecond)
	return s.Offset + (k-1)/s.PerSecond, s.Offset + k/s.PerSecond
}

// Whether UP was selected before the struts extended is told from the samples
// alone: surely, when UP shows no later than a strut still shows compressed;
// possibly, when the lever still shows DOWN before the last strut shows extended.
func TestLeverStrutOrderAtRates(t *testing.T) {
	t.Parallel()
	const rule, liftOff = "gear-up-before-strut-extension", 95.45
	const left, right = liftOff - 0.15, liftOff // when each main strut extends
	flight := boundaryOf(t, rule).Met
	detector, _ := shippedDetector(t)
	for _, rates := range []struct{ lever, struts simulator.Sampling }{
		{simulator.Sampling{PerSecond: 1, Offset: 0.61}, simulator.Sampling{PerSecond: 4, Offset: 0.07}},
		{simulator.Sampling{PerSecond: 0.25, Offset: 1.3}, simulator.Sampling{PerSecond: 1, Offset: 0.42}},
		{simulator.Sampling{PerSecond: 8, Offset: 0.11}, simulator.Sampling{PerSecond: 8, Offset: 0.03}},
	} {
		t.Run(fmt.Sprintf("lever %g Hz, struts %g Hz", rates.lever.PerSecond, rates.struts.PerSecond), func(t *testing.T) {
			seen := map[detect.Certainty]int{}
			for k := range 60 {
				lever := liftOff + (float64(k)-30.3)*0.13/math.Sqrt(rates.lever.PerSecond)
				last, first := bracket(lever, rates.lever)
				lastLeft, firstLeft := bracket(left, rates.struts)
				lastRight, firstRight := bracket(right, rates.struts)
				want := detect.Certainty("")
				switch {
				case first <= max(lastLeft, lastRight):
					want = detect.Certain
				case last < max(firstLeft, firstRight):
					want = detect.Possible
				}
				f := withLeverUpAt(t, flight, lever)
				found := eventsOf(detector.Detect(sampled{flight: f, sampling: func(c simulator.Channel) simulator.Sampling {
					switch c.Column {
					case "gear lever":
						return rates.lever
					case "left strut", "right strut":
						return rates.struts
					}
					return c.Sampling
				}}.recording()), rule)
				got := detect.Certainty("")
				for _, e := range found {
					got += e.Certainty
				}
				if got != want {
					t.Errorf("lever at %.3f s: %q, the samples tell %q", lever, got, want)
				}
				if lever < right && len(found) == 1 && !(holds(found[0].Start, lever) && holds(found[0].End, right)) {
					t.Errorf("lever at %.3f s: event at %v to %v", lever, found[0].Start, found[0].End)
				}
				seen[want]++
			}
			for _, kind := range []detect.Certainty{"", detect.Possible, detect.Certain} {
				if seen[kind] == 0 {
					t.Errorf("no case was %q", kind)
				}
			}
		})
	}
}

func boundaryOf(t *testing.T, rule string) simulator.Boundary {
	t.Helper()
	all, err := simulator.Boundaries()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(b simulator.Boundary) bool { return b.Rule == rule })
	if i < 0 {
		t.Fatalf("no boundary flights of %s", rule)
	}
	return all[i]
}

// withLeverUpAt is the flight with UP selected at another time.
func withLeverUpAt(t *testing.T, f *simulator.Flight, at float64) *simulator.Flight {
	t.Helper()
	s := f.Scenario
	s.Actions = slices.Clone(s.Actions)
	for i, a := range s.Actions {
		if a.Control == simulator.GearLever && a.Value == simulator.LeverUp {
			s.Actions[i].At = at
		}
	}
	slices.SortStableFunc(s.Actions, func(a, b simulator.Action) int { return cmp.Compare(a.At, b.At) })
	moved, err := simulator.New(s, f.Profile)
	if err != nil {
		t.Fatal(err)
	}
	return moved
}
