package detect_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

// TestBadPacks reads the packs of testdata/packs. Each begins with the problem to be
// said about it, worked out by hand: # want LINE:COLUMN CAUSE | HINT.
func TestBadPacks(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("testdata/packs/*.yaml")
	if err != nil || len(files) < 25 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			_, err = detect.LoadRules(file)
			var problems schemas.Problems
			if !errors.As(err, &problems) {
				t.Fatalf("got %v", err)
			}
			wants := wanted(string(data))
			if len(wants) != len(problems) {
				t.Fatalf("%d problems, want %d:\n%v", len(problems), len(wants), problems)
			}
			for _, w := range wants {
				if !w.among(problems) {
					t.Errorf("not said: %+v, but\n%s", w, details(problems))
				}
			}
			for _, p := range problems {
				if p.File != file || p.Source == "" {
					t.Errorf("%s: file %q, source line %q", p, p.File, p.Source)
				}
			}
		})
	}
}

type wantedProblem struct{ position, cause, hint string }

func wanted(text string) (wants []wantedProblem) {
	for _, line := range strings.Split(text, "\n") {
		if rest, ok := strings.CutPrefix(line, "# want "); ok {
			position, rest, _ := strings.Cut(rest, " ")
			cause, hint, _ := strings.Cut(rest, "|")
			wants = append(wants, wantedProblem{position, strings.TrimSpace(cause), strings.TrimSpace(hint)})
		}
	}
	return wants
}

func (w wantedProblem) among(problems schemas.Problems) bool {
	for _, p := range problems {
		if fmt.Sprintf("%d:%d", p.Line, p.Column) == w.position && strings.Contains(p.Cause, w.cause) && strings.Contains(p.Hint, w.hint) {
			return true
		}
	}
	return false
}

func details(problems schemas.Problems) string {
	var lines []string
	for _, p := range problems {
		lines = append(lines, p.Detail())
	}
	return strings.Join(lines, "\n")
}

// userPack changes one rule, adds one and switches one off.
const userPack = `schema: downlock rules 1
pack: ours
rules:
  - id: gear-extension-speed
    severity: {by: excess, low: 0, medium: 2, high: 4}
  - id: long-horn
    title: Long horn
    meaning: The horn sounds for 10 s.
    when: gear_horn
    at_least: 10
    basis: common practice
  - id: gear-late
    off: true
`

func TestUserPack(t *testing.T) {
	t.Parallel()
	builtin, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	before := len(builtin.Rules)
	set, err := builtin.With("ours.yaml", []byte(userPack))
	if err != nil {
		t.Fatal(err)
	}
	changed, was := set.Rule("gear-extension-speed"), builtin.Rule("gear-extension-speed")
	if changed.Severity.Medium != 2 || changed.Severity.High != 4 || changed.Pack != "ours" {
		t.Errorf("changed rule: %+v", changed)
	}
	if changed.When != was.When || changed.Title != was.Title || changed.AlsoPossible != was.AlsoPossible || len(changed.Measures) != len(was.Measures) {
		t.Error("what the pack does not give is not kept")
	}
	added := set.Rule("long-horn")
	if added == nil || added.AtLeast != 10 || added.MergeGap != 3 || added.Severity.Always != detect.Low || added.Group != "Other" {
		t.Errorf("added rule: %+v", added)
	}
	if set.Rule("gear-late") != nil || set.Rule("gear-late-visual") == nil || len(set.Rules) != before {
		t.Errorf("%d rules, want one more and one fewer than %d", len(set.Rules), before)
	}
	if builtin.Rule("gear-late") == nil || was.Severity.Medium != 5 || len(builtin.Rules) != before {
		t.Error("the set below was changed")
	}
	if n := len(builtin.Packs); len(set.Packs) != n+1 || set.Packs[n].Name != "ours" || len(set.Packs[n].SHA256) != 64 {
		t.Errorf("packs: %+v", set.Packs)
	}
}

