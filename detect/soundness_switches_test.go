package detect_test

import (
	"testing"

	"downlock/detect"
	"downlock/ingest"
)

// flightOf is a flight of 600 s with a roll from 60 to 100 s, a landing at 500 s, and one
// discrete more.
func flightOf(name string, value func(float64) float64) *ingest.Recording {
	return recordingOf(600, append(struts(600, 100, 500),
		sampledEvery("computed_airspeed", 1, 600, through(60, 0, 100, 140, 500, 130, 540, 0)),
		sampledEvery("radio_altitude", 1, 600, through(100, 0, 140, 2400, 400, 2400, 500, 0)),
		sampledEvery(name, 1, 600, value))...)
}

// A brake that is set on the stand and released for the take-off is read rightly: where
// it is set in the air for longer than any switch is touched, the crew or the brake has
// done so. Turned round it is set on the roll.
func TestParkingBrakeInTheAir(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		brake func(float64) float64
		want  detect.CheckOutcome
	}{
		{"set on the stand", during(0, 50, 560, 600), detect.Passed},
		{"turned round", otherwise(during(0, 50, 560, 600)), detect.Failed},
		{"set on the stand and for 200 s before landing", during(0, 50, 300, 600), detect.Passed},
		{"set for 200 s before landing, never on the stand", during(300, 600), detect.Failed},
		{"left on in part of the take-off roll, and for 200 s in the air", during(0, 75, 300, 600), detect.Failed},
		{"never set", during(), detect.Passed},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := checkOf(t, flightOf("parking_brake", c.brake), "parking-brake-polarity"); got.Outcome != c.want {
				t.Errorf("%+v, want it %s", got, c.want)
			}
		})
	}
}

// Exports write a reverser as stowed or as unlocked.
func TestReverserPolarity(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		unlocked func(float64) float64
		want     detect.CheckOutcome
	}{
		{"out after landing", during(502, 530), detect.Passed},
		{"stowed taken for unlocked", otherwise(during(502, 530)), detect.Failed},
		{"unlocked for two minutes in the air", during(200, 320, 502, 530), detect.Passed},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := checkOf(t, flightOf("thrust_reverser_unlocked_1", c.unlocked), "reverser-polarity"); got.Outcome != c.want {
				t.Errorf("%+v, want it %s", got, c.want)
			}
		})
	}
}
