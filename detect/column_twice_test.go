package detect_test

import (
	"slices"
	"testing"

	"downlock/detect"
	"downlock/ingest"
)

// The check fails where two parameters read one column alike: the same values at the same
// times. It passes where they read two values of it, or two columns.
func TestColumnTwice(t *testing.T) {
	t.Parallel()
	const left, right = "left_gear_door_closed", "right_gear_door_closed"
	for _, c := range []struct {
		name          string
		first, second *ingest.Series
		columns       [2]string
		fails         bool
	}{
		{"alike", sampledEvery(left, 1, 800, during(130, 600)), sampledEvery(right, 1, 800, during(130, 600)), [2]string{"DOOR", "DOOR"}, true},
		{"two values", sampledEvery(left, 1, 800, during(130, 600)), sampledEvery(right, 1, 800, during(0, 120, 610, 900)), [2]string{"DOOR", "DOOR"}, false},
		{"two columns", sampledEvery(left, 1, 800, during(130, 600)), sampledEvery(right, 1, 800, during(130, 600)), [2]string{"DOOR", "DOOR 2"}, false},
		{"other times", sampledEvery(left, 1, 799, during()), sampledEvery(right, 0.5, 399.5, during()), [2]string{"DOOR", "DOOR"}, false},
		{"numbers alike", sampledEvery("flap_angle", 1, 800, through(0, 5)), sampledEvery("slat_angle", 1, 800, through(0, 5)), [2]string{"FLAP", "FLAP"}, true},
		{"numbers of two scales", sampledEvery("flap_angle", 1, 800, through(0, 5)), sampledEvery("slat_angle", 1, 800, through(0, 6)), [2]string{"FLAP", "FLAP"}, false},
	} {
		c.first.Column, c.second.Column = c.columns[0], c.columns[1]
		d, _ := shippedDetector(t)
		checks := d.Check(recordingOf(800, append(struts(800, 100, 700), c.first, c.second)...))
		i := slices.IndexFunc(checks, func(check detect.Check) bool { return check.ID == "column-twice" })
		if fails := checks[i].Outcome == detect.Failed; fails != c.fails {
			t.Errorf("%s: %s, %v", c.name, checks[i].Outcome, checks[i].Parameters)
		}
	}
}
