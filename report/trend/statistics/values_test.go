package statistics

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// Of 1..10, by the definition: the median is 5, the 0.05 quantile 1, the 0.95
// quantile 10, and 0.3 is reached by the third.
func TestQuantile(t *testing.T) {
	t.Parallel()
	values := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	for p, want := range map[float64]float64{0: 1, 0.05: 1, 0.3: 3, 0.5: 5, 0.51: 6, 0.95: 10, 1: 10} {
		near(t, "quantile", Quantile(values, p), want, 0)
	}
	near(t, "beyond 7", ShareBeyond(values, 7), 0.3, 1e-15)
	near(t, "beyond 10", ShareBeyond(values, 10), 0, 0)
	if !math.IsNaN(Quantile(nil, 0.5)) || !math.IsNaN(ShareBeyond(nil, 1)) {
		t.Error("a quantile of nothing")
	}
	fences := OuterFences([]float64{12, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}) // quartiles 3 and 9
	near(t, "lower fence", fences.Low, 3-18, 1e-12)
	near(t, "upper fence", fences.High, 9+18, 1e-12)
}

// Against gonum's quantiles, and Merge against sorting everything.
func TestSortedSamples(t *testing.T) {
	t.Parallel()
	source := rand.New(rand.NewPCG(6, 5))
	for n := range 60 {
		parts := make([][]float64, source.IntN(7))
		for i := range parts {
			for range source.IntN(n + 1) {
				parts[i] = append(parts[i], float64(source.IntN(n)))
			}
			slices.Sort(parts[i])
		}
		want := slices.Sorted(slices.Values(slices.Concat(parts...)))
		got := Merge(parts...)
		if !slices.Equal(got, want) {
			t.Fatalf("%v merged to %v", parts, got)
		}
		for _, p := range []float64{0, 0.05, 0.25, 1.0 / 3, 0.5, 0.75, 0.95, 1} {
			if len(got) > 0 {
				near(t, "quantile", Quantile(got, p), stat.Quantile(p, stat.Empirical, got, nil), 0)
			}
		}
	}
}

// Against every pair counted, and against the share of random relabellings at
// least as far out: an oracle that knows no formula.
func TestRankSum(t *testing.T) {
	t.Parallel()
	source := rand.New(rand.NewPCG(3, 5))
	for _, shift := range []float64{0, 0.7, -1.2} {
		var part, rest []float64
		for range 14 {
			part = append(part, math.Round(4*(source.NormFloat64()+shift))/4) // rounded, to have ties
		}
		for range 23 {
			rest = append(rest, math.Round(4*source.NormFloat64())/4)
		}
		above := func(a, b []float64) (sum float64) {
			for _, x := range a {
				for _, y := range b {
					switch {
					case x > y:
						sum++
					case x == y:
						sum += 0.5
					}
				}
			}
			return sum / float64(len(a)*len(b))
		}
		slices.Sort(part)
		slices.Sort(rest)
		got := NewRanked(Merge(part, rest)).Against(part)
		near(t, "above", got.Above, above(part, rest), 1e-12)
		pool := slices.Concat(part, rest)
		const shuffles = 4000
		further := 0
		for range shuffles {
			source.Shuffle(len(pool), func(i, j int) { pool[i], pool[j] = pool[j], pool[i] })
			if math.Abs(above(pool[:14], pool[14:])-0.5) >= math.Abs(got.Above-0.5)-1e-12 {
				further++
			}
		}
		p := float64(further) / shuffles
		near(t, "p", got.P, p, 0.01+3*math.Sqrt(p*(1-p)/shuffles))
	}
	if s := NewRanked([]float64{2, 2, 2, 2}).Against([]float64{2, 2}); s.P != 1 || s.Above != 0.5 {
		t.Errorf("equal values: %+v", s)
	}
}
