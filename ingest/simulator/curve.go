package simulator

import (
	"fmt"
	"math"
	"sort"
)

// Knot is a value at a time.
type Knot struct{ At, Value float64 }

// curve is a smooth line through knots that never overshoots them. Each piece is a
// cubic with the slopes of Fritsch and Carlson, Monotone piecewise cubic
// interpolation, SIAM J. Numer. Anal. 17 (1980), in the harmonic-mean form of Fritsch
// and Butland (1984). It is level before and after its knots.
type curve struct {
	knots  []Knot
	slopes []float64
}

func newCurve(knots []Knot) (curve, error) {
	if len(knots) == 0 {
		return curve{}, fmt.Errorf("no knots")
	}
	for i := 1; i < len(knots); i++ {
		if knots[i].At <= knots[i-1].At {
			return curve{}, fmt.Errorf("knot at %g s does not come after %g s", knots[i].At, knots[i-1].At)
		}
	}
	c := curve{knots, make([]float64, len(knots))}
	for i := 1; i+1 < len(knots); i++ {
		before, after := knots[i].At-knots[i-1].At, knots[i+1].At-knots[i].At
		in := (knots[i].Value - knots[i-1].Value) / before
		out := (knots[i+1].Value - knots[i].Value) / after
		if in*out > 0 {
			w1, w2 := 2*after+before, after+2*before
			c.slopes[i] = (w1 + w2) / (w1/in + w2/out)
		}
	}
	return c, nil
}

func (c curve) at(t float64) float64 {
	i := sort.Search(len(c.knots), func(i int) bool { return c.knots[i].At > t })
	if i == 0 {
		return c.knots[0].Value
	}
	if i == len(c.knots) {
		return c.knots[i-1].Value
	}
	a, b := c.knots[i-1], c.knots[i]
	width := b.At - a.At
	x := (t - a.At) / width
	rest := 1 - x
	return rest*rest*((1+2*x)*a.Value+x*width*c.slopes[i-1]) + x*x*((3-2*x)*b.Value-rest*width*c.slopes[i])
}

// line runs straight between its knots and is level before and after them.
type line []Knot

func (l line) at(t float64) float64 {
	i := sort.Search(len(l), func(i int) bool { return l[i].At > t })
	if i == 0 {
		return l[0].Value
	}
	if i == len(l) {
		return l[i-1].Value
	}
	a, b := l[i-1], l[i]
	return a.Value + (b.Value-a.Value)*(t-a.At)/(b.At-a.At)
}

// steps holds each value until the next, and the first one also before its time.
type steps []Knot

func (s steps) at(t float64) float64 {
	i := sort.Search(len(s), func(i int) bool { return s[i].At > t })
	return s[max(i-1, 0)].Value
}

// followed returns the motion that follows a setting, delay seconds behind it, at up
// or down units per second. It reverses where the setting changes on the way.
func (s steps) followed(delay, up, down float64) line {
	l := line{{s[0].At, s[0].Value}}
	for _, k := range s[1:] {
		start := k.At + delay
		from := l.at(start)
		for len(l) > 1 && l[len(l)-1].At >= start {
			l = l[:len(l)-1]
		}
		if start > l[len(l)-1].At {
			l = append(l, Knot{start, from})
		}
		rate := up
		if k.Value < from {
			rate = down
		}
		if k.Value != from {
			l = append(l, Knot{start + math.Abs(k.Value-from)/rate, k.Value})
		}
	}
	return l
}

// cumulative is the covered distance, in units of speed times seconds.
type cumulative struct {
	start float64
	sums  []float64
}

const cumulativeStep = 0.5

func accumulate(speed func(float64) float64, start, end float64) cumulative {
	c := cumulative{start: start, sums: []float64{0}}
	for t := start; t < end; t += cumulativeStep {
		c.sums = append(c.sums, c.sums[len(c.sums)-1]+cumulativeStep*(speed(t)+speed(t+cumulativeStep))/2)
	}
	return c
}

// fraction returns the share of the whole distance covered by a time.
func (c cumulative) fraction(t float64) float64 {
	total := c.sums[len(c.sums)-1]
	if total == 0 {
		return 0
	}
	x := math.Max(0, (t-c.start)/cumulativeStep)
	i := int(x)
	if i+1 >= len(c.sums) {
		return 1
	}
	return (c.sums[i] + (x-float64(i))*(c.sums[i+1]-c.sums[i])) / total
}
