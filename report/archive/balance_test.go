package archive

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestBalance holds the bins against the best there are, which trying every way finds, and
// Graham's bound of (4 - 1/bins)/3 of that (R. L. Graham, 1969; from memory).
func TestBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sizes := rapid.SliceOfN(rapid.Int64Range(0, 30), 0, 8).Draw(t, "sizes")
		bins := rapid.IntRange(1, 3).Draw(t, "bins")
		largest := func(of []int64) int64 { return slices.Max(of) }
		best := int64(1 << 40)
		loads := make([]int64, bins)
		var try func(int)
		try = func(i int) {
			if i == len(sizes) {
				best = min(best, largest(loads))
				return
			}
			for b := range loads {
				loads[b] += sizes[i]
				try(i + 1)
				loads[b] -= sizes[i]
			}
		}
		try(0)
		got := make([]int64, bins)
		for b, items := range balance(sizes, bins, len(sizes)+1) {
			for _, i := range items {
				got[b] += sizes[i]
			}
		}
		if 3*int64(bins)*largest(got) > (4*int64(bins)-1)*best {
			t.Fatalf("%v in %d bins: the largest has %d, the best %d", sizes, bins, largest(got), best)
		}
		most := (len(sizes) + bins - 1) / bins
		var all []int
		for _, items := range balance(sizes, bins, max(most, 1)) {
			if len(items) > max(most, 1) || !slices.IsSorted(items) {
				t.Fatalf("a bin of at most %d holds %v", most, items)
			}
			all = append(all, items...)
		}
		slices.Sort(all)
		for i := range sizes {
			if all[i] != i || len(all) != len(sizes) {
				t.Fatalf("%d items become %v", len(sizes), all)
			}
		}
	})
}
