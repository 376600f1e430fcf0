package detect

import (
	"slices"
	"strings"
	"testing"
)

// TestGuidance checks that each example of the guidance has built-in rules that
// exist, or a reason for having none.
func TestGuidance(t *testing.T) {
	t.Parallel()
	set, err := LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range Guidance() {
		if g.Source != "read" && g.Source != "memory" {
			t.Errorf("%s: the source is %q, want read or memory", g.Example, g.Source)
		}
		if len(g.Rules) == 0 && g.Note == "" {
			t.Errorf("%s: neither a rule nor a reason", g.Example)
		}
		for _, id := range g.Rules {
			if set.Rule(id) == nil {
				t.Errorf("%s: there is no rule %q", g.Example, id)
			}
		}
	}
}

// TestGuidanceExamples: the configuration events among the examples, as listed
// independently (the first two read in the published text, the others from
// memory), by a word each must have.
func TestGuidanceExamples(t *testing.T) {
	t.Parallel()
	words := []string{"late landing flap", "reduced-flap", "load relief", "take-off configuration warning", "early configuration change",
		"speedbrake with flap", "speedbrake on approach", "not armed", "hard", "soft", "false", "placard", "gear down speed",
		"selection up and down", "altitude"}
	examples := Guidance()
	if len(examples) != len(words) {
		t.Errorf("%d examples, want %d", len(examples), len(words))
	}
	for _, word := range words {
		if !slices.ContainsFunc(examples, func(g GuidanceExample) bool { return strings.Contains(g.Example, word) }) {
			t.Errorf("no example has %q", word)
		}
	}
	for _, g := range examples[:2] {
		if g.Source != "read" {
			t.Errorf("%s: the source is %q, want read", g.Example, g.Source)
		}
	}
}
