package detect

import (
	"slices"
	"strings"
	"testing"
)

// TestGuidance holds the table of the guidance's examples and the built-in pack
// against each other, both ways.
func TestGuidance(t *testing.T) {
	set, err := LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	covered := map[string]bool{}
	for _, g := range Guidance() {
		if g.Source != "read" && g.Source != "memory" {
			t.Errorf("%s: the source is %q, want read or memory", g.Example, g.Source)
		}
		if len(g.Rules) == 0 && g.Note == "" {
			t.Errorf("%s: neither a rule nor a reason", g.Example)
		}
		for _, id := range g.Rules {
			covered[id] = true
			if set.Rule(id) == nil {
				t.Errorf("%s: there is no rule %q", g.Example, id)
			}
		}
	}
	for _, r := range set.Rules {
		if strings.Contains(r.Basis, "GM2 ORO.AOC.130") && !covered[r.ID] {
			t.Errorf("%s: its basis names the guidance and the table does not have it", r.ID)
		}
	}
}

// TestGuidanceExamples: the configuration events among the examples, as listed
// independently (the first two read in the published text, the others from
// memory), by a word each must have.
func TestGuidanceExamples(t *testing.T) {
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
