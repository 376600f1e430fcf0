package simulator

import (
	"math"
	"slices"
)

// stretch is a span of time, including its ends. A stretch of no duration comes from
// a single sample.
type stretch struct{ start, end float64 }

func (s stretch) seconds() float64 { return s.end - s.start }

// stretches are in order of time and do not touch.
type stretches []stretch

var forever = stretches{{math.Inf(-1), math.Inf(1)}}

// joined joins stretches that overlap, touch, or are at most gap seconds apart.
func joined(gap float64, all ...stretch) (out stretches) {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b stretch) int { return compareTimes(a.start, b.start) })
	for _, s := range all {
		if n := len(out); n > 0 && s.start-out[n-1].end <= gap {
			out[n-1].end = max(out[n-1].end, s.end)
			continue
		}
		out = append(out, s)
	}
	return out
}

func union(a, b stretches) stretches { return joined(0, slices.Concat(a, b)...) }

func intersection(a, b stretches) (out stretches) {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		if s := (stretch{max(a[i].start, b[j].start), min(a[i].end, b[j].end)}); s.start <= s.end {
			out = append(out, s)
		}
		if a[i].end < b[j].end {
			i++
		} else {
			j++
		}
	}
	return out
}

// outside returns all other time.
func (s stretches) outside() (out stretches) {
	from := math.Inf(-1)
	for _, x := range s {
		if x.start > from {
			out = append(out, stretch{from, x.start})
		}
		from = x.end
	}
	if from < math.Inf(1) {
		out = append(out, stretch{from, math.Inf(1)})
	}
	return out
}

// atLeast keeps the stretches of at least that many seconds.
func (s stretches) atLeast(seconds float64) (out stretches) {
	for _, x := range s {
		if x.seconds() >= seconds {
			out = append(out, x)
		}
	}
	return out
}

// later moves the beginnings by that many seconds.
func (s stretches) later(seconds float64) (out stretches) {
	for _, x := range s {
		if x.start += seconds; x.start <= x.end {
			out = append(out, x)
		}
	}
	return out
}

// wider moves both ends outwards.
func (s stretches) wider(seconds float64) stretches {
	var all []stretch
	for _, x := range s {
		all = append(all, stretch{x.start - seconds, x.end + seconds})
	}
	return joined(0, all...)
}

// at returns the stretch that contains a moment.
func (s stretches) at(t float64) (stretch, bool) {
	for _, x := range s {
		if x.start <= t && t <= x.end {
			return x, true
		}
	}
	return stretch{}, false
}

// fineStep is the step in which a fact is followed, s: no fact lasts less. The edges
// are then refined to a hundredth of a millisecond.
const fineStep = 1.0 / 16

// follow finds the stretches in which a condition holds.
func follow(holds func(float64) bool, start, end float64) (found stretches) {
	was := false
	for t := start; ; t += fineStep {
		if t > end {
			t = end
		}
		is := holds(t)
		switch {
		case is && !was && t == start:
			found = append(found, stretch{t, end})
		case is && !was:
			found = append(found, stretch{edge(holds, t-fineStep, t), end})
		case was && !is:
			found[len(found)-1].end = edge(holds, t-fineStep, t)
		}
		was = is
		if t == end {
			return found
		}
	}
}

// edge finds the time at which a condition changes between two moments.
func edge(holds func(float64) bool, a, b float64) float64 {
	first := holds(a)
	for b-a > 1e-5 {
		middle := (a + b) / 2
		if holds(middle) == first {
			a = middle
		} else {
			b = middle
		}
	}
	return b
}
