package statistics

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Quantile is the smallest of the sorted values that at least the share p of
// them does not exceed: always a value that was measured. Not a number of none.
func Quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	return stat.Quantile(p, stat.Empirical, sorted, nil)
}

// ShareBeyond is the share of the sorted values above the limit.
func ShareBeyond(sorted []float64, limit float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	first := sort.Search(len(sorted), func(i int) bool { return sorted[i] > limit })
	return float64(len(sorted)-first) / float64(len(sorted))
}

// Shift is the outcome of a rank-sum test.
type Shift struct {
	Above float64 // chance that a value of the first sample is above one of the second, ties half
	P     float64 // two-sided, by the normal approximation with ties
}

// Ranked is a pooled sample, sorted once, that many of its parts can be held
// against the rest of.
type Ranked struct {
	sorted []float64
	ties   float64 // sum of t³ - t over groups of equal values
}

// NewRanked sorts the values in place and keeps them.
func NewRanked(values []float64) *Ranked {
	slices.Sort(values)
	r := &Ranked{sorted: values}
	for i := 0; i < len(values); {
		j := i
		for j < len(values) && values[j] == values[i] {
			j++
		}
		t := float64(j - i)
		r.ties += t*t*t - t
		i = j
	}
	return r
}

// Sorted gives the pooled sample; the caller must not change it.
func (r *Ranked) Sorted() []float64 { return r.sorted }

// Against tests whether a part of the pooled sample lies higher or lower than
// the rest (F. Wilcoxon 1945; H. Mann and D. Whitney 1947). P is 1 when either
// has fewer than 10 values, where the approximation is poor.
func (r *Ranked) Against(part []float64) Shift {
	n, m := float64(len(part)), float64(len(r.sorted)-len(part))
	if n == 0 || m <= 0 {
		return Shift{Above: 0.5, P: 1}
	}
	sum := 0.0
	for _, v := range part {
		first := sort.SearchFloat64s(r.sorted, v)
		last := first + sort.Search(len(r.sorted)-first, func(i int) bool { return r.sorted[first+i] > v })
		sum += float64(first+last+1) / 2
	}
	u := sum - n*(n+1)/2
	s := Shift{Above: u / (n * m), P: 1}
	total := n + m
	variance := n * m / 12 * (total + 1 - r.ties/(total*(total-1)))
	if n < 10 || m < 10 || variance <= 0 {
		return s
	}
	z := max(0, math.Abs(u-n*m/2)-0.5) / math.Sqrt(variance)
	s.P = min(1, 2*distuv.UnitNormal.Survival(z))
	return s
}

// OuterFences are three interquartile ranges outside the quartiles; what lies
// beyond is far out (J. Tukey, Exploratory Data Analysis, 1977).
func OuterFences(values []float64) Interval {
	sorted := slices.Sorted(slices.Values(values))
	q1, q3 := Quantile(sorted, 0.25), Quantile(sorted, 0.75)
	return Interval{q1 - 3*(q3-q1), q3 + 3*(q3-q1)}
}
