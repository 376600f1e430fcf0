package rulecase_test

import (
	"errors"
	"strings"
	"testing"

	"downlock/detect/rulecase"
	"downlock/schemas"
)

// touchdownCase is a case that holds: the gear is never locked, and the first
// strut is seen compressed at 80.
const touchdownCase = `-- gear up landing --
why the gear is never locked
flight 0..100 airborne 20..80
series gear_down_locked every 1 from 0: 0*101
series gear_lever every 1 from 0: DOWN*101
event gear-not-locked-at-touchdown certain high at 80 in 79.75..80
none gear-up-before-strut-extension
evaluation gear-up-before-strut-extension evaluated
evaluation gear-extended-speed not evaluable because computed_airspeed
`

func runOne(t *testing.T, text string) ([]string, error) {
	t.Helper()
	cases, err := rulecase.Parse("one.txt", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	profile, rules := shipped(t)
	return cases[0].Run(profile, rules)
}

// TestWrongExpectationFails changes one thing at a time in a case that holds.
func TestWrongExpectationFails(t *testing.T) {
	t.Parallel()
	if differences, err := runOne(t, touchdownCase); err != nil || len(differences) > 0 {
		t.Fatalf("the case itself fails: %v %v", differences, err)
	}
	for _, c := range []struct{ name, from, to, says string }{
		{"certainty", "certain high", "possible high", "expected: possible"},
		{"severity", "certain high", "certain low", "expected: certain low"},
		{"nominal time", "at 80 in", "at 79.9 in", "79.900"},
		{"earliest", "79.75..80", "79.74..80", "79.740"},
		{"latest", "79.75..80", "79.75..80.01", "80.010"},
		{"span in place of a moment", "at 80 in 79.75..80", "start 80 in 79.75..80 end 80 in 79.75..80", "start 80.000"},
		{"an event that is not there", "none gear-up-before-strut-extension", "event gear-up-before-strut-extension certain start 5 in 4..5 end 6 in 5..6", "found:    no event"},
		{"no event where there is one", "event gear-not-locked-at-touchdown certain high at 80 in 79.75..80", "none gear-not-locked-at-touchdown", "expected: no event"},
		{"coverage", "strut-extension evaluated", "strut-extension not evaluable", "expected: not evaluable"},
		{"reason", "because computed_airspeed", "because mach", "expected because: mach"},
		{"unknown seconds", "evaluation gear-up-before-strut-extension evaluated", "partly gear-up-before-strut-extension 5", "expected: partly evaluated"},
		{"no flight", "airborne 20..80", "airborne 20..22", "no flight found"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(touchdownCase, c.from, c.to, 1)
			if text == touchdownCase {
				t.Fatalf("%q is not in the case", c.from)
			}
			differences, err := runOne(t, text)
			if err != nil {
				t.Fatal(err)
			}
			if all := strings.Join(differences, "\n"); !strings.Contains(all, c.says) {
				t.Errorf("differences %q do not say %q", all, c.says)
			}
		})
	}
}

// twiceCase is a case that holds: DOWN at 30 and 60, locked at 38 and 70.
const twiceCase = `-- twice --
why the gear is extended twice
flight 0..100 airborne 20..80
series gear_lever every 1 from 0: DOWN*25 UP*5 DOWN*15 UP*15 DOWN*41
series gear_down_locked every 1 from 0: 1*26 0*12 1*8 0*24 1*31
measure extension-time of 1 certain 8 in 7..9
measure extension-time of 2 certain 10 in 9..11
measure lever-movements certain 4 in 4..4
`

// TestMeasurementOfWhichOpportunity expects the values of another opportunity, or
// of one that there is not.
func TestMeasurementOfWhichOpportunity(t *testing.T) {
	t.Parallel()
	if differences, err := runOne(t, twiceCase); err != nil || len(differences) > 0 {
		t.Fatalf("the case itself fails: %v %v", differences, err)
	}
	for _, c := range []struct{ from, to, says string }{
		{"of 1 certain 8 in 7..9", "of 1 certain 10 in 9..11", "found:    of 1 certain 8.000 in 7.000..9.000"},
		{"of 2 certain", "of 1 certain", "expected: of 1 certain 10.000"},
		{"of 2 certain", "of 3 certain", "found:    none"},
		{"of 2 certain", "of 0 certain", "found:    none"},
		{"extension-time of 2 certain", "extension-time certain", "of 1 certain 8.000 in 7.000..9.000\n            of 2 certain 10.000"},
		{"lever-movements certain", "lever-movements of 1 certain", "found:    none"},
	} {
		differences, err := runOne(t, strings.Replace(twiceCase, c.from, c.to, 1))
		if err != nil {
			t.Fatal(err)
		}
		if all := strings.Join(differences, "\n"); !strings.Contains(all, c.says) {
			t.Errorf("%s: differences %q do not say %q", c.to, all, c.says)
		}
	}
}

