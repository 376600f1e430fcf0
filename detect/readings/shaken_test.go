package readings

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestShaken compares with the smallest and largest value at many times so near.
func TestShaken(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var c Curve
		at := 0.0
		for range rapid.IntRange(1, 12).Draw(t, "pieces") {
			at += rapid.SampledFrom([]float64{0, 0, 2}).Draw(t, "hole")
			end := at + rapid.SampledFrom([]float64{0.5, 1, 3}).Draw(t, "length")
			level := rapid.Float64Range(-5, 5)
			c = append(c, Piece{at, end, level.Draw(t, "from"), level.Draw(t, "to")})
			at = end
		}
		seconds := rapid.SampledFrom([]float64{0.25, 1, 2.5}).Draw(t, "seconds")
		shaken := Number{c, c, c}.Shaken(seconds)
		for x := 0.05; x < at; x += 0.1 {
			if _, known := c.At(x); !known {
				continue
			}
			low, lowKnown := shaken.Low.At(x)
			high, highKnown := shaken.High.At(x)
			for y := x - seconds + 0.01; y < x+seconds; y += 0.07 {
				if v, ok := c.At(y); ok && (!lowKnown || !highKnown || v < low-1e-9 || v > high+1e-9) {
					t.Fatalf("at %v the bounds are %v to %v, and %v at %v", x, low, high, v, y)
				}
			}
			if smallest, largest, _ := c.Over(x-seconds-3, x+seconds+3); low < smallest-1e-9 || high > largest+1e-9 || math.IsNaN(low) {
				t.Fatalf("at %v the bounds are %v to %v, beyond all values near", x, low, high)
			}
		}
	})
}
