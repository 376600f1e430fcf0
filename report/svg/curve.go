package svg

import "downlock/detect/readings"

// Curve draws a number over time. A held number steps from value to value. Any other
// number runs along its pieces. Its line breaks where two neighbours do not meet, since
// the number has another source from there on. Both lines have a gap where the number is
// unknown.
//
// Where several points fall on one column, Curve keeps only the first, the least, the
// greatest and the last. That looks the same and bounds the size.
func Curve(c readings.Curve, held bool, x, y Scale) *Path {
	p := newPath(2 * len(c))
	thin := thinner{path: p}
	for i, piece := range c {
		if i > 0 {
			before := c[i-1]
			if piece.Start > before.End || !held && piece.From != before.To {
				thin.flush()
				p.Lift()
			}
		}
		thin.add(x.At(piece.Start), y.At(piece.From))
		thin.add(x.At(piece.End), y.At(piece.To))
	}
	thin.flush()
	return p
}

// Dots marks every sample. All must lie inside the scale of x.
func Dots(times, values []float64, x, y Scale) *Path {
	p := newPath(len(times))
	for i, t := range times {
		p.Dot(x.At(t), y.At(values[i]))
	}
	return p
}

// columnWidth is the width in units within which points are merged.
const columnWidth = 0.8

// thinner keeps the first, least, greatest and last point of every column.
type thinner struct {
	path        *Path
	n           int
	start       float64
	first, last point
	low, high   point
}

// point adds the i-th point of its column.
type point struct {
	x, y float64
	i    int
}

func (t *thinner) add(x, y float64) {
	if t.n > 0 && x-t.start >= columnWidth {
		t.flush()
	}
	at := point{x, y, t.n}
	if t.n == 0 {
		t.start, t.first, t.low, t.high = x, at, at, at
	}
	if y < t.low.y {
		t.low = at
	}
	if y > t.high.y {
		t.high = at
	}
	t.last = at
	t.n++
}

func (t *thinner) flush() {
	if t.n == 0 {
		return
	}
	a, b := t.low, t.high
	if b.i < a.i {
		a, b = b, a
	}
	for _, p := range []point{t.first, a, b, t.last} {
		t.path.LineTo(p.x, p.y)
	}
	t.n = 0
}
