package readings

import (
	"math"
	"sort"
)

// Over returns the smallest and largest value the curve takes from from to to,
// both included, and whether it is known throughout. Where it steps at one of
// the ends both values count.
func (c Curve) Over(from, to float64) (smallest, largest float64, whole bool) {
	smallest, largest = math.Inf(1), math.Inf(-1)
	reached, whole := from, true
	found := false
	i := sort.Search(len(c), func(i int) bool { return c[i].End >= from })
	for ; i < len(c) && c[i].Start <= to; i++ {
		p := c[i].cut(max(c[i].Start, from), min(c[i].End, to))
		smallest = min(smallest, p.From, p.To)
		largest = max(largest, p.From, p.To)
		whole = whole && p.Start <= reached
		reached, found = max(reached, p.End), true
	}
	return smallest, largest, found && whole && reached >= to
}

// Peak returns the largest value of the curve inside the windows and the time of
// it, ok false where it has no piece there.
func (c Curve) Peak(windows Spans) (value, at float64, ok bool) {
	value = math.Inf(-1)
	for _, w := range windows {
		i := sort.Search(len(c), func(i int) bool { return c[i].End > w.Start })
		for ; i < len(c) && c[i].Start < w.End; i++ {
			p := c[i].cut(max(c[i].Start, w.Start), min(c[i].End, w.End))
			if !ok || p.From > value {
				value, at, ok = p.From, p.Start, true
			}
			if p.To > value {
				value, at = p.To, p.End
			}
		}
	}
	return value, at, ok
}

// Holes is the part of the windows in which the curve is unknown.
func (c Curve) Holes(windows Spans) Spans {
	var known Spans
	for _, p := range c {
		known = known.add(Span{p.Start, p.End})
	}
	return known.Complement(windows)
}
