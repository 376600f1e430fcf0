package rules

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/detect"
)

// TestLanguageOpportunities checks that the introduction names every opportunity a
// rule may have.
func TestLanguageOpportunities(t *testing.T) {
	t.Parallel()
	_, field, _ := strings.Cut(languageIntroduction, "  opportunity ")
	field, _, ok := strings.Cut(field, "\n  follows_from ")
	if !ok {
		t.Fatal("the introduction has no field opportunity")
	}
	field = strings.Join(strings.Fields(field), " ")
	for _, kind := range detect.OpportunityKinds {
		if !strings.Contains(field, string(kind)) {
			t.Errorf("the introduction does not name the opportunity %q", kind)
		}
	}
}

// TestLanguageMeasurement checks that the introduction says what a measurement
// without an opportunity is of, and how it includes more.
func TestLanguageMeasurement(t *testing.T) {
	t.Parallel()
	_, section, _ := strings.Cut(languageIntroduction, "\na measurement ")
	section, _, ok := strings.Cut(section, "\na pack\n")
	if !ok {
		t.Fatal("the introduction has no section about measurements")
	}
	for _, word := range []string{"flight (default)", detect.IncludingBefore + ":", detect.IncludingAfter + ":", "around"} {
		if !strings.Contains(section, word) {
			t.Errorf("the section about measurements does not say %q", word)
		}
	}
}

// TestLanguageExample loads the pack shown at the end of the introduction.
func TestLanguageExample(t *testing.T) {
	t.Parallel()
	_, pack, ok := strings.Cut(languageIntroduction, "\na pack\n")
	if !ok {
		t.Fatal("no pack in the introduction")
	}
	file := filepath.Join(t.TempDir(), "example.yaml")
	if err := os.WriteFile(file, []byte(pack), 0o666); err != nil {
		t.Fatal(err)
	}
	set, err := detect.LoadRules(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"speedbrake-with-gear", "flap-selected-high"} {
		if r := set.Rule(id); r == nil || r.Origin() != "approach limits" {
			t.Errorf("no rule %s of the pack", id)
		}
	}
	if got := set.Rule("gear-extension-speed").Origin(); got != "built-in, changed by approach limits" {
		t.Errorf("gear-extension-speed: got %q", got)
	}
}
