package statistics

import (
	"math/rand/v2"
	"testing"
)

// Worked by hand: 0.005·4, 0.01·3, 0.03·2, then no less than the one before.
func TestHolmByHand(t *testing.T) {
	t.Parallel()
	for i, want := range []float64{0.03, 0.06, 0.06, 0.02} {
		near(t, "holm", Holm([]float64{0.01, 0.04, 0.03, 0.005})[i], want, 1e-15)
	}
}

// The 15 p values of the thrombolysis trial in Benjamini and Hochberg 1995 (from
// memory): at 0.05 four are rejected by their method, three by Bonferroni's and
// Holm's.
func TestBenjaminiHochbergExample(t *testing.T) {
	t.Parallel()
	p := []float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1}
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(p), func(i, j int) { p[i], p[j] = p[j], p[i] })
	count := func(corrected []float64) (n int) {
		for i, c := range corrected {
			if c < p[i] {
				t.Errorf("%v corrected to %v", p[i], c)
			}
			if c < 0.05 {
				n++
			}
		}
		return n
	}
	if n := count(BenjaminiHochberg(p)); n != 4 {
		t.Errorf("Benjamini and Hochberg: %d, want 4", n)
	}
	if n := count(Holm(p)); n != 3 {
		t.Errorf("Holm: %d, want 3", n)
	}
}
