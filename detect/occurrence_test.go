package detect_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// TestOneCauseIsOneOccurrence: in the demonstration flight with gear and flap late,
// all but the alert that sounded for nothing half a minute before come of one cause,
// as its truth lists them.
func TestOneCauseIsOneOccurrence(t *testing.T) {
	t.Parallel()
	detector, profile := shippedDetector(t)
	recording, err := ingest.Read("../testdata/demo/tarnholm-31.csv.zst", profile)
	if err != nil {
		t.Fatal(err)
	}
	r := detector.Detect(recording)[0]
	if len(r.Occurrences) != 2 {
		t.Fatalf("%d occurrences, want 2", len(r.Occurrences))
	}
	var alone []string
	severities := []detect.Severity{detect.High, detect.Medium, detect.Low}
	for _, o := range r.Occurrences {
		if len(o.Events) == 1 {
			alone = append(alone, r.Events[o.Events[0]].Rule.ID)
		}
		rank := func(i int) int { return slices.Index(severities, r.Events[i].Severity) }
		if !slices.IsSortedFunc(o.Events, func(a, b int) int { return rank(a) - rank(b) }) {
			t.Errorf("the most severe event is not first: %v", o.Events)
		}
		for _, i := range o.Events {
			if r.Events[i].Occurrence != o.ID {
				t.Errorf("%s is of occurrence %s, listed in %s", r.Events[i].Rule.ID, r.Events[i].Occurrence, o.ID)
			}
		}
	}
	if !slices.Equal(alone, []string{"too-low-gear-alert-nuisance"}) {
		t.Errorf("alone are %v", alone)
	}
}

// Mistakes of a pack in causes and opportunities are said with their line.
func TestWrongCausesAndOpportunities(t *testing.T) {
	t.Parallel()
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	const head = "schema: downlock rules 1\npack: mine\nrules:\n"
	rule := func(id, more string) string {
		return "  - {id: " + id + ", title: t, meaning: m, when: airborne, basis: common practice, " + more + "}\n"
	}
	for _, c := range []struct {
		name, text string
		line       int
		cause      string
	}{
		{"an unknown cause", head + rule("a", "follows_from: [gear-lat]"), 4, `there is no rule "gear-lat" to follow from`},
		{"a circle", head + rule("a", "follows_from: [b]") + rule("b", "follows_from: [a]"), 4, `"a" follows from "b", which follows from it in turn`},
		{"itself", head + rule("a", "follows_from: [a]"), 4, `"a" follows from "a"`},
		{"an unknown opportunity", head + rule("a", "opportunity: aproach"), 4, `unknown opportunity "aproach"`},
	} {
		_, err := rules.With("mine.yaml", []byte(c.text))
		var problems schemas.Problems
		if !errors.As(err, &problems) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if p := problems[0]; p.Line != c.line || !strings.Contains(p.Cause, c.cause) {
			t.Errorf("%s: line %d: %s", c.name, p.Line, p.Cause)
		}
	}
}
