package readings

import (
	"math"
	"sort"
)

// Piece is a straight run of a number from (Start, From) to (End, To).
type Piece struct {
	Start, End float64
	From, To   float64
}

// at is the value at a time inside the piece.
func (p Piece) at(t float64) float64 {
	if p.From == p.To {
		return p.From
	}
	return p.From + (p.To-p.From)*(t-p.Start)/(p.End-p.Start)
}

// Curve is a number over time: pieces in order, none overlapping, with holes
// where it is unknown. Neighbouring pieces need not meet in value.
type Curve []Piece

// Number is a number over time in three readings: Nominal, and the bounds Low
// and High that hold in every history. Where Low or High has a hole there is no
// bound.
type Number struct{ Nominal, Low, High Curve }

// Constant is the same number throughout the windows, in every reading.
func Constant(value float64, windows Spans) Number {
	c := make(Curve, len(windows))
	for i, w := range windows {
		c[i] = Piece{w.Start, w.End, value, value}
	}
	return Number{c, c, c}
}

// At is the value at t; ok is false where it is unknown.
func (c Curve) At(t float64) (value float64, ok bool) {
	i := sort.Search(len(c), func(i int) bool { return c[i].End > t })
	if i < len(c) && c[i].Start <= t {
		return c[i].at(t), true
	}
	if i > 0 && c[i-1].End == t {
		return c[i-1].To, true
	}
	return 0, false
}

// Within is the part of the curve inside the windows.
func (c Curve) Within(windows Spans) Curve {
	var out Curve
	for _, w := range windows {
		i := sort.Search(len(c), func(i int) bool { return c[i].End > w.Start })
		for ; i < len(c) && c[i].Start < w.End; i++ {
			out = append(out, c[i].cut(max(c[i].Start, w.Start), min(c[i].End, w.End)))
		}
	}
	return out
}

func (p Piece) cut(start, end float64) Piece {
	q := Piece{start, end, p.From, p.To}
	if start != p.Start {
		q.From = p.at(start)
	}
	if end != p.End {
		q.To = p.at(end)
	}
	return q
}

// Within is the number inside the windows.
func (n Number) Within(windows Spans) Number {
	return Number{n.Nominal.Within(windows), n.Low.Within(windows), n.High.Within(windows)}
}

// Extremes returns the smallest and largest value; ok is false when there is no
// piece.
func (c Curve) Extremes() (smallest, largest float64, ok bool) {
	smallest, largest = math.Inf(1), math.Inf(-1)
	for _, p := range c {
		smallest = min(smallest, p.From, p.To)
		largest = max(largest, p.From, p.To)
	}
	return smallest, largest, len(c) > 0
}

