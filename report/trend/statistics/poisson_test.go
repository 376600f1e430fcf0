package statistics

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// Exact limits of a Poisson mean, from memory of the tables that follow Garwood.
func TestPoissonIntervalTable(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		events    int
		low, high float64
	}{{0, 0, 3.689}, {1, 0.0253, 5.572}, {5, 1.623, 11.668}, {10, 4.795, 18.390}} {
		i := PoissonInterval(c.events, 0.95)
		near(t, "low", i.Low, c.low, 6e-4)
		near(t, "high", i.High, c.high, 6e-4)
	}
}

// Each limit is the mean at which the tail beyond the count has the probability
// it should, summed term by term.
func TestPoissonIntervalTails(t *testing.T) {
	t.Parallel()
	below := func(k int, mean float64) (sum float64) { // P(X <= k)
		for i := 0; i <= k; i++ {
			lg, _ := math.Lgamma(float64(i) + 1)
			sum += math.Exp(float64(i)*math.Log(mean) - mean - lg)
		}
		return sum
	}
	for _, k := range []int{1, 2, 7, 40, 333, 5000, 200000} {
		for _, confidence := range []float64{0.9, 0.95, 0.999} {
			i := PoissonInterval(k, confidence)
			tail := (1 - confidence) / 2
			near(t, "low tail", 1-below(k-1, i.Low), tail, 1e-6+tail*1e-3)
			near(t, "high tail", below(k, i.High), tail, 1e-6+tail*1e-3)
		}
	}
}

// Coverage is never below the confidence, whatever the mean: exact, by adding up
// the probabilities of the counts whose interval holds the mean.
func TestPoissonIntervalCoverage(t *testing.T) {
	t.Parallel()
	for mean := 0.3; mean < 40; mean *= 1.17 {
		covered := 0.0
		for k := 0; k < 150; k++ {
			if i := PoissonInterval(k, 0.95); i.Low <= mean && mean <= i.High {
				covered += distuv.Poisson{Lambda: mean}.Prob(float64(k))
			}
		}
		if covered < 0.95 {
			t.Errorf("mean %v: covered %v", mean, covered)
		}
	}
}

// Two published comparisons, both from memory. Breast cancer after fluoroscopy:
// 41 cases in 28,010 person-years against 15 in 19,017 (Rothman and Greenland,
// Modern Epidemiology; the exact limits as Stata's manual prints them under ir).
// And 11 in 800 against 6 + 8 + 7 in 1083 + 1050 + 878, the last example of R's
// help on poisson.test, with its exact limits.
func TestCompareWorkedExamples(t *testing.T) {
	t.Parallel()
	c := Compare(Rate{41, 28010}, Rate{15, 19017}, 0.95)
	near(t, "ratio", c.Ratio, 1.855759, 1e-6)
	near(t, "low", c.Interval.Low, 1.005684, 1e-5)
	near(t, "high", c.Interval.High, 3.6093, 5e-4)
	c = Compare(Rate{11, 800}, Rate{21, 3011}, 0.95)
	near(t, "ratio", c.Ratio, 1.971488, 1e-6)
	near(t, "low", c.Interval.Low, 0.8584264, 1e-6)
	near(t, "high", c.Interval.High, 4.2772659, 1e-6)
}

// P against the binomial tails in exact arithmetic.
func TestCompareAgainstFractions(t *testing.T) {
	t.Parallel()
	tails := func(k, n int64, first, second int64) float64 {
		atMost, atLeast := new(big.Rat), new(big.Rat)
		for i := int64(0); i <= n; i++ {
			term := new(big.Rat).SetInt(new(big.Int).Binomial(n, i))
			up := new(big.Int).Exp(big.NewInt(first), big.NewInt(i), nil)
			up.Mul(up, new(big.Int).Exp(big.NewInt(second), big.NewInt(n-i), nil))
			term.Mul(term, new(big.Rat).SetFrac(up, new(big.Int).Exp(big.NewInt(first+second), big.NewInt(n), nil)))
			if i <= k {
				atMost.Add(atMost, term)
			}
			if i >= k {
				atLeast.Add(atLeast, term)
			}
		}
		a, _ := atMost.Float64()
		b, _ := atLeast.Float64()
		return min(1, 2*min(a, b))
	}
	for _, c := range [][4]int64{{0, 0, 5, 7}, {0, 4, 100, 100}, {3, 0, 10, 1000}, {12, 5, 900, 1100}, {40, 90, 4000, 4100}, {7, 7, 50, 50}, {200, 120, 1000, 1000}} {
		got := Compare(Rate{int(c[0]), float64(c[2])}, Rate{int(c[1]), float64(c[3])}, 0.95)
		want := tails(c[0], c[0]+c[1], c[2], c[3])
		near(t, "p", got.P, want, 1e-12+1e-9*want)
		if outside := got.Interval.Low > 1 || got.Interval.High < 1; outside != (got.P < 0.05) {
			t.Errorf("%v: p %v and interval %v say different things", c, got.P, got.Interval)
		}
	}
}

// The ratio interval covers the true ratio, and p below 0.05 comes up in no more
// than 5 % of cases without a difference: 4000 simulated pairs each.
func TestCompareSimulated(t *testing.T) {
	t.Parallel()
	source := rand.New(rand.NewPCG(7, 11))
	for _, c := range []struct{ first, second, rate, ratio float64 }{{400, 900, 0.01, 1}, {3000, 3000, 0.004, 1}, {2000, 8000, 0.003, 2.5}} {
		covered, rejected := 0, 0
		const pairs = 4000
		for range pairs {
			a := distuv.Poisson{Lambda: c.first * c.rate * c.ratio, Src: source}.Rand()
			b := distuv.Poisson{Lambda: c.second * c.rate, Src: source}.Rand()
			got := Compare(Rate{int(a), c.first}, Rate{int(b), c.second}, 0.95)
			if got.Interval.Low <= c.ratio && c.ratio <= got.Interval.High {
				covered++
			}
			if got.P < 0.05 {
				rejected++
			}
		}
		slack := 3 * math.Sqrt(0.95*0.05*pairs)
		if float64(covered) < 0.95*pairs-slack {
			t.Errorf("%v: covered %d of %d", c, covered, pairs)
		}
		if c.ratio == 1 && float64(rejected) > 0.05*pairs+slack {
			t.Errorf("%v: rejected %d of %d", c, rejected, pairs)
		}
		if c.ratio > 2 && rejected < pairs/2 {
			t.Errorf("%v: found only %d of %d", c, rejected, pairs)
		}
	}
}

func TestCompareNothing(t *testing.T) {
	t.Parallel()
	for _, c := range [][2]Rate{{{0, 10}, {0, 20}}, {{3, 0}, {1, 5}}, {{3, 4}, {1, 0}}, {{}, {}}} {
		if got := Compare(c[0], c[1], 0.95); got.P != 1 || !math.IsInf(got.Interval.High, 1) || got.Interval.Low != 0 {
			t.Errorf("%v: %+v", c, got)
		}
	}
}