func TestUnknownRuleIsAnError(t *testing.T) {
	t.Parallel()
	_, err := runOne(t, "-- a --\nflight 0..100 airborne 20..80\nnone gear-upp\n")
	if err == nil || !strings.Contains(err.Error(), `unknown rule "gear-upp"`) {
		t.Errorf("got %v", err)
	}
}

func TestBrokenProfileAndRulesAreErrors(t *testing.T) {
	t.Parallel()
	for _, member := range []string{"profile.yaml", "rules.yaml"} {
		_, err := runOne(t, "-- "+member+" --\nnonsense: 1\n-- a --\nflight 0..100 airborne 20..80\nnone gear-late\n")
		var p *schemas.Problem
		if !errors.As(err, &p) || p.Position() != "one.txt:2:1" || !strings.Contains(p.Cause, "nonsense") {
			t.Errorf("%s: got %v", member, err)
		}
	}
}

// TestProblemsOfMembers checks that a mistake in a pack inside a case file is shown
// at its line of the case file, counted by hand.
func TestProblemsOfMembers(t *testing.T) {
	t.Parallel()
	text := `About something,
in two lines.
-- rules.yaml --
schema: downlock rules 1
pack: mine
rules:
  - id: mine
    title: t
    meaning: m
    basis: common practice
    when: on_ground and gear_levr == "UP"
-- a --
flight 0..100 airborne 20..80
none mine
`
	_, err := runOne(t, text)
	var p *schemas.Problem
	if !errors.As(err, &p) || p.Position() != "one.txt:11:25" || p.Hint != "did you mean gear_lever?" {
		t.Errorf("got %#v", p)
	}
}

func TestSuggestions(t *testing.T) {
	t.Parallel()
	for wrong, hint := range map[string]string{
		"evnt gear-late certain at 5 in 4..5":       "did you mean event?",
		"value unlock_tme 4":                        "did you mean unlock_time?",
		"series gear_leverr every 1 from 0: UP*101": "did you mean gear_lever?",
		"none gear-lat":                             "did you mean gear-late?",
	} {
		cases, err := rulecase.Parse("one.txt", []byte("-- a --\nflight 0..100 airborne 20..80\n"+wrong+"\n"))
		if err == nil {
			profile, rules := shipped(t)
			_, err = cases[0].Run(profile, rules)
		}
		var p *schemas.Problem
		if !errors.As(err, &p) || p.Position() != "one.txt:3" || p.Hint != hint {
			t.Errorf("%s: got %#v", wrong, p)
		}
	}
}

