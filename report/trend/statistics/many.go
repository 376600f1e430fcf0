package statistics

import (
	"cmp"
	"slices"
)

// Holm corrects p values for their number so that, when nothing has changed
// anywhere, the chance of even one below the level is at most the level (S. Holm,
// Scandinavian Journal of Statistics 6, 1979). The order is kept.
func Holm(p []float64) []float64 {
	order := ascending(p)
	out := make([]float64, len(p))
	largest := 0.0
	for rank, i := range order {
		largest = max(largest, min(1, p[i]*float64(len(p)-rank)))
		out[i] = largest
	}
	return out
}

// BenjaminiHochberg corrects p values so that the expected share of false ones
// among those below the level is at most the level (Y. Benjamini and Y. Hochberg,
// Journal of the Royal Statistical Society B 57, 1995). The order is kept.
func BenjaminiHochberg(p []float64) []float64 {
	order := ascending(p)
	out := make([]float64, len(p))
	smallest := 1.0
	for rank := len(order) - 1; rank >= 0; rank-- {
		i := order[rank]
		smallest = min(smallest, p[i]*float64(len(p))/float64(rank+1))
		out[i] = smallest
	}
	return out
}

func ascending(p []float64) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	return order
}
