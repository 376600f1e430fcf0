package readings

import "math"

// Moment is a point in time as well as the samples tell it. The true one lies
// in Earliest to Latest. Certain says that it happens in every history; a
// moment that happens in some histories only but not in the nominal reading has
// a Nominal that is not a number.
type Moment struct {
	Nominal, Earliest, Latest float64
	Certain                   bool
}

// InNominal reports whether the moment happens in the nominal reading.
func (m Moment) InNominal() bool { return !math.IsNaN(m.Nominal) }

// Begins lists the moments at which a condition starts to hold. A condition
// that holds from the beginning of what is known does not begin there.
func Begins(c Condition) []Moment {
	var out []Moment
	for _, p := range c.Possible {
		out = append(out, beginsWithin(c, p)...)
	}
	return out
}

// beginsWithin lists the beginnings inside one possible span. Where the
// condition is false in every history before the span and true in every history
// somewhere in it, the first beginning is certain.
func beginsWithin(c Condition, p Span) []Moment {
	trues, sure := c.True.Within(p), c.Certain.Within(p)
	falseBefore := reaches(c.False, p.Start)
	if len(trues) == 0 {
		if falseBefore {
			return []Moment{{math.NaN(), p.Start, p.End, false}}
		}
		return nil
	}
	var out []Moment
	earliest := p.Start
	for i, t := range trues {
		m := Moment{Nominal: t.Start, Earliest: earliest, Latest: t.End}
		earliest = t.End
		if i == 0 && !falseBefore && !reaches(c.False, t.Start) {
			continue
		}
		if s := sure.Within(t); len(s) > 0 {
			m.Latest = s[0].Start
			m.Certain = i == 0 && falseBefore
		}
		out = append(out, m)
	}
	return out
}

// reaches reports whether one of the spans holds just before t.
func reaches(s Spans, t float64) bool {
	for _, x := range s {
		if x.Start < t && t <= x.End {
			return true
		}
	}
	return false
}

// After holds from each moment for that many seconds; Before, up to it.
func After(moments []Moment, seconds float64, windows Spans) Condition {
	return around(moments, 0, seconds, windows)
}

// Before holds for that many seconds up to each moment.
func Before(moments []Moment, seconds float64, windows Spans) Condition {
	return around(moments, seconds, 0, windows)
}

// around holds from before seconds ahead of each moment until after seconds
// behind it.
func around(moments []Moment, before, after float64, windows Spans) Condition {
	var sure, nominal, maybe Spans
	for _, m := range moments {
		maybe = Union(maybe, Spans{}.add(Span{m.Earliest - before, m.Latest + after}))
		if m.Certain {
			sure = Union(sure, Spans{}.add(Span{m.Latest - before, m.Earliest + after}))
		}
		if m.InNominal() {
			nominal = Union(nominal, Spans{}.add(Span{m.Nominal - before, m.Nominal + after}))
		}
	}
	nominal = Intersect(nominal, windows)
	return Condition{
		Certain:  Intersect(sure, windows),
		True:     nominal,
		False:    nominal.Complement(windows),
		Possible: Intersect(maybe, windows),
	}
}

// LastBefore keeps, for each of the later moments, the last of the moments
// before it and after the later moment before that.
func LastBefore(moments, later []Moment) []Moment {
	var out []Moment
	from := math.Inf(-1)
	for _, l := range later {
		if !l.InNominal() {
			continue
		}
		var last *Moment
		for i := range moments {
			if m := &moments[i]; m.InNominal() && m.Nominal > from && m.Nominal <= l.Nominal {
				last = m
			}
		}
		if last != nil {
			out = append(out, *last)
		}
		from = l.Nominal
	}
	return out
}
