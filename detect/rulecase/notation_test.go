package rulecase

import (
	"strings"
	"testing"
)

// TestNotation checks that the lines of the notation are those that are read.
func TestNotation(t *testing.T) {
	t.Parallel()
	shown := map[string]bool{}
	for _, line := range strings.Split(Notation, "\n") {
		if word, _, ok := strings.Cut(strings.TrimPrefix(line, "  "), " "); ok {
			shown[word] = true
		}
	}
	for _, word := range lineWords {
		if !shown[word] {
			t.Errorf("the notation has no line %q", word)
		}
	}
}
