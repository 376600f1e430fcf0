package readings

import (
	"math"
	"sort"
)

// Shaken is the number when the times of its samples are only known to within that
// many seconds: at each time it is as low and as high as it is anywhere so near.
func (n Number) Shaken(seconds float64) Number {
	lowest := func(c Curve, sign float64) Curve {
		return nearby(c.mapped(func(x float64) float64 { return sign * x }), seconds).mapped(func(x float64) float64 { return sign * x })
	}
	return Number{n.Nominal, lowest(n.Low, 1), lowest(n.High, -1)}
}

// nearby is the smallest value of a curve within so many seconds of each time at
// which it is known.
func nearby(c Curve, seconds float64) Curve {
	cuts := make([]float64, 0, 4*len(c))
	for _, p := range c {
		cuts = append(cuts, p.Start-seconds, p.End+seconds, p.Start, p.End)
	}
	sort.Float64s(cuts)
	var out Curve
	var window []int // places of pieces in reach, the smallest first, each smaller than those before it in time
	next, known := 0, 0
	for i := 1; i < len(cuts); i++ {
		start, end := cuts[i-1], cuts[i]
		if !(start < end) {
			continue
		}
		for ; next < len(c) && c[next].Start-seconds <= start; next++ {
			for len(window) > 0 && least(c[window[len(window)-1]]) >= least(c[next]) {
				window = window[:len(window)-1]
			}
			window = append(window, next)
		}
		for len(window) > 0 && c[window[0]].End+seconds < end {
			window = window[1:]
		}
		for known < len(c) && c[known].End <= start {
			known++
		}
		if known < len(c) && c[known].Start <= start && len(window) > 0 {
			out = out.level(start, end, least(c[window[0]]))
		}
	}
	return out
}

func least(p Piece) float64 { return math.Min(p.From, p.To) }