// TestParseErrors reads files with one mistake each. The line is counted by hand.
func TestParseErrors(t *testing.T) {
	t.Parallel()
	const flight = "-- a --\nflight 0..100 airborne 20..80\n"
	for _, c := range []struct {
		name, text string
		line       int
		says       string
	}{
		{"empty file", "", 0, "has no case"},
		{"comment alone", "about something\n", 0, "has no case"},
		{"no flight line", "-- a --\nnone gear-late\n", 3, "no flight line"},
		{"flight runs backward", "-- a --\nflight 100..0 airborne 20..80\n", 3, "no flight line"},
		{"flight without airborne", "-- a --\nflight 0..100\n", 2, "write flight"},
		{"flight with a bad range", "-- a --\nflight 0-100 airborne 20..80\n", 2, "is not a range"},
		{"flight without end", "-- a --\nflight 0..Inf airborne 20..80\n", 2, "is not a number"},
		{"flight of more than two hours", "-- a --\nflight 0..7201 airborne 20..80\n", 2, "longer than 7200 s"},
		{"flight with a bad number", "-- a --\nflight 0..x airborne 20..80\n", 2, "is not a number"},
		{"unknown word", flight + "events x\n", 3, `unknown line "events"`},
		{"value without number", flight + "value unlock_time\n", 3, "value needs"},
		{"value with text", flight + "value unlock_time four\n", 3, "is not a number"},
		{"series without colon", flight + "series gear_lever every 1 from 0 UP\n", 3, "write series"},
		{"unknown parameter", flight + "series gear_leverr every 1 from 0: UP\n", 3, `unknown parameter "gear_leverr"`},
		{"unknown setting", flight + "series gear_lever each 1 from 0: UP\n", 3, "each 1"},
		{"interval zero", flight + "series gear_lever every 0 from 0: UP\n", 3, "above 0"},
		{"interval missing", flight + "series gear_lever gap 1 from 0: UP\n", 3, "above 0"},
		{"unknown state", flight + "series gear_lever every 1 from 0: UP HALF\n", 3, `no state "HALF"`},
		{"discrete of two", flight + "series gear_horn every 1 from 0: 0 2\n", 3, "write 0 or 1"},
		{"number that is none", flight + "series radio_altitude every 1 from 0: 10 ft\n", 3, "is not a number"},
		{"repeat of zero", flight + "series gear_horn every 1 from 0: 0*0\n", 3, "VALUE*COUNT"},
		{"repeat without end", flight + "series gear_horn every 1 from 0: 0*99999999\n", 3, "VALUE*COUNT"},
		{"ramp of one step", flight + "series radio_altitude every 1 from 0: 0..10/1\n", 3, "FIRST..LAST/COUNT"},
		{"too many samples", flight + "series gear_horn every 1 from 0: 0*28800 0\n", 3, "more than 28800"},
		{"event too short", flight + "event gear-late certain\n", 3, "write event"},
		{"event with half a time", flight + "event gear-late certain start 1 in 1..2 end 3\n", 3, "write event"},
		{"event without in", flight + "event gear-late certain at 5 of 4..5\n", 3, "write T in A..B"},
		{"event with a bad time", flight + "event gear-late certain at x in 4..5\n", 3, "is not a number"},
		{"measurement of a word", flight + "measure gear-down-height of all did not happen\n", 3, "not a number of an opportunity"},
		{"measurement of a negative number", flight + "measure gear-down-height of -1 did not happen\n", 3, "not a number of an opportunity"},
		{"measurement of nothing", flight + "measure gear-down-height of 1\n", 3, "write measure"},
		{"partly without seconds", flight + "partly gear-late\n", 3, "is not a number"},
		{"second case, after a comment of two lines", "one\ntwo\n" + flight + "-- b --\nflight 0..100 airborne 20..80\nvalue x\n", 7, "value needs"},
		{"after a member", "-- rules.yaml --\npack: x\n" + flight + "value x\n", 5, "value needs"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := rulecase.Parse("bad.txt", []byte(c.text))
			var p *schemas.Problem
			if !errors.As(err, &p) {
				t.Fatalf("got %v, want a problem", err)
			}
			if p.File != "bad.txt" || p.Line != c.line || !strings.Contains(p.Cause, c.says) || p.Hint == "" {
				t.Errorf("got %s (hint %q), want line %d and %q", p, p.Hint, c.line, c.says)
			}
		})
	}
}

func TestSamplesAtTheLimit(t *testing.T) {
	t.Parallel()
	_, err := rulecase.Parse("a.txt", []byte("-- a --\nflight 0..100 airborne 20..80\nseries gear_horn every 1 from 0: 0*28800\n"))
	if err != nil {
		t.Errorf("an hour at 8 Hz: %v", err)
	}
}

// TestWordsNotKnown checks that a certainty, severity or coverage that does not
// exist is refused when read. It would never be found.
func TestWordsNotKnown(t *testing.T) {
	t.Parallel()
	for _, line := range []string{
		"event gear-late sure at 5 in 4..5",
		"event gear-late certain grave at 5 in 4..5",
		"evaluation gear-late done",
	} {
		if _, err := rulecase.Parse("a.txt", []byte("-- a --\nflight 0..100 airborne 20..80\n"+line+"\n")); err == nil {
			t.Errorf("%q is read", line)
		}
	}
}

func FuzzParseCase(f *testing.F) {
	f.Add(touchdownCase)
	f.Add("-- a --\nflight 0..1e9 airborne 0..1\nseries radio_altitude every 1e-9 from 0: 1..2/9 -*3\n")
	f.Add("-- a --\nflight 0..NaN airborne Inf..-Inf\nvalue x NaN\nevent a b at NaN in NaN..NaN\n")
	f.Fuzz(func(t *testing.T, text string) {
		cases, err := rulecase.Parse("f.txt", []byte(text))
		var p *schemas.Problem
		if err != nil && !errors.As(err, &p) {
			t.Errorf("not a problem: %v", err)
		}
		if err == nil && len(cases) == 0 {
			t.Error("no case and no error")
		}
	})
}
