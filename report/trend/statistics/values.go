package statistics

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Merge merges sorted samples into one, sorted: the cheaper way to one where the
// parts are needed sorted as well. It may return the only one it was given.
func Merge(sorted ...[]float64) []float64 {
	switch n := len(sorted); n {
	case 0:
		return nil
	case 1:
		return sorted[0]
	default:
		a, b := Merge(sorted[:n/2]...), Merge(sorted[n/2:]...)
		out := make([]float64, 0, len(a)+len(b))
		for len(a) > 0 && len(b) > 0 {
			if b[0] < a[0] {
				out, b = append(out, b[0]), b[1:]
			} else {
				out, a = append(out, a[0]), a[1:]
			}
		}
		return append(append(out, a...), b...)
	}
}

// Quantile is the smallest of the sorted values that at least the share p of
// them does not exceed: always a value that was measured. Not a number of none.
// It is gonum's stat.Quantile of kind Empirical, which looks through all values
// each time to see that they are sorted.
func Quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	rank := int(math.Ceil(p * float64(len(sorted))))
	return sorted[min(max(rank, 1), len(sorted))-1]
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

// Ranked is a pooled sample that many of its parts can be held against the rest
// of.
type Ranked struct {
	sorted []float64
	ties   float64 // sum of t³ - t over groups of equal values
}

// NewRanked keeps the sorted values; they must not be changed.
func NewRanked(sorted []float64) *Ranked {
	r := &Ranked{sorted: sorted}
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		t := float64(j - i)
		r.ties += t*t*t - t
		i = j
	}
	return r
}

// rankSum adds up the ranks, from 1, of sorted values of the pooled sample; equal
// values share the mean of their ranks.
func (r *Ranked) rankSum(part []float64) (sum float64) {
	first := 0
	for i := 0; i < len(part); {
		for first < len(r.sorted) && r.sorted[first] < part[i] {
			first++
		}
		last := first
		for last < len(r.sorted) && r.sorted[last] == part[i] {
			last++
		}
		same := i
		for i < len(part) && part[i] == part[same] {
			i++
		}
		sum += float64(i-same) * float64(first+last+1) / 2
		first = last
	}
	return sum
}

// Against tests whether a sorted part of the pooled sample lies higher or lower
// than the rest (F. Wilcoxon 1945; H. Mann and D. Whitney 1947). P is 1 when
// either has fewer than 10 values, where the approximation is poor.
func (r *Ranked) Against(part []float64) Shift {
	n, m := float64(len(part)), float64(len(r.sorted)-len(part))
	if n == 0 || m <= 0 {
		return Shift{Above: 0.5, P: 1}
	}
	u := r.rankSum(part) - n*(n+1)/2
	s := Shift{Above: u / (n * m), P: 1}
	total := n + m
	variance := n * m / 12 * (total + 1 - r.ties/(total*(total-1)))
	if n < 10 || m < 10 || variance <= 0 {
		return s
	}
	z := max(0, math.Abs(u-n*m/2)-0.5) / math.Sqrt(variance)
	s.P = 2 * distuv.UnitNormal.Survival(z)
	return s
}

// OuterFences are three interquartile ranges outside the quartiles; values
// beyond are far out (J. Tukey, Exploratory Data Analysis, 1977).
func OuterFences(values []float64) Interval {
	sorted := slices.Sorted(slices.Values(values))
	q1, q3 := Quantile(sorted, 0.25), Quantile(sorted, 0.75)
	return Interval{q1 - 3*(q3-q1), q3 + 3*(q3-q1)}
}
