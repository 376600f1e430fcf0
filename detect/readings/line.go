package readings

import (
	"math"
	"slices"
	"sort"
)

// Line is a continuous parameter: straight between samples no further apart
// than the gap, known to within ± Accuracy.
type Line struct {
	Sampling
	Values   []float64
	Accuracy float64
	// Margins, where it is set, is asked once, when first needed, for the part on top
	// of Accuracy at each sample; between two samples it runs straight.
	Margins func() Margins

	blocks []block
	kept   *keptMargins // shared with lines widened from this one
}

// Widened is the line known to within so much less.
func (l *Line) Widened(by float64) *Line {
	l.share()
	out := *l
	out.Accuracy += by
	return &out
}

// AccuracyWithin is the largest accuracy in a span of time.
func (l *Line) AccuracyWithin(x Span) float64 {
	from, to := l.Within(x)
	if l.Margins == nil || from == to {
		return l.Accuracy
	}
	from, to = max(0, from-1), min(len(l.Times), to+1)
	return l.Accuracy + slices.Max(l.margins(from, to)[from:to])
}

// exact says that the line is the truth.
func (l *Line) exact() bool { return l.Accuracy == 0 && l.Margins == nil && !l.hasGap() }

// Compare is where the line stands in the relation to a constant. It scans the
// samples once for each reading and makes no curve.
func (l *Line) Compare(r Relation, constant float64, windows Spans) Condition {
	return l.loosely(windows, func(w Spans) Condition { return l.compare(r, constant, w) })
}

func (l *Line) compare(r Relation, constant float64, windows Spans) Condition {
	switch r {
	case Below: // not at or above
		return Not(l.compare(AtLeast, constant, windows), windows)
	case AtMost:
		return Not(l.compare(Above, constant, windows), windows)
	case Equal, Unequal:
		return Compare(l.number(windows), r, Constant(constant, windows), windows)
	}
	var c Condition
	var not Spans
	orEqual := r == AtLeast
	c.True, c.False = l.sides(nominal, constant, orEqual, l.Interval)
	if l.exact() {
		c.Certain, not = c.True, c.False
	} else {
		c.Certain, _ = l.sides(lower, constant+l.Accuracy, orEqual, instant)
		_, not = l.sides(upper, constant-l.Accuracy, orEqual, instant)
	}
	c = c.Clip(windows)
	c.Possible = not.Complement(windows)
	return c
}

// blockLength is how many samples a block sums up: a comparison then looks at
// most blocks once instead of at each of their samples.
const blockLength = 64

// block sums up the samples from one multiple of blockLength to the next: their
// smallest and largest value, and whether there is a gap before one of them.
type block struct {
	smallest, largest float64
	gap               bool
}

// summary returns the blocks, made when first asked for.
func (l *Line) summary() []block {
	if l.blocks != nil {
		return l.blocks
	}
	l.blocks = make([]block, 0, len(l.Values)/blockLength+1)
	for from := 0; from < len(l.Values); from += blockLength {
		b := block{smallest: l.Values[from], largest: l.Values[from]}
		for i := from; i < min(from+blockLength, len(l.Values)); i++ {
			b.smallest, b.largest = min(b.smallest, l.Values[i]), max(b.largest, l.Values[i])
			b.gap = b.gap || i > 0 && l.Times[i]-l.Times[i-1] > l.Gap
		}
		l.blocks = append(l.blocks, b)
	}
	return l.blocks
}

// hasGap reports whether two neighbouring samples have a gap between them.
func (l *Line) hasGap() bool {
	return slices.ContainsFunc(l.summary(), func(b block) bool { return b.gap })
}

// sides returns where a reading of the line, but for its Accuracy, is above the level (or
// on it, with orEqual) and where it is not. Into a gap the last sample reaches for hold
// seconds.
func (l *Line) sides(r reading, level float64, orEqual bool, hold float64) (above, rest Spans) {
	n := len(l.Times)
	if n == 0 {
		return nil, nil
	}
	threshold := level
	if orEqual {
		threshold = math.Nextafter(level, math.Inf(-1)) // v > threshold is v >= level
	}
	values := l.valuesOf(r)
	start, side := l.Times[0]-l.Interval, values.at(0) > threshold
	put := func(end float64) {
		if side {
			above = above.add(Span{start, end})
		} else {
			rest = rest.add(Span{start, end})
		}
	}
	blocks := l.summary()
	for i := 1; i < n; i++ {
		if i%blockLength == 0 {
			k := i / blockLength
			smallest, largest := values.within(k)
			if !blocks[k].gap && (side && smallest > threshold || !side && largest <= threshold) {
				i += blockLength - 1
				continue
			}
		}
		value := values.at(i)
		next := value > threshold
		t0, t1 := l.Times[i-1], l.Times[i]
		switch {
		case t1-t0 > l.Gap:
			put(min(t0+hold, t1))
			start, side = t1, next
		case next != side:
			before := values.at(i - 1)
			t := t0 + (t1-t0)*(level-before)/(value-before)
			put(t)
			start, side = t, next
		}
	}
	put(l.Times[n-1] + l.Interval)
	return above, rest
}

// Number is the line within the windows.
func (l *Line) Number(windows Spans) Number { return l.shaken(windows, l.number) }

// Nominal is the nominal reading of Number without the bounds, of which the margins are most
// of the work.
func (l *Line) Nominal(windows Spans) Curve {
	return l.shaken(windows, func(w Spans) Number { return Number{Nominal: l.curve(nominal, w, 0, l.Interval)} }).Nominal
}

func (l *Line) number(windows Spans) Number {
	usual := l.curve(nominal, windows, 0, l.Interval)
	if l.exact() {
		return Number{usual, usual, usual}
	}
	return Number{usual, l.curve(lower, windows, -l.Accuracy, instant), l.curve(upper, windows, l.Accuracy, instant)}
}

// curve is a reading of the line moved by shift, within the windows.
func (l *Line) curve(r reading, windows Spans, shift, hold float64) Curve {
	samples := 0
	for _, w := range windows {
		samples += sort.SearchFloat64s(l.Times, w.End) - sort.SearchFloat64s(l.Times, w.Start) + 2
	}
	values := l.valuesOf(r)
	out := make(Curve, 0, samples)
	for _, w := range windows {
		// Piece i ends at sample i; piece 0 and the one past the last are the ends.
		i := sort.SearchFloat64s(l.Times, w.Start)
		for ; i <= len(l.Times) && len(l.Times) > 0; i++ {
			p := l.pieceOf(values, i, hold)
			if p.Start >= w.End {
				break
			}
			if start, end := max(p.Start, w.Start), min(p.End, w.End); start < end {
				p = p.cut(start, end)
				p.From, p.To = p.From+shift, p.To+shift
				out = append(out, p)
			}
		}
	}
	return out
}

// piece is the run that ends at sample i, or the one held past the last sample.
func (l *Line) piece(i int, hold float64) Piece { return l.pieceOf(l.valuesOf(nominal), i, hold) }

func (l *Line) pieceOf(values *lineValues, i int, hold float64) Piece {
	n := len(l.Times)
	switch {
	case i == 0:
		v := values.at(0)
		return Piece{l.Times[0] - l.Interval, l.Times[0], v, v}
	case i == n:
		v := values.at(n - 1)
		return Piece{l.Times[n-1], l.Times[n-1] + l.Interval, v, v}
	}
	t0, t1, v0 := l.Times[i-1], l.Times[i], values.at(i-1)
	if t1-t0 > l.Gap {
		return Piece{t0, min(t0+hold, t1), v0, v0}
	}
	return Piece{t0, t1, v0, values.at(i)}
}
