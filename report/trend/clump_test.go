package trend

import "testing"

// Ten events: one a flight has a variance of 10, in pairs of 20. Twelve tenths of the mean is
// no clump yet, more is.
func TestClumpLimit(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		events, squares int
		want            unit
	}{{10, 10, ofEvents}, {10, 12, ofEvents}, {10, 13, ofFlights}, {10, 20, ofFlights}, {0, 0, ofEvents}} {
		if got := (count{Events: c.events, Squares: c.squares}).unit(); got != c.want {
			t.Errorf("%d events, squares %d: by flights %v", c.events, c.squares, got)
		}
	}
}
