package rulecase_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/detect/rulecase"
	"downlock/schemas"
)

// fewestCases keeps a renamed folder from passing as success.
const fewestCases = 70

func shipped(t *testing.T) (*schemas.Profile, *detect.RuleSet) {
	t.Helper()
	profile, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	return profile, rules
}

// TestCases runs every case of the files in testdata/cases. The expected events
// were worked out by hand from the samples.
func TestCases(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../testdata/cases/*.txt")
	if err != nil {
		t.Fatal(err)
	}
	profile, rules := shipped(t)
	ran := 0
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		cases, err := rulecase.Parse(filepath.Base(file), data)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		for _, c := range cases {
			ran++
			t.Run(strings.TrimSuffix(c.File, ".txt")+"/"+c.Name, func(t *testing.T) {
				if c.Why == "" {
					t.Error("no why line")
				}
				differences, err := c.Run(profile, rules)
				if err != nil {
					t.Fatal(err)
				}
				for _, d := range differences {
					t.Error(d)
				}
			})
		}
	}
	if ran < fewestCases {
		t.Errorf("only %d cases were run, want at least %d", ran, fewestCases)
	}
}

// TestEveryRuleHasCases checks that each built-in rule has a case in which it
// finds an event and one in which it finds none.
func TestEveryRuleHasCases(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../testdata/cases/*.txt")
	if err != nil {
		t.Fatal(err)
	}
	found, none := map[string]bool{}, map[string]bool{}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		cases, err := rulecase.Parse(filepath.Base(file), data)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cases {
			for _, e := range c.Events {
				found[e.Rule] = true
			}
			for _, rule := range c.None {
				none[rule] = true
			}
		}
	}
	_, rules := shipped(t)
	for _, r := range rules.Rules {
		var lines []string
		if !found[r.ID] {
			lines = append(lines, "one with a line \"event "+r.ID+" ...\" in which it finds an event")
		}
		if !none[r.ID] {
			lines = append(lines, "one with a line \"none "+r.ID+"\" in which it just finds none")
		}
		if len(lines) > 0 {
			t.Errorf("rule %s lacks cases: add to a file of detect/testdata/cases %s; `downlock rules --language` shows how a case is written",
				r.ID, strings.Join(lines, " and "))
		}
	}
}
