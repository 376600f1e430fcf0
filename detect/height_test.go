package detect_test

import (
	"slices"
	"testing"
)

// TestHeightWhereTheAerodromeChanges: at the highest point of the flight between
// aerodromes at 300 and 700 ft the height is 9000 ft above the one and 8600 ft
// above the other, and both are given, in this order.
func TestHeightWhereTheAerodromeChanges(t *testing.T) {
	times, heights := oneFlight(t, recordingOf(1000, ofTwo()...)).Height()
	i := slices.Index(times, 500)
	if i < 0 || times[i+1] != 500 || times[i+2] == 500 {
		t.Fatalf("the time 500 s is not there twice: %v", times[max(i-1, 0):i+3])
	}
	near0(t, "above the aerodrome of departure", heights[i], 9000, 0.01)
	near0(t, "above the aerodrome of arrival", heights[i+1], 8600, 0.01)
	if !slices.IsSorted(times) {
		t.Error("the times are out of order")
	}
}
