package archive

import (
	"cmp"
	"container/heap"
	"slices"
)

// balance deals items out to bins of at most so many, the largest first and each to the bin
// with the least. Where no bin is full, the largest is at most a third above the best there is
// (R. L. Graham, Bounds on multiprocessing timing anomalies, 1969; from memory). Items of a bin
// are in their order.
func balance(sizes []int64, bins, most int) [][]int {
	order := make([]int, len(sizes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sizes[b], sizes[a]) })
	open := make(binHeap, bins)
	out := make([][]int, bins)
	for i := range open {
		open[i].bin = i
	}
	for _, item := range order {
		least := &open[0]
		out[least.bin] = append(out[least.bin], item)
		least.size += sizes[item]
		if least.items++; least.items == most {
			heap.Pop(&open)
		} else {
			heap.Fix(&open, 0)
		}
	}
	for _, items := range out {
		slices.Sort(items)
	}
	return out
}

type binLoad struct {
	size       int64
	items, bin int
}

// binHeap has the bin with the least first; of equal ones that with fewer items, then the first.
type binHeap []binLoad

func (h binHeap) Len() int      { return len(h) }
func (h binHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h binHeap) Less(i, j int) bool {
	return cmp.Or(cmp.Compare(h[i].size, h[j].size), cmp.Compare(h[i].items, h[j].items), cmp.Compare(h[i].bin, h[j].bin)) < 0
}
func (h *binHeap) Push(x any) { *h = append(*h, x.(binLoad)) }
func (h *binHeap) Pop() any {
	last := len(*h) - 1
	out := (*h)[last]
	*h = (*h)[:last]
	return out
}
