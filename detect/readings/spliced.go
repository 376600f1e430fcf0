package readings

import (
	"slices"
	"sort"
)

// Part is a line moved by Shift, standing for a number at the times of Where.
type Part struct {
	Line  *Line
	Shift float64
	Where Spans
}

// Spliced is a number put together from parts that do not overlap: a height
// from radio altitude here and pressure altitude there. Like a line it is
// compared with a constant without making a curve.
type Spliced []Part

// Compare is where the number stands in the relation to a constant.
func (s Spliced) Compare(r Relation, constant float64, windows Spans) Condition {
	var whole Condition
	var covered Spans
	for _, p := range s {
		where := Intersect(p.Where, windows)
		c := p.Line.Compare(r, constant-p.Shift, where)
		whole = Condition{
			Certain:  Union(whole.Certain, c.Certain),
			True:     Union(whole.True, c.True),
			False:    Union(whole.False, c.False),
			Possible: Union(whole.Possible, c.Possible),
		}
		covered = Union(covered, where)
	}
	whole.Possible = Union(whole.Possible, covered.Complement(windows))
	return whole
}

// Number is the number within the windows.
func (s Spliced) Number(windows Spans) Number {
	var whole Number
	for _, p := range s {
		n := p.Line.Number(Intersect(p.Where, windows))
		if p.Shift != 0 {
			n = n.shifted(p.Shift)
		}
		whole = whole.Beside(n)
	}
	return whole
}

// Nominal is the nominal reading of Number, without the bounds.
func (s Spliced) Nominal(windows Spans) (whole Curve) {
	for _, p := range s {
		c := p.Line.Nominal(Intersect(p.Where, windows))
		if p.Shift != 0 {
			c = c.shifted(p.Shift)
		}
		if n := len(whole); n > 0 && len(c) > 0 && c[0].Start < whole[n-1].Start {
			whole = inOrder(whole, c)
		} else {
			whole = append(whole, c...)
		}
	}
	return whole
}

func (n Number) shifted(by float64) Number {
	return Number{n.Nominal.shifted(by), n.Low.shifted(by), n.High.shifted(by)}
}

func (c Curve) shifted(by float64) Curve { return c.mapped(func(x float64) float64 { return x + by }) }

// At is the nominal value at t; ok is false where it is unknown.
func (s Spliced) At(t float64) (value float64, ok bool) {
	for _, p := range s {
		if p.Where.Contains(t) || reaches(p.Where, t) {
			return p.Line.curve(nominal, Spans{{t - p.Line.Gap, t + p.Line.Gap}}, p.Shift, p.Line.Interval).At(t)
		}
	}
	return 0, false
}

// Accuracy is the largest one in a span of time of the lines it is put together from.
func (s Spliced) Accuracy(within Span) (largest float64) {
	for _, p := range s {
		largest = max(largest, p.Line.AccuracyWithin(within))
	}
	return largest
}

// HasSamples reports whether the number rests on a sample within the windows.
func (s Spliced) HasSamples(windows Spans) bool {
	return slices.ContainsFunc(s, func(p Part) bool {
		return slices.ContainsFunc(Intersect(p.Where, windows), func(w Span) bool {
			return sort.SearchFloat64s(p.Line.Times, w.Start) < sort.SearchFloat64s(p.Line.Times, w.End)
		})
	})
}

// Samples lists the samples the number rests on within the windows, in order
// of time.
func (s Spliced) Samples(windows Spans) (times, values []float64) {
	type stretch struct {
		part     Part
		from, to int
	}
	var all []stretch
	for _, p := range s {
		for _, w := range Intersect(p.Where, windows) {
			from, to := sort.SearchFloat64s(p.Line.Times, w.Start), sort.SearchFloat64s(p.Line.Times, w.End)
			if from < to {
				all = append(all, stretch{p, from, to})
			}
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].part.Line.Times[all[i].from] < all[j].part.Line.Times[all[j].from] })
	n := 0
	for _, x := range all {
		n += x.to - x.from
	}
	times, values = make([]float64, 0, n), make([]float64, 0, n)
	for _, x := range all {
		times = append(times, x.part.Line.Times[x.from:x.to]...)
		for _, v := range x.part.Line.Values[x.from:x.to] {
			values = append(values, v+x.part.Shift)
		}
	}
	return times, values
}
