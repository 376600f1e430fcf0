package readings

import "sort"

// Sampling says when a parameter was sampled, in seconds: Times rise strictly,
// Interval is the typical one, and samples further apart than Gap have a gap
// between them. Each sample may have been taken earlier or later than its time by
// TimeAccuracy.
type Sampling struct {
	Times         []float64
	Interval, Gap float64
	TimeAccuracy  float64
}

// loosely evaluates a condition on the samples. Where their times are known to
// within some time only, so are the times at which the condition changes.
func (s Sampling) loosely(windows Spans, c func(Spans) Condition) Condition {
	by := s.TimeAccuracy
	if by == 0 || len(windows) == 0 {
		return c(windows)
	}
	wide := windows.Hull().Widen(-by, by)
	return c(wide).Blurred(by, wide).Clip(windows)
}

// shaken is a number made of the samples, with bounds that allow for their times.
func (s Sampling) shaken(windows Spans, n func(Spans) Number) Number {
	by := s.TimeAccuracy
	if by == 0 || len(windows) == 0 {
		return n(windows)
	}
	return n(windows.Hull().Widen(-by, by)).Shaken(by).Within(windows)
}

// Within is the range of the samples in a span, both ends included, as indices.
func (s Sampling) Within(x Span) (from, to int) {
	from = sort.SearchFloat64s(s.Times, x.Start)
	to = sort.Search(len(s.Times), func(i int) bool { return s.Times[i] > x.End })
	return from, max(from, to)
}

// Gaps lists the stretches of a span, its ends included, that are longer than the
// gap and without a sample.
func (s Sampling) Gaps(x Span) (out Spans) {
	from, to := s.Within(x)
	before := x.Start
	check := func(at float64) {
		if at-before > s.Gap {
			out = append(out, Span{before, at})
		}
		before = at
	}
	for _, t := range s.Times[from:to] {
		check(t)
	}
	check(x.End)
	return out
}

// Rests lists the stretches of a span that begin and end with a sample, are at
// least so many seconds long, have no gap, and in which no sample differs from
// the first by more than waver; with the value of that first sample.
func (s Sampling) Rests(values []float64, within Span, least, waver float64) (out []Rest) {
	from, to := s.Within(within)
	for i := from; i < to; {
		j := i
		for j+1 < to && values[j+1]-values[i] <= waver && values[i]-values[j+1] <= waver && s.Times[j+1]-s.Times[j] <= s.Gap {
			j++
		}
		if s.Times[j]-s.Times[i] >= least {
			out = append(out, Rest{Span{s.Times[i], s.Times[j]}, values[i]})
		}
		i = j + 1
	}
	return out
}

// Rest is a stretch in which a number stays where it is.
type Rest struct {
	Span  Span
	Value float64
}
