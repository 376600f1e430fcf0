package detect_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/schemas"
)

const (
	demoDir = "../testdata/demo/"
	x100Dir = "../testdata/x100/"
)

// withProfile detects with a profile text changed by replacing old with new
// texts, each of which must be there.
func withProfile(t *testing.T, file, text string, changes ...string) []*detect.Result {
	t.Helper()
	for i := 0; i < len(changes); i += 2 {
		if !strings.Contains(text, changes[i]) {
			t.Fatalf("the profile has no %q to change", changes[i])
		}
		text = strings.ReplaceAll(text, changes[i], changes[i+1])
	}
	p := profileOf(t, text)
	return detectorOf(t, p).Detect(readFile(t, file, p))
}

func x100Profile(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(x100Dir + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Each profile is wrong in one way; the check that must find it and the
// parameters that are then not to be trusted were written down beforehand.
func TestCrossChecksFindWrongProfiles(t *testing.T) {
	t.Parallel()
	demo := string(schemas.ShippedProfileText())
	x100 := x100Profile(t, "profile.yaml")
	struts := []string{"nose_strut_compressed", "left_strut_compressed", "right_strut_compressed"}
	down := []string{"nose_gear_down_locked", "left_gear_down_locked", "right_gear_down_locked"}
	up := []string{"nose_gear_up_locked", "left_gear_up_locked", "right_gear_up_locked"}
	const seven, one = demoDir + "tarnholm-07.csv.gz", x100Dir + "flight-1.csv.gz"
	for _, c := range []struct {
		name, file, profile string
		changes             []string
		check               string
		distrusted          []string
	}{
		{"struts inverted", seven, demo, []string{" strut, true_when: 1", " strut, true_when: 0"}, "strut-polarity", struts},
		{"one strut inverted", seven, demo, []string{"left strut, true_when: 1", "left strut, true_when: 0"}, "strut-polarity", struts[1:2]},
		{"down-locks inverted", seven, demo, []string{" down-locked, true_when: 1", " down-locked, true_when: 0"}, "down-lock-polarity", down},
		{"one down-lock inverted", seven, demo, []string{"right down-locked, true_when: 1", "right down-locked, true_when: 0"}, "down-lock-polarity", down[2:]},
		{"up-locks inverted", seven, demo, []string{" up-locked, true_when: 1", " up-locked, true_when: 0"}, "up-lock-polarity", up},
		{"lever reversed", seven, demo, []string{"states: {UP: UP,", "states: {UP: DOWN,", "DOWN: DOWN}", "DOWN: UP}"}, "lever-polarity", []string{"gear_lever"}},
		{"circuits taken for the things, struts", x100Dir + "flight-6.csv.gz", x100, nil, "strut-polarity", struts},
		{"circuits taken for the things, down-locks", x100Dir + "flight-6.csv.gz", x100, nil, "down-lock-polarity", down},
		{"things taken for circuits", one, x100Profile(t, "profile-inverted.yaml"), nil, "strut-polarity", struts},

		{"radio altitude in metres", one, x100, []string{"radio altitude, unit: ft", "radio altitude, unit: m"}, "radio-altitude", []string{"radio_altitude"}},
		{"radio altitude in metres, demo", seven, demo, []string{"radio height, unit: ft", "radio height, unit: m"}, "radio-altitude", []string{"radio_altitude"}},
		{"pressure altitude in metres", one, x100, []string{"pressure altitude, unit: ft", "pressure altitude, unit: m"}, "radio-altitude", []string{"pressure_altitude"}},
		{"pressure altitude in metres, from vertical speed", one, x100, []string{"pressure altitude, unit: ft", "pressure altitude, unit: m"}, "vertical-speed", []string{"pressure_altitude"}},
		{"vertical speed 60 times too large", one, x100, []string{", scale: 0.016666666666666666", ""}, "vertical-speed", []string{"vertical_speed"}},
		{"vertical speed in m/s", seven, demo, []string{"vertical speed, unit: ft/min", "vertical speed, unit: ft/min, scale: 0.00508"}, "vertical-speed", []string{"vertical_speed"}},
		{"vertical speed in ft/s", seven, demo, []string{"vertical speed, unit: ft/min", "vertical speed, unit: ft/min, scale: 0.016666666666666666"}, "vertical-speed", []string{"vertical_speed"}},
		{"vertical speed upside down", seven, demo, []string{"vertical speed, unit: ft/min", "vertical speed, unit: ft/min, scale: -1"}, "vertical-speed", []string{"vertical_speed"}},
		{"ceiling above the end of the range", seven, demo, []string{"radio_altitude_ceiling: 2500", "radio_altitude_ceiling: 4000"}, "radio-altitude-ceiling", []string{"radio_altitude"}},

		{"ground speed in m/s", seven, demo, []string{"ground speed, unit: kt", "ground speed, unit: m/s"}, "ground-speed", []string{"ground_speed"}},
		{"ground speed in km/h", one, x100, []string{"ground speed, unit: kt", "ground speed, unit: km/h"}, "ground-speed", []string{"ground_speed"}},
		{"airspeed in m/s", one, x100, []string{"computed airspeed, unit: kt", "computed airspeed, unit: m/s"}, "ground-speed", []string{"computed_airspeed"}},
		{"airspeed in km/h", seven, demo, []string{"{column: airspeed, unit: kt", "{column: airspeed, unit: km/h"}, "ground-speed", []string{"computed_airspeed"}},

		// 30 deg are 75 % of the 40 that are this type's travel.
		{"flap handle in per cent of the travel", seven, demo, []string{"flap handle, unit: deg", "flap handle, unit: deg, scale: 2.5"}, "flap-detents", []string{"flap_handle"}},
		{"flap angle in per cent of the travel", seven, demo, []string{"flap angle, unit: deg", "flap angle, unit: deg, scale: 2.5"}, "flap-detents", []string{"flap_angle"}},
		{"flap angle in radians", one, x100, []string{"flap angle, unit: deg", "flap angle, unit: deg, scale: 0.017453292519943295"}, "flap-handle-against-angle", []string{"flap_handle", "flap_angle"}},
		{"flap handle taken from N1", seven, demo, []string{"flap_handle: {column: flap handle", "flap_handle: {column: N1 1"}, "flap-detents", []string{"flap_handle"}},

		{"flap angle in counts", seven, demo, []string{"flap angle, unit: deg", "flap angle, unit: deg, scale: 24.4, offset: 2438"}, "plausible-range", []string{"flap_angle"}},
		{"pressure altitude not zeroed", seven, demo, []string{"pressure altitude, unit: ft", "pressure altitude, unit: ft, offset: 65536"}, "plausible-range", []string{"pressure_altitude"}},
		{"radio altitude in counts, in Arrow", demoDir + "tarnholm-05.arrow.zst", demo, []string{"radio height, unit: ft", "radio height, unit: ft, offset: 9000"}, "plausible-range", []string{"radio_altitude"}},
		{"flap handle beyond the range the profile gives", seven, demo, []string{"flap handle, unit: deg", "flap handle, unit: deg, range: [100, 200]"}, "plausible-range", []string{"flap_handle"}},

		{"throttles taken from N1", seven, demo, []string{"throttle_angle_1: {column: throttle 1, unit: deg", "throttle_angle_1: {column: N1 1, unit: deg",
			"throttle_angle_2: {column: throttle 2, unit: deg", "throttle_angle_2: {column: N1 2, unit: deg"}, "throttle-level", []string{"throttle_angle_1", "throttle_angle_2"}},
		{"throttles as fractions", seven, demo, []string{"throttle 1, unit: deg", "throttle 1, unit: deg, scale: 0.01", "throttle 2, unit: deg", "throttle 2, unit: deg, scale: 0.01"},
			"throttle-level", []string{"throttle_angle_1", "throttle_angle_2"}},
		{"N1 taken from throttles", seven, demo, []string{"engine_n1_1: {column: N1 1", "engine_n1_1: {column: throttle 1", "engine_n1_2: {column: N1 2", "engine_n1_2: {column: throttle 2"},
			"fan-speed", []string{"engine_n1_1", "engine_n1_2"}},
		{"N1 as a fraction", one, x100, []string{"N1 1, unit: \"%\"", "N1 1, unit: \"%\", scale: 0.01", "N1 2, unit: \"%\"", "N1 2, unit: \"%\", scale: 0.01"}, "fan-speed", []string{"engine_n1_1", "engine_n1_2"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			results := withProfile(t, c.file, c.profile, c.changes...)
			if len(results) != 1 {
				t.Fatalf("%d flights, want 1: the flight is to be found without what cannot be trusted", len(results))
			}
			i := slices.IndexFunc(results[0].Checks, func(k detect.Check) bool { return k.ID == c.check })
			if i < 0 {
				t.Fatalf("no check %s", c.check)
			}
			found := results[0].Checks[i]
			if found.Outcome != detect.Failed || !slices.Equal(found.Parameters, c.distrusted) || found.Evidence == "" || found.Hint == "" {
				t.Fatalf("got %+v, want it failed for %v, with evidence and hint", found, c.distrusted)
			}
			for _, k := range results[0].Checks {
				if k.Outcome == detect.Failed && k.ID != c.check && !(strings.Contains(c.name, "circuits") || strings.Contains(c.name, "pressure altitude")) {
					t.Errorf("%s failed too: %s", k.ID, k.Evidence)
				}
			}
			distrustedRules(t, results[0], c.distrusted)
		})
	}
}

// distrustedRules makes sure that every rule that requires one of the parameters
// by name is not evaluable, says why and has no event.
func distrustedRules(t *testing.T, r *detect.Result, parameters []string) {
	t.Helper()
	for _, e := range r.Evaluations {
		for _, p := range parameters {
			if !slices.Contains(e.Rule.Requires, p) || e.Coverage == detect.NoOpportunity || len(e.Missing) > 0 && strings.HasPrefix(e.Missing[0], "the type has no ") {
				continue
			}
			said := slices.ContainsFunc(e.Missing, func(m string) bool { return strings.HasPrefix(m, p+": consistency check failed: ") })
			if e.Coverage != detect.NotEvaluable || !said {
				t.Errorf("%s requires %s: %s, missing %q", e.Rule.ID, p, e.Coverage, e.Missing)
			}
		}
	}
	for _, e := range r.Events {
		for _, p := range parameters {
			if slices.Contains(e.Rule.Requires, p) {
				t.Errorf("an event of %s, which requires %s", e.Rule.ID, p)
			}
		}
	}
}

// A false alarm is worse than a miss: with the right profile nothing fails, and
// on the whole flights most checks are possible.
func TestCrossChecksPassRightProfiles(t *testing.T) {
	t.Parallel()
	shipped := string(schemas.ShippedProfileText())
	files, _ := filepath.Glob(demoDir + "tarnholm-*")
	x100, _ := filepath.Glob(x100Dir + "flight-*.csv.gz")
	if len(files) < 18 || len(x100) != 9 {
		t.Fatalf("%d demo and %d check flights", len(files), len(x100))
	}
	for _, file := range append(files, x100...) {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text := shipped
			switch {
			case strings.Contains(file, "flight-6"):
				text = x100Profile(t, "profile-inverted.yaml")
			case strings.Contains(file, "x100"):
				text = x100Profile(t, "profile.yaml")
			}
			for _, r := range withProfile(t, file, text) {
				passed := 0
				for _, c := range r.Checks {
					if c.Outcome == detect.Failed {
						t.Errorf("%s failed: %s (%s)", c.ID, c.Evidence, c.Hint)
					}
					if c.Outcome == detect.Passed {
						passed++
					}
					if c.Evidence == "" || c.Title == "" || c.Parameters == nil {
						t.Errorf("a check without evidence, title or parameters: %+v", c)
					}
				}
				if whole := r.Flight.LiftOff != nil && r.Flight.Touchdown != nil; whole && strings.Contains(file, "x100") && passed < 8 {
					t.Errorf("only %d checks passed on a whole flight", passed)
				}
			}
		})
	}
}

// The check fails at 19 samples of 20 out of range, not at 18, and not for fewer
// samples than it needs.
func TestPlausibleRange(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		dropped, kept int
		want          detect.CheckOutcome
	}{{19, 1, detect.Failed}, {18, 2, detect.Passed}, {20, 0, detect.Failed}, {19, 0, detect.NotPossible}} {
		flap := sampledEvery("flap_angle", 1, float64(c.kept-1), through(0, 10))
		flap.Dropped.Range = c.dropped
		r := recordingOf(800, append(struts(800, 100, 700), flap)...)
		if got := checkOf(t, r, "plausible-range"); got.Outcome != c.want {
			t.Errorf("%d of %d out of range: %+v, want it %s", c.dropped, c.dropped+c.kept, got, c.want)
		}
	}
}
