package readings

import (
	"cmp"
	"slices"
)

// Direction says which changes of a held parameter are meant.
type Direction int

const (
	Changes Direction = iota // of any kind
	Increases
	Decreases
)

// Steps lists the moments, inside the windows, at which the value changes in
// the direction. A change is seen at the first sample that shows it and can have
// happened at any time since the sample before. One across a gap is certain to
// have happened, but the value may have gone another way in between.
func Steps[T cmp.Ordered](h *Held[T], d Direction, windows Spans) (moments []Moment, unknown Spans) {
	for k := 0; k+1 < len(h.runs); k++ {
		last, next := h.Times[h.runs[k].last], h.Times[h.runs[k+1].first]
		if next-last > h.Gap {
			unknown = unknown.add(Span{last, next})
		}
		from, to := h.value(k), h.value(k+1)
		if from == to || d == Increases && to < from || d == Decreases && to > from {
			continue
		}
		if windows.Contains(next) {
			moments = append(moments, Moment{Nominal: next, Earliest: last - h.TimeAccuracy, Latest: next + h.TimeAccuracy, Certain: true})
		}
	}
	return moments, Intersect(unknown, windows)
}

// Either is the moments of both lists in order of time.
func Either(a, b []Moment) []Moment {
	out := slices.Concat(a, b)
	at := func(m Moment) float64 {
		if m.InNominal() {
			return m.Nominal
		}
		return m.Earliest
	}
	slices.SortStableFunc(out, func(x, y Moment) int { return cmp.Compare(at(x), at(y)) })
	return out
}

// Latched holds from where set holds until reset holds; while both hold it does
// not. It is certain from a certain set until a possible reset, and possible
// from a possible set until a certain reset.
func Latched(set, reset Condition, windows Spans) Condition {
	return Condition{
		Certain:  latch(set.Certain, reset.Possible, windows),
		True:     latch(set.True, Union(reset.True, reset.Missing(windows)), windows),
		False:    latch(Union(set.True, set.Missing(windows)), reset.True, windows).Complement(windows),
		Possible: latch(set.Possible, reset.Certain, windows),
	}
}

func latch(set, reset, windows Spans) Spans {
	var out Spans
	free := reset.Complement(windows)
	for _, f := range free {
		if inside := set.Within(f); len(inside) > 0 {
			out = out.add(Span{inside[0].Start, f.End})
		}
	}
	return out
}

// Often holds from each moment that is the count-th within so many seconds for
// as long as that stays so.
func Often(moments []Moment, count int, seconds float64, windows Spans) Condition {
	var sure, nominal, maybe Spans
	crowd := func(ms []Moment, first, last func(Moment) float64) Spans {
		var all []Span
		for i := 0; count > 0 && count <= len(ms)-i; i++ {
			if start, end := last(ms[i+count-1]), first(ms[i])+seconds; start < end {
				all = append(all, Span{start, end})
			}
		}
		return UnionOf(all)
	}
	var happened, certain []Moment
	for _, m := range moments {
		if m.InNominal() {
			happened = append(happened, m)
		}
		if m.Certain {
			certain = append(certain, m)
		}
	}
	earliest := func(m Moment) float64 { return m.Earliest }
	latest := func(m Moment) float64 { return m.Latest }
	at := func(m Moment) float64 { return m.Nominal }
	sure = crowd(certain, earliest, latest)
	nominal = Intersect(crowd(happened, at, at), windows)
	maybe = crowd(moments, latest, earliest)
	return Condition{Certain: Intersect(sure, windows), True: nominal, False: nominal.Complement(windows), Possible: Intersect(maybe, windows)}
}
