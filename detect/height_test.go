package detect_test

import (
	"testing"

	"downlock/detect/readings"
)

// TestHeightWhereTheAerodromeChanges: at the highest point of the flight between
// aerodromes at 300 and 700 ft the height is 9000 ft above the one and 8600 ft
// above the other: one piece ends at the first, the next begins at the second.
func TestHeightWhereTheAerodromeChanges(t *testing.T) {
	t.Parallel()
	r := detected(t, recordingOf(1000, ofTwo()...))[0]
	height := r.Tracks.Number("height", readings.Spans{r.Flight.Span}).Nominal
	for i, p := range height {
		if p.Start == 500 {
			near0(t, "above the aerodrome of departure", height[i-1].To, 9000, 0.01)
			near0(t, "above the aerodrome of arrival", p.From, 8600, 0.01)
			return
		}
	}
	t.Error("no piece of the height begins at 500 s")
}
