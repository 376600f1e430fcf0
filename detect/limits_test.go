package detect_test

import (
	"math"
	"path/filepath"
	"testing"

	"downlock/detect"
)

// TestLimits: the limits of a rule are those of the profile th120, where the rest of the
// rule lets them decide. The values are read off the profile by hand, the times off the
// recordings.
func TestLimits(t *testing.T) {
	t.Parallel()
	detector, profile := shippedDetector(t)
	const nothing = -1.0
	type at struct{ time, limit float64 }
	for _, c := range []struct {
		file, rule, of, name, source string
		upper, gate                  bool
		at                           []at
	}{
		// Selected down at 277.6 s, above 250 kt; on the ground, at 20 s, no limit.
		{"tarnholm-10.csv.gz", "gear-extension-speed", "computed_airspeed", "gear_extension_speed", "values of the profile", true, false,
			[]at{{20, nothing}, {277.625, 250}}},
		// Flap 5 until the surface leaves it, none with the flap in: 241.9 kt are no excess there.
		{"tarnholm-15.csv.zst", "flap-placard-speed", "computed_airspeed", "flap_placard_speed", "flap detents of the profile, by the flap set", true, false,
			[]at{{200, 225}, {230, nothing}}},
		// Mode 4A: 500 ft up to 190 kt, and the aircraft flies 139 kt.
		{"tarnholm-08.csv.gz", "too-low-gear", "radio_altitude", "too_low_gear_floor(computed_airspeed)", "table too_low_gear_floor of the profile", false, false,
			[]at{{20, nothing}, {560, 500}}},
		{"tarnholm-08.csv.gz", "too-low-gear", "radio_altitude", "too_low_gear_cut_off", "values of the profile", true, false, []at{{560, 30}}},
		{"tarnholm-08.csv.gz", "gear-late-visual", "height", "visual_stabilisation_height", "values of the profile", false, true, []at{{20, 500}, {560, 500}}},
	} {
		result := detector.Detect(readFile(t, filepath.Join("..", "testdata", "demo", c.file), profile))[0]
		var rule *detect.Rule
		for _, e := range result.Evaluations {
			if e.Rule.ID == c.rule {
				rule = e.Rule
			}
		}
		if rule == nil {
			t.Errorf("there is no rule %s", c.rule)
			continue
		}
		found := false
		for _, l := range result.Tracks.Limits(rule) {
			if l.Of != c.of || l.Name != c.name {
				continue
			}
			found = true
			if l.Source != c.source || l.Upper != c.upper || l.Gate != c.gate {
				t.Errorf("%s: %s is from %q, upper %v, gate %v", c.rule, c.name, l.Source, l.Upper, l.Gate)
			}
			for _, want := range c.at {
				got, applies := l.Curve.At(want.time)
				if applies != (want.limit != nothing) || applies && math.Abs(got-want.limit) > 1e-9 {
					t.Errorf("%s: %s at %g s is %g, applies %v; want %g", c.rule, c.name, want.time, got, applies, want.limit)
				}
			}
		}
		if !found {
			t.Errorf("%s is not held against %s", c.rule, c.name)
		}
	}
}

// TestHeightReferences: the height is measured from the aerodrome of arrival from the
// highest point on, which the height itself shows: it is highest next to the change.
func TestHeightReferences(t *testing.T) {
	t.Parallel()
	detector, profile := shippedDetector(t)
	result := detector.Detect(readFile(t, filepath.Join("..", "testdata", "demo", "tarnholm-09.csv.zst"), profile))[0]
	changes := result.Tracks.HeightReferences()
	times, values := result.Tracks.Samples("pressure_altitude", result.Flight.Span)
	highest := 0
	for i, v := range values {
		if v > values[highest] {
			highest = i
		}
	}
	if len(changes) != 1 || math.Abs(changes[0]-times[highest]) > 1 {
		t.Errorf("the reference changes at %v, the highest pressure altitude is at %g s", changes, times[highest])
	}
}
