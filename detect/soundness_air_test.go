package detect_test

import (
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/ingest"
)

// checkOf detects one flight and returns a consistency check in it.
func checkOf(t *testing.T, r *ingest.Recording, id string) detect.Check {
	t.Helper()
	results := detected(t, r)
	if len(results) != 1 {
		t.Fatalf("%d flights, want 1", len(results))
	}
	i := slices.IndexFunc(results[0].Checks, func(c detect.Check) bool { return c.ID == id })
	if i < 0 {
		t.Fatalf("no check %s", id)
	}
	return results[0].Checks[i]
}

// At 36000 ft in the standard atmosphere 250 kt of computed airspeed are some
// 440 kt of true airspeed (sea level density over that at 36000 ft is 3.37 by the
// tables of ISO 2533, its root 1.83, less the effect of compressibility). With the
// columns exchanged the "ground speed" is 250/440 = 0.568 of the "airspeed".
func TestSwappedSpeeds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name        string
		air, ground float64
		want        detect.CheckOutcome
		says        string
	}{
		{"as they are", 250, 440, detect.Passed, "1.76 times"},
		{"headwind of 150 kt", 250, 290, detect.Passed, "1.16 times"},
		{"exchanged", 440, 250, detect.Failed, "0.568 times"},
	} {
		t.Run(c.name, func(t *testing.T) {
			// On the ground to 100 s, at 36000 ft from 1300 to 2300 s, on the ground from 3500 s.
			speed := func(aloft float64) func(float64) float64 {
				return through(60, 10, 100, 140, 1300, aloft, 2300, aloft, 3500, 130, 3540, 10)
			}
			r := recordingOf(3600, append(struts(3600, 100, 3500),
				sampledEvery("pressure_altitude", 1, 3600, through(100, 0, 1300, 36000, 2300, 36000, 3500, 0)),
				sampledEvery("computed_airspeed", 1, 3600, speed(c.air)),
				sampledEvery("ground_speed", 1, 3600, speed(c.ground)))...)
			got := checkOf(t, r, "swapped-speeds")
			if got.Outcome != c.want || !strings.Contains(got.Evidence, c.says) {
				t.Errorf("%+v, want it %s with %q", got, c.want, c.says)
			}
		})
	}
}

// A recording that begins and ends in the air: nothing on the ground says which
// of lever and up-locks is the wrong way round, but they contradict each other.
func TestLeverAgainstPosition(t *testing.T) {
	t.Parallel()
	const up, off, down = 0, 1, 2
	for _, c := range []struct {
		name  string
		lever float64
		until float64 // s; DOWN from then on
		want  detect.CheckOutcome
	}{
		{"lever at OFF", off, 500, detect.Passed},
		{"lever reversed", down, 600, detect.Failed},
		{"legs stay up for a minute of ten after DOWN", up, 540, detect.Passed},
	} {
		t.Run(c.name, func(t *testing.T) {
			lever := func(t float64) float64 {
				if t < c.until {
					return c.lever
				}
				return down
			}
			always := func(float64) float64 { return 1 }
			r := recordingOf(600,
				sampledEvery("computed_airspeed", 1, 600, through(0, 240)),
				sampledEvery("radio_altitude", 1, 600, through(0, 2400)),
				sampledEvery("gear_lever", 1, 600, lever),
				sampledEvery("left_gear_up_locked", 1, 600, always),
				sampledEvery("right_gear_up_locked", 1, 600, always))
			got := checkOf(t, r, "lever-against-position")
			if got.Outcome != c.want {
				t.Errorf("%+v, want it %s", got, c.want)
			}
			if parameters := []string{"gear_lever", "left_gear_up_locked", "right_gear_up_locked"}; c.want == detect.Failed && !slices.Equal(got.Parameters, parameters) {
				t.Errorf("it is about %v, want %v", got.Parameters, parameters)
			}
		})
	}
}

// Flaps that jam between two detents are no wrong profile.
func TestFlapDetents(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		angle func(float64) float64
		want  detect.CheckOutcome
	}{
		{"from detent to detent", through(0, 5, 150, 5, 160, 0, 500, 0, 510, 15, 600, 15, 610, 30), detect.Passed},
		{"jammed at 9 deg", through(0, 5, 150, 5, 160, 0, 500, 0, 506, 9), detect.Passed},                           // 150 s of 444 at a detent
		{"jammed at 9 deg, in the air only", through(0, 0, 500, 0, 506, 9), detect.Passed},                          // in one place alone
		{"never out", through(0, 0), detect.NotPossible},                                                            // nothing to see
		{"in per cent of 40 deg", through(0, 12.5, 150, 12.5, 160, 0, 500, 0, 510, 37.5, 600, 37.5), detect.Failed}, // 5 and 15 deg
	} {
		t.Run(c.name, func(t *testing.T) {
			r := recordingOf(800, append(struts(800, 100, 700), sampledEvery("flap_angle", 0.5, 800, c.angle))...)
			if got := checkOf(t, r, "flap-detents"); got.Outcome != c.want {
				t.Errorf("%+v, want it %s", got, c.want)
			}
		})
	}
}
