package language

import "testing"

// TestNearest: the nearest name by letters, and by words where no name is near.
func TestNearest(t *testing.T) {
	known := []string{"airborne", "height", "radio_altitude", "pressure_altitude", "computed_airspeed", "ground_speed", "gear_extension_speed",
		"throttle_retarded_1", "any_throttle_retarded", "throttle_angle_1", "flap_handle", "gear_lever", "strut_left", "strut_right", "lasting", "landing_weight", "radio_altitude_ceiling", "flap_angle"}
	for written, want := range map[string]string{
		"radio_height":        "did you mean radio_altitude?",
		"throttles_idle":      "did you mean one of any_throttle_retarded, throttle_retarded_1?",
		"squat_left":          "did you mean strut_left?",
		"flap_position":       "did you mean flap_angle?",
		"ias":                 "did you mean computed_airspeed?",
		"radio_altitud":       "did you mean radio_altitude?",
		"undercarriage_lever": "did you mean gear_lever?",
		"colour":              "",
		"wheel_colour":        "",
	} {
		if got := nearest(written, known); got != want {
			t.Errorf("%s: %q, want %q", written, got, want)
		}
	}
	for _, c := range []struct {
		written, want string
		known         []string
	}{
		// One name of the same words comes before landing_weight, which is 5 letters away.
		{"radio_height", "did you mean radio_altitude?", []string{"landing_weight", "radio_altitude"}},
		// One word of two is not most of them.
		{"strut_temperature", "", []string{"strut_left", "strut_right"}},
		{"squat", "did you mean one of strut_centre, strut_left, strut_nose?", []string{"strut_right", "strut_nose", "strut_left", "strut_centre"}},
		// A word that is written twice counts once.
		{"alt_altitude", "did you mean one of pressure_altitude, radio_altitude?", []string{"radio_altitude", "pressure_altitude"}},
		{"alt__", "did you mean one of pressure_altitude, radio_altitude?", []string{"radio_altitude", "pressure_altitude"}},
	} {
		if got := nearest(c.written, c.known); got != c.want {
			t.Errorf("%s of %q: %q, want %q", c.written, c.known, got, c.want)
		}
	}
}
