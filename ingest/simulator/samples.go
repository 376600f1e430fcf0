package simulator

// A condition as the samples show it. It is every one of its parts; a part is
// any one of its facts; a fact is read from one column.
type condition []part

type part []fact

// fact is something one column tells at each of its samples. The margin is 0
// for what really is; for a number, a positive one asks for more than the
// recorded accuracy and a negative one makes do with less.
type fact struct {
	column string
	holds  func(t, margin float64) bool
}

// steady is a fact without a margin: something that is or is not.
func steady(column string, holds func(float64) bool) fact {
	return fact{column, func(t, _ float64) bool { return holds(t) }}
}

// holds reports whether the condition really holds.
func (c condition) holds(t float64) bool {
	return c.all(func(x fact) bool { return x.holds(t, 0) })
}

// decided reports whether the samples either side of a moment leave no doubt
// that the condition holds: what both show, and with the accuracy against it.
func (f *Flight) decided(c condition, t float64) bool {
	return c.all(func(x fact) bool {
		before, after := f.around(x.column, t)
		return x.holds(before, 1) && x.holds(after, 1)
	})
}

// open reports whether the samples either side of a moment allow that the
// condition holds.
func (f *Flight) open(c condition, t float64) bool {
	return c.all(func(x fact) bool {
		before, after := f.around(x.column, t)
		return x.holds(before, -1) || x.holds(after, -1)
	})
}

// all reports whether every part has a fact that passes.
func (c condition) all(passes func(fact) bool) bool {
	for _, p := range c {
		some := false
		for _, x := range p {
			some = some || passes(x)
		}
		if !some {
			return false
		}
	}
	return true
}

// around gives the sample times of a column either side of a moment.
func (f *Flight) around(column string, t float64) (before, after float64) {
	if c, ok := f.columns[column]; ok {
		return c.before(t), c.after(t)
	}
	return t, t
}

// certainty of a stretch in which a condition really holds: certain when at some
// moment in it the samples decide it.
func (f *Flight) certainty(c condition, s stretch) string {
	for t := s.start; t <= s.end; t += 1.0 / 16 {
		if f.decided(c, t) {
			return Certain
		}
	}
	return Possible
}