// combine makes a curve where both are known, from the values of both.
func combine(a, b Curve, f func(x, y float64) float64) Curve {
	out := make(Curve, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		start, end := max(a[0].Start, b[0].Start), min(a[0].End, b[0].End)
		if start < end {
			x, y := a[0].cut(start, end), b[0].cut(start, end)
			out = append(out, Piece{start, end, f(x.From, y.From), f(x.To, y.To)})
		}
		if a[0].End < b[0].End {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}

func plus(x, y float64) float64  { return x + y }
func minus(x, y float64) float64 { return x - y }

// Add is a + b.
func Add(a, b Number) Number {
	return Number{combine(a.Nominal, b.Nominal, plus), combine(a.Low, b.Low, plus), combine(a.High, b.High, plus)}
}

// Subtract is a − b.
func Subtract(a, b Number) Number {
	return Number{combine(a.Nominal, b.Nominal, minus), combine(a.Low, b.High, minus), combine(a.High, b.Low, minus)}
}

// Scale is the number times a constant.
func (n Number) Scale(factor float64) Number {
	times := func(c Curve) Curve {
		out := make(Curve, len(c))
		for i, p := range c {
			out[i] = Piece{p.Start, p.End, p.From * factor, p.To * factor}
		}
		return out
	}
	if factor < 0 {
		return Number{times(n.Nominal), times(n.High), times(n.Low)}
	}
	return Number{times(n.Nominal), times(n.Low), times(n.High)}
}

// Absolute is the number without its sign.
func (n Number) Absolute() Number {
	zero := []float64{0}
	abs := func(c Curve) Curve { return c.split(zero).mapped(math.Abs) }
	// Cut at zero first: the smallest size is straight only between sign changes.
	low := combine(n.Low.split(zero), n.High.split(zero), func(l, h float64) float64 { return max(0, l, -h) })
	// The largest size is that of the bound further from zero: cut where both are equally far.
	first := func(x, _ float64) float64 { return x }
	cut := combine(n.Low, n.High, plus).split(zero)
	high := combine(combine(n.Low, cut, first), n.High, func(l, h float64) float64 { return max(-l, h) })
	return Number{abs(n.Nominal), low, high}
}

// mapped applies a function that is straight inside each piece.
func (c Curve) mapped(f func(float64) float64) Curve {
	out := make(Curve, len(c))
	for i, p := range c {
		out[i] = Piece{p.Start, p.End, f(p.From), f(p.To)}
	}
	return out
}

// split cuts pieces where they pass one of the levels (in order).
func (c Curve) split(levels []float64) Curve {
	out := make(Curve, 0, len(c))
	for _, p := range c {
		rest := p
		for _, t := range p.passes(levels) {
			if t > rest.Start && t < rest.End {
				out = append(out, Piece{rest.Start, t, rest.From, p.at(t)})
				rest = Piece{t, rest.End, p.at(t), rest.To}
			}
		}
		out = append(out, rest)
	}
	return out
}

// passes lists the times at which the piece passes a level, in order.
func (p Piece) passes(levels []float64) []float64 {
	if p.From == p.To {
		return nil
	}
	var out []float64
	for _, level := range levels {
		if (p.From < level) != (p.To < level) {
			out = append(out, p.Start+(p.End-p.Start)*(level-p.From)/(p.To-p.From))
		}
	}
	sort.Float64s(out)
	return out
}

// Through looks a number up in a table of (from, to) points in order, straight
// between them and level beyond the ends; the second values rise throughout or fall
// throughout.
func Through(table [][2]float64, n Number) Number {
	levels := make([]float64, len(table))
	for i, p := range table {
		levels[i] = p[0]
	}
	look := func(x float64) float64 { return lookUp(table, x) }
	through := func(c Curve) Curve { return c.split(levels).mapped(look) }
	if table[0][1] > table[len(table)-1][1] {
		return Number{through(n.Nominal), through(n.High), through(n.Low)}
	}
	return Number{through(n.Nominal), through(n.Low), through(n.High)}
}

func lookUp(table [][2]float64, x float64) float64 {
	i := sort.Search(len(table), func(i int) bool { return table[i][0] >= x })
	switch {
	case i == 0:
		return table[0][1]
	case i == len(table):
		return table[len(table)-1][1]
	}
	a, b := table[i-1], table[i]
	return a[1] + (b[1]-a[1])*(x-a[0])/(b[0]-a[0])
}

// Overlay adds another number where a condition holds: bounds that already lie
// there are widened to include its own wherever the condition is possible.
func (n Number) Overlay(c Condition, o Number) Number {
	return Number{
		Nominal: inOrder(n.Nominal, o.Nominal.Within(c.True)),
		Low:     envelope(n.Low, o.Low.Within(c.Possible), math.Min),
		High:    envelope(n.High, o.High.Within(c.Possible), math.Max),
	}
}

// Beside puts together two numbers that are known at different times.
func (n Number) Beside(o Number) Number {
	return Number{inOrder(n.Nominal, o.Nominal), inOrder(n.Low, o.Low), inOrder(n.High, o.High)}
}

// inOrder puts the pieces of two curves that do not overlap in order.
func inOrder(a, b Curve) Curve {
	out := make(Curve, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		first := &a
		if b[0].Start < a[0].Start {
			first = &b
		}
		out, *first = append(out, (*first)[0]), (*first)[1:]
	}
	return append(append(out, a...), b...)
}

// Lowest is the smaller of the two where both are known, and the other where one is
// not.
func Lowest(a, b Number) Number {
	return Number{envelope(a.Nominal, b.Nominal, math.Min), envelope(a.Low, b.Low, math.Min), envelope(a.High, b.High, math.Min)}
}

// Highest is the larger of the two, where both are known.
func Highest(a, b Number) Number {
	return Number{chosen(a.Nominal, b.Nominal, math.Max), chosen(a.Low, b.Low, math.Max), chosen(a.High, b.High, math.Max)}
}

// chosen is the one that choose takes, where both are known. Which one that is changes
// only where the two cross: cut there.
func chosen(a, b Curve, choose func(x, y float64) float64) Curve {
	first := func(x, _ float64) float64 { return x }
	crossings := combine(a, b, minus).split([]float64{0})
	return combine(combine(a, crossings, first), b, choose)
}

// envelope is the one that choose takes where both are known, and the other where one
// is not.
func envelope(a, b Curve, choose func(x, y float64) float64) Curve {
	both := chosen(a, b, choose)
	var covered Spans
	for _, p := range both {
		covered = covered.add(Span{p.Start, p.End})
	}
	alone := func(c Curve) Curve {
		var all Spans
		for _, p := range c {
			all = all.add(Span{p.Start, p.End})
		}
		return c.Within(covered.Complement(all))
	}
	return inOrder(inOrder(both, alone(a)), alone(b))
}
