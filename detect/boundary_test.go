package detect_test

import (
	"testing"

	"downlock/detect"
	"downlock/ingest/simulator"
)

// trueEvents are the true events of one rule, over all flights of a recording.
func trueEvents(f *simulator.Flight, rule string) (out []simulator.Event) {
	for _, truth := range f.Truths() {
		for _, e := range truth.Events {
			if e.Rule == rule {
				out = append(out, e)
			}
		}
	}
	return out
}

func eventsOf(results []*detect.Result, rule string) (out []detect.Event) {
	for _, r := range results {
		for _, e := range r.Events {
			if e.Rule.ID == rule {
				out = append(out, e)
			}
		}
	}
	return out
}

// TestBoundaries flies each rule the simulator knows twice: one flight just meets
// it and one just misses it. The truth is that of functions of continuous time.
func TestBoundaries(t *testing.T) {
	t.Parallel()
	boundaries, err := simulator.Boundaries()
	if err != nil {
		t.Fatal(err)
	}
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, b := range boundaries {
		seen[b.Rule] = true
		t.Run(b.Rule, func(t *testing.T) {
			detector, err := detect.New(b.Met.Profile, rules)
			if err != nil {
				t.Fatal(err)
			}
			if want := trueEvents(b.Met, b.Rule); len(want) == 0 {
				t.Errorf("%s: the truth has no event", b.Met.Scenario.Name)
			} else {
				sameTimes(t, b.Met.Scenario.Name, want, eventsOf(detector.Detect(sampled{flight: b.Met}.recording()), b.Rule))
			}
			if want := trueEvents(b.Missed, b.Rule); len(want) > 0 {
				t.Errorf("%s: the truth has %v", b.Missed.Scenario.Name, want)
			}
			for _, e := range eventsOf(detector.Detect(sampled{flight: b.Missed}.recording()), b.Rule) {
				t.Errorf("%s: %s event at %v to %v is not true", b.Missed.Scenario.Name, e.Certainty, e.Start, e.End)
			}
		})
	}
	for _, id := range simulator.Rules() {
		if !seen[id] {
			t.Errorf("%s: the simulator lists it in Rules and has no boundary flights of it; add an onset beside those of ingest/simulator/boundaries*.go", id)
		}
	}
}

// sameTimes finds each true event among the events found, the true start and end
// within earliest and latest, and no other.
func sameTimes(t *testing.T, name string, want []simulator.Event, got []detect.Event) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d events found, %d are true: %v", name, len(got), len(want), want)
		return
	}
	for i, w := range want {
		if e := got[i]; !holds(e.Start, w.Start) || !holds(e.End, w.End) {
			t.Errorf("%s: %s event at %v to %v, truly at %.3f to %.3f", name, e.Certainty, e.Start, e.End, w.Start, w.End)
		}
	}
}
