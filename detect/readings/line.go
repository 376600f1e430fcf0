package readings

import "sort"

// Line is a continuous parameter: straight between samples no further apart
// than the gap, known to within ± Accuracy.
type Line struct {
	Sampling
	Values   []float64
	Accuracy float64
}

// Compare is where the line stands in the relation to a constant. It scans the
// samples once for each reading and makes no curve.
func (l *Line) Compare(r Relation, constant float64, windows Spans) Condition {
	switch r {
	case Below: // not at or above
		return Not(l.Compare(AtLeast, constant, windows), windows)
	case AtMost:
		return Not(l.Compare(Above, constant, windows), windows)
	case Equal, Unequal:
		return Compare(l.Number(windows), r, Constant(constant, windows), windows)
	}
	var c Condition
	var not Spans
	orEqual := r == AtLeast
	c.True, c.False = l.sides(constant, orEqual, l.Interval)
	if l.Accuracy == 0 && !l.hasGap() {
		c.Certain, not = c.True, c.False
	} else {
		c.Certain, _ = l.sides(constant+l.Accuracy, orEqual, instant)
		_, not = l.sides(constant-l.Accuracy, orEqual, instant)
	}
	c = c.Clip(windows)
	c.Possible = not.Complement(windows)
	return c
}

func (l *Line) hasGap() bool {
	for i := 1; i < len(l.Times); i++ {
		if l.Times[i]-l.Times[i-1] > l.Gap {
			return true
		}
	}
	return false
}

// sides gives where the line is above the level (or on it, with orEqual) and
// where it is not. Into a gap the last sample reaches for hold seconds.
func (l *Line) sides(level float64, orEqual bool, hold float64) (above, rest Spans) {
	if len(l.Times) == 0 {
		return nil, nil
	}
	isAbove := func(v float64) bool { return v > level || orEqual && v == level }
	put := func(side bool, start, end float64) {
		if side {
			above = above.add(Span{start, end})
		} else {
			rest = rest.add(Span{start, end})
		}
	}
	start, side := l.Times[0]-l.Interval, isAbove(l.Values[0])
	for i := 1; i < len(l.Times); i++ {
		v, next := l.Values[i], isAbove(l.Values[i])
		t0, t1 := l.Times[i-1], l.Times[i]
		if t1-t0 > l.Gap {
			put(side, start, min(t0+hold, t1))
			start, side = t1, next
			continue
		}
		if next != side {
			t := t0 + (t1-t0)*(level-l.Values[i-1])/(v-l.Values[i-1])
			put(side, start, t)
			start, side = t, next
		}
	}
	put(side, start, l.Times[len(l.Times)-1]+l.Interval)
	return above, rest
}

// Number is the line within the windows.
func (l *Line) Number(windows Spans) Number {
	nominal := l.curve(windows, 0, l.Interval)
	if l.Accuracy == 0 && !l.hasGap() {
		return Number{nominal, nominal, nominal}
	}
	return Number{nominal, l.curve(windows, -l.Accuracy, instant), l.curve(windows, l.Accuracy, instant)}
}

// curve is the line moved by shift, within the windows.
func (l *Line) curve(windows Spans, shift, hold float64) Curve {
	var out Curve
	for _, w := range windows {
		// Piece i ends at sample i; piece 0 and the one past the last are the ends.
		i := sort.SearchFloat64s(l.Times, w.Start)
		for ; i <= len(l.Times) && len(l.Times) > 0; i++ {
			p := l.piece(i, hold)
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
func (l *Line) piece(i int, hold float64) Piece {
	n := len(l.Times)
	switch {
	case i == 0:
		return Piece{l.Times[0] - l.Interval, l.Times[0], l.Values[0], l.Values[0]}
	case i == n:
		return Piece{l.Times[n-1], l.Times[n-1] + l.Interval, l.Values[n-1], l.Values[n-1]}
	}
	t0, t1, v0 := l.Times[i-1], l.Times[i], l.Values[i-1]
	if t1-t0 > l.Gap {
		return Piece{t0, min(t0+hold, t1), v0, v0}
	}
	return Piece{t0, t1, v0, l.Values[i]}
}
