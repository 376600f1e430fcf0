package statistics

import (
	"math"
	"slices"
	"testing"
)

// withU returns a part of n and a rest of m different values, in which the part is above
// the rest in exactly u pairs: all of the part lie below the rest, then its highest climb.
func withU(n, m, u int) (part, rest []float64) {
	for i := range m {
		rest = append(rest, float64(10*i))
	}
	for i := range n {
		climb := min(u, m) // values of the rest below this one
		u -= climb
		part = append(part, float64(10*climb)-5-float64(i)/100)
	}
	slices.Sort(part)
	return part, rest
}

// exactTail returns P(U <= u) of n and m different values: the arrangements counted by
// whether the highest value is of the first sample or of the second (H. Mann and
// D. Whitney, Annals of Mathematical Statistics 18, 1947).
func exactTail(n, m, u int) float64 {
	known := map[[3]int]float64{}
	var count func(n, m, u int) float64
	count = func(n, m, u int) float64 {
		switch {
		case u < 0:
			return 0
		case n == 0 || m == 0:
			if u == 0 {
				return 1
			}
			return 0
		}
		k := [3]int{n, m, u}
		if c, ok := known[k]; ok {
			return c
		}
		c := count(n-1, m, u-m) + count(n, m-1, u)
		known[k] = c
		return c
	}
	below, all := 0.0, 1.0
	for i := range u + 1 {
		below += count(n, m, i)
	}
	for i := range n { // (n+m)! / (n! m!)
		all *= float64(m+n-i) / float64(i+1)
	}
	return below / all
}

// Critical values of U at 5 %, two-sided, for 10 against 10 to 20: the tables that follow
// D. Auble, Bulletin of the Institute of Educational Research, Indiana University 1,
// 1953 (from memory; exactTail agrees). Below the table's value p is below 0.05, and
// above it is not; without the correction for continuity the first value above it would
// be. The normal curve lies within 0.01 of the exact chance, and 0.003 near 5 %.
func TestRankSumExactTable(t *testing.T) {
	t.Parallel()
	for m, critical := range map[int]int{10: 23, 11: 26, 12: 29, 13: 33, 14: 36, 15: 39, 16: 42, 17: 45, 18: 48, 19: 52, 20: 55} {
		if exact := 2 * exactTail(10, m, critical); exact > 0.05 || 2*exactTail(10, m, critical+1) <= 0.05 {
			t.Errorf("10 against %d: the table's %d has p %v", m, critical, exact)
		}
		for u := range 10*m/2 - 1 {
			part, rest := withU(10, m, u)
			pool := Merge(part, rest)
			got := NewRanked(pool).Against(part)
			near(t, "above", got.Above, float64(u)/float64(10*m), 1e-12)
			exact, tolerance := 2*exactTail(10, m, u), 0.01
			if exact < 0.06 {
				tolerance = 0.003
			}
			near(t, "p against the exact one", got.P, exact, tolerance)
			if significant := got.P < 0.05; u != critical && significant != (u < critical) {
				t.Errorf("10 against %d, U %d: p %v, critical value %d", m, u, got.P, critical)
			}
			// The other side of the same pairs.
			other := NewRanked(pool).Against(rest)
			near(t, "the other side", other.P, got.P, 1e-12)
			near(t, "above, the other side", other.Above, 1-got.Above, 1e-12)
		}
	}
}

// By hand: 10 against 10, U 23: (|23 - 50| - 0.5) / sqrt(10·10·21/12) = 26.5 / sqrt(175).
func TestRankSumByHand(t *testing.T) {
	t.Parallel()
	part, rest := withU(10, 10, 23)
	near(t, "p", NewRanked(Merge(part, rest)).Against(part).P, math.Erfc(26.5/math.Sqrt(175)/math.Sqrt2), 1e-12)
	part, rest = withU(10, 10, 50) // the middle
	near(t, "p in the middle", NewRanked(Merge(part, rest)).Against(part).P, 1, 0)
}

// With ties the variance of a rank sum is that of drawing n of the N mean ranks without
// putting any back: n·m / (N·(N-1)) times the sum of their squared distances from
// their mean. This knows nothing of groups of ties.
func TestRankSumTies(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ part, rest []float64 }{
		{[]float64{1, 1, 2, 3, 4, 5, 6, 7, 7, 9}, []float64{1, 4, 7, 8, 9, 10, 11, 12, 12, 12, 13}},
		{[]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 2}, []float64{1, 1, 2, 2, 2, 2, 2, 3, 3, 3, 3, 4}},
		{[]float64{2, 2, 2, 2, 2, 2, 2, 2, 2, 2}, []float64{2, 2, 2, 2, 2, 2, 2, 2, 2, 3}},
	} {
		pool := slices.Sorted(slices.Values(slices.Concat(c.part, c.rest)))
		rank := func(x float64) float64 { // the mean of its ranks
			below, same := 0.0, 0.0
			for _, y := range pool {
				if y < x {
					below++
				} else if y == x {
					same++
				}
			}
			return below + (same+1)/2
		}
		n, m := float64(len(c.part)), float64(len(c.rest))
		sum, spread := 0.0, 0.0
		for _, x := range c.part {
			sum += rank(x)
		}
		for _, x := range pool {
			spread += (rank(x) - (n+m+1)/2) * (rank(x) - (n+m+1)/2)
		}
		off := max(0, math.Abs(sum-n*(n+m+1)/2)-0.5)
		want := math.Erfc(off / math.Sqrt(n*m/(n+m)/(n+m-1)*spread) / math.Sqrt2)
		near(t, "p", NewRanked(pool).Against(c.part).P, want, 1e-12)
	}
}

// Fewer than ten values on a side make no test, however far apart they lie; the share
// above is told all the same.
func TestRankSumSmall(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		n, m   int
		tested bool
	}{{9, 10, false}, {10, 9, false}, {9, 40, false}, {40, 9, false}, {1, 1, false}, {10, 10, true}, {2, 1, false}, {1, 2, false}} {
		part, rest := withU(c.n, c.m, 0)
		got := NewRanked(Merge(part, rest)).Against(part)
		if (got.P < 1) != c.tested {
			t.Errorf("%d against %d: p %v", c.n, c.m, got.P)
		}
		near(t, "above", got.Above, 0, 0)
	}
	all := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	for _, part := range [][]float64{nil, all} {
		if got := NewRanked(all).Against(part); got != (Shift{Above: 0.5, P: 1}) {
			t.Errorf("%d of 12 against the rest: %+v", len(part), got)
		}
	}
	same := make([]float64, 24)
	if got := NewRanked(same).Against(same[:12]); got != (Shift{Above: 0.5, P: 1}) {
		t.Errorf("24 equal values: %+v", got)
	}
	near(t, "one value beyond", ShareBeyond([]float64{5}, 4), 1, 0)
}