func TestPackAlone(t *testing.T) {
	t.Parallel()
	alone := strings.Replace(userPack, "  - id: gear-late\n    off: true\n", "", 1)
	alone = strings.Replace(alone, "  - id: gear-extension-speed\n    severity: {by: excess, low: 0, medium: 2, high: 4}\n", "", 1)
	set, err := detect.ParseRules("alone.yaml", []byte(alone))
	if err != nil {
		t.Fatal(err)
	}
	if ids := set.IDs(); len(ids) != 1 || ids[0] != "long-horn" {
		t.Errorf("rules %v", ids)
	}
	if _, err := detect.LoadRules("testdata/packs/no-such-file.yaml"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
}

// TestEveryBuiltinRuleSaysWhy: a basis and a meaning, and names that exist.
func TestEveryBuiltinRuleSaysWhy(t *testing.T) {
	t.Parallel()
	set, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range set.Rules {
		if r.Basis == "" || !strings.HasSuffix(r.Meaning, ".") || r.Group == "Other" || r.Pack == "" || len(r.Requires) == 0 {
			t.Errorf("%s: %+v", r.ID, r)
		}
	}
}

// TestCriteriaAreSaidOnce: what is for a criterion of the profile to say stands in no
// built-in rule, else a type with criteria of its own has two that differ.
func TestCriteriaAreSaidOnce(t *testing.T) {
	t.Parallel()
	set, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range set.Rules {
		for _, name := range r.Requires {
			switch name {
			case "any_throttle_retarded", "all_throttles_retarded", "too_low_gear_floor", "too_low_gear_cut_off", "too_low_gear_arming_time",
				"too_low_flaps_floor", "too_low_flaps_cut_off", "ground_proximity_arming_height", "ground_proximity_disarming_height":
				t.Errorf("%s reads %s: a criterion of the profile says when the warning is required", r.ID, name)
			}
		}
	}
}

func FuzzParseRules(f *testing.F) {
	f.Add([]byte(userPack))
	files, _ := filepath.Glob("testdata/packs/*.yaml")
	for _, file := range files {
		if data, err := os.ReadFile(file); err == nil {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		_, err := detect.ParseRules("fuzz.yaml", data)
		var problems schemas.Problems
		if err != nil && (!errors.As(err, &problems) || len(problems) == 0) {
			t.Errorf("not problems: %v", err)
		}
	})
}

// TestCitations: of the guidance two examples were read, late landing flap and
// reduced-flap landing, and 14 CFR 121.289 was not: the others say that they are from
// memory. What warns of which configuration: 14 CFR 25.703(a)(1) flaps and leading-edge
// devices, (a)(2) speed brakes, spoilers and trim (read); the parking brake is in CS-25
// alone (from memory).
func TestCitations(t *testing.T) {
	t.Parallel()
	set, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	fromMemory := regexp.MustCompile(`from memory\)$`)
	for _, r := range set.Rules {
		switch _, example, isGuidance := strings.Cut(r.Basis, "GM2 ORO.AOC.130"); {
		case strings.Contains(example, "late landing flap"), strings.Contains(example, "reduced-flap landing"):
		case isGuidance && !fromMemory.MatchString(example), strings.Contains(r.Basis, "121.289") && !fromMemory.MatchString(r.Basis):
			t.Errorf("%s: %q is not said to be from memory", r.ID, r.Basis)
		}
	}
	for id, paragraph := range map[string]string{
		"takeoff-flap": "14 CFR 25.703(a)(1)", "takeoff-slats": "14 CFR 25.703(a)(1)", "takeoff-speedbrake": "14 CFR 25.703(a)(2)",
		"takeoff-trim": "14 CFR 25.703(a)(2)", "takeoff-parking-brake": "CS 25.703(a)(3) (from memory)",
		"lever-position-disagree": "14 CFR 25.729(e)(7)", "lever-lock-released-early": "14 CFR 25.729(b)",
	} {
		if !strings.Contains(set.Rule(id).Basis, paragraph) {
			t.Errorf("%s: %q does not name %s", id, set.Rule(id).Basis, paragraph)
		}
	}
}
