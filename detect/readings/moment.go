package readings

import (
	"math"
	"sort"
)

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
// that holds from the first known time does not begin there.
//
// In every history each beginning lies in the bounds of one of the moments, but
// for one kind: where the condition is about to end and its end is uncertain, a
// history in which it wavers first adds no moment.
func Begins(c Condition) []Moment {
	var out []Moment
	for _, p := range c.Possible {
		from, fromFalse := p.Start, reaches(c.False, p.Start)
		for _, s := range c.Certain.Within(p) {
			if fromFalse || from < s.Start {
				out = append(out, beginsWithin(c, Span{from, s.Start}, fromFalse, true)...)
			}
			from, fromFalse = s.End, false
		}
		if from < p.End {
			out = append(out, beginsWithin(c, Span{from, p.End}, fromFalse, false)...)
		}
	}
	return out
}

// beginsWithin lists the beginnings inside a span, its ends included, on which
// the condition is possible and not certain. fromFalse says that it is false in
// every history just before the span, toTrue that it is certain just behind it.
func beginsWithin(c Condition, u Span, fromFalse, toTrue bool) []Moment {
	var out []Moment
	earliest := u.Start
	for _, t := range c.True.from(u.Start) {
		if t.Start > u.End {
			break
		}
		if t.Start >= u.Start && (reaches(c.False, t.Start) || fromFalse && len(out) == 0) {
			out = append(out, Moment{Nominal: t.Start, Earliest: earliest, Latest: min(t.End, u.End)})
			earliest = t.End
		}
	}
	switch {
	case len(out) == 1:
		out[0].Latest, out[0].Certain = u.End, fromFalse && toTrue
	case len(out) == 0 && (fromFalse || toTrue):
		out = append(out, Moment{Nominal: math.NaN(), Earliest: u.Start, Latest: u.End})
	case len(out) > 1:
		out[len(out)-1].Latest = u.End
	}
	return out
}

// reaches reports whether one of the spans holds just before t.
func reaches(s Spans, t float64) bool {
	i := sort.Search(len(s), func(i int) bool { return s[i].End >= t })
	return i < len(s) && s[i].Start < t
}

// Around holds from before seconds ahead of each moment until after seconds behind
// it.
func Around(moments []Moment, before, after float64, windows Spans) Condition {
	var sure, nominal, maybe []Span
	for _, m := range moments {
		maybe = append(maybe, Span{m.Earliest - before, m.Latest + after})
		if m.Certain {
			sure = append(sure, Span{m.Latest - before, m.Earliest + after})
		}
		if m.InNominal() {
			nominal = append(nominal, Span{m.Nominal - before, m.Nominal + after})
		}
	}
	holds := Intersect(UnionOf(nominal), windows)
	return Condition{
		Certain:  Intersect(UnionOf(sure), windows),
		True:     holds,
		False:    holds.Complement(windows),
		Possible: Intersect(UnionOf(maybe), windows),
	}
}

// LastBefore keeps, for each of the later moments, the last of the moments
// before it and after the later moment before that. It is certain where it and the later one
// happen in every history and no other moment may come between them.
func LastBefore(moments, later []Moment) []Moment {
	var out []Moment
	from := math.Inf(-1)
	for _, l := range later {
		if !l.InNominal() {
			continue
		}
		last := -1
		for i, m := range moments {
			if m.InNominal() && m.Nominal > from && m.Nominal <= l.Nominal {
				last = i
			}
		}
		if last >= 0 {
			m := moments[last]
			m.Certain = m.Certain && l.Certain
			for i, o := range moments {
				if i != last && o.Latest > m.Latest && o.Earliest < l.Latest {
					m.Certain = false
				}
			}
			out = append(out, m)
		}
		from = l.Nominal
	}
	return out
}
