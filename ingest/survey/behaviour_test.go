package survey

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/schemas"
)

// nameless replaces the names of a survey's columns and returns the former name of
// each.
func nameless(s *Survey) map[string]string {
	was := map[string]string{}
	for i := range s.Columns {
		name := fmt.Sprintf("P%d", i+1)
		was[name] = s.Columns[i].Name
		s.Columns[i].Name = name
	}
	return was
}

// With every name removed, each guess by behaviour alone must agree with the profile
// written by hand and must never be more than a guess. The columns that tell a flight
// must be found on every whole flight.
func TestNamelessColumns(t *testing.T) {
	t.Parallel()
	right, err := schemas.ReadProfile(x100Dir + "profile.yaml")
	if err != nil {
		t.Fatal(err)
	}
	shipped, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	x100, _ := filepath.Glob(x100Dir + "flight-*.csv.gz")
	demo, _ := filepath.Glob(demoDir + "tarnholm-*.csv.*")
	if len(x100) != 9 || len(demo) < 18 {
		t.Fatalf("%d check and %d demo flights", len(x100), len(demo))
	}
	found := map[string]int{}
	for _, file := range append(x100, demo...) {
		p := right
		if slices.Contains(demo, file) {
			p = shipped
		}
		s := surveyFile(t, file)
		was := nameless(s)
		for _, one := range s.Suggest() {
			name := was[one.Column]
			if one.Confidence != Doubtful || len(one.Decide) == 0 || len(one.Evidence) == 0 {
				t.Errorf("%s: %s from a column without a name: %s, %q, to decide %q", filepath.Base(file), one.Parameter, one.Confidence, one.Evidence, one.Decide)
			}
			if one.Parameter == "weight_on_wheels" {
				// On two flights the lock releases early, so it changes with the
				// flight too.
				if !strings.Contains(name, "strut") && name != "lever lock released" {
					t.Errorf("%s: %q is taken for weight on wheels: %q", filepath.Base(file), name, one.Evidence)
				}
			} else if sources := columnsOf(t, p, one.Parameter); !slices.Contains(sources, name) {
				t.Errorf("%s: %s is guessed from %q, by hand from %q: %q", filepath.Base(file), one.Parameter, name, sources, one.Evidence)
			}
			if strings.Contains(file, "x100") {
				found[one.Parameter]++
			}
		}
		if text, err := s.Draft(s.Suggest()); err == nil && !strings.Contains(text, "no column's name says what it is") {
			t.Errorf("%s: the draft does not say that all is guessed", file)
		}
	}
	t.Log(found)
	for _, parameter := range []string{"computed_airspeed", "ground_speed", "pressure_altitude", "radio_altitude", "vertical_speed", "gear_lever", "weight_on_wheels"} {
		if found[parameter] < 8 {
			t.Errorf("%s is guessed on %d of 9 check flights", parameter, found[parameter])
		}
	}
}

// The behaviour of a column is described in a line, with the figures of the text.
func TestDescribed(t *testing.T) {
	t.Parallel()
	s := surveyText(t, "time,a,b,c,d,e\n0,0,UP,5,,1\n1,0,DN,5,,2\n2,0,DN,5,,3\n3,1,UP,5,,4\n4,1,DN,5,,5\n5,0,UP,5,,6\n6,0,DN,5,,7\n")
	for column, want := range map[string]string{
		"a": "0, 1 from 3 s, 0 from 5 s", "b": "UP, DN from 1 s, UP from 3 s, DN from 4 s, UP from 5 s, 1 more changes",
		"c": "5 throughout", "d": "no value", "e": "7 values: 1 2 3 4 5 6 7",
	} {
		if got := s.Column(column).described(); got != want {
			t.Errorf("%s: %q, want %q", column, got, want)
		}
	}
}
