package readings

import (
	"cmp"
	"slices"
	"sort"
)

// Span is a stretch of time in seconds, from Start up to but not including End.
type Span struct{ Start, End float64 }

// Seconds is its length.
func (s Span) Seconds() float64 { return s.End - s.Start }

// Overlaps reports whether two spans share more than a point.
func (s Span) Overlaps(o Span) bool { return s.Start < o.End && o.Start < s.End }

// Spans is a list of spans in order, none empty, none touching the next.
type Spans []Span

// add appends a span that does not start before the last one, joining the two
// where they touch.
func (s Spans) add(x Span) Spans {
	if !(x.Start < x.End) {
		return s
	}
	if n := len(s); n > 0 && x.Start <= s[n-1].End {
		s[n-1].End = max(s[n-1].End, x.End)
		return s
	}
	return append(s, x)
}

// Union is where either holds.
func Union(a, b Spans) Spans {
	if len(a) == 0 {
		return b
	}
	if len(b) == 0 {
		return a
	}
	out := make(Spans, 0, len(a)+len(b))
	for len(a) > 0 || len(b) > 0 {
		if len(b) == 0 || len(a) > 0 && a[0].Start <= b[0].Start {
			out, a = out.add(a[0]), a[1:]
		} else {
			out, b = out.add(b[0]), b[1:]
		}
	}
	return out
}

// UnionOf is where any of the spans holds; they are in any order. It takes time in
// proportion to their number, one Union after another to its square.
func UnionOf(spans []Span) Spans {
	if !slices.IsSortedFunc(spans, byStart) {
		spans = slices.SortedStableFunc(slices.Values(spans), byStart)
	}
	var out Spans
	for _, x := range spans {
		out = out.add(x)
	}
	return out
}

func byStart(a, b Span) int { return cmp.Compare(a.Start, b.Start) }

// Intersect is where both hold. It takes no time for the spans of one that lie before
// the other begins: a few windows of a long list are asked for one after another.
func Intersect(a, b Spans) Spans {
	if len(a) == 0 || len(b) == 0 {
		return nil
	}
	a, b = a.from(b[0].Start), b.from(a[0].Start)
	if len(a) == 1 {
		a, b = b, a
	}
	if len(b) == 1 {
		return a.Within(b[0])
	}
	var out Spans
	for len(a) > 0 && len(b) > 0 {
		out = out.add(Span{max(a[0].Start, b[0].Start), min(a[0].End, b[0].End)})
		if a[0].End < b[0].End {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}

// Within is the part of s inside x: a part of the list itself where neither end is cut.
func (s Spans) Within(x Span) Spans {
	if !(x.Start < x.End) {
		return nil
	}
	s = s.from(x.Start).until(x.End)
	n := len(s)
	if n == 0 {
		return nil
	}
	if s[0].Start < x.Start || s[n-1].End > x.End {
		s = slices.Clone(s)
		s[0].Start, s[n-1].End = max(s[0].Start, x.Start), min(s[n-1].End, x.End)
	}
	return s[:n:n]
}

// Complement is the part of the windows where s does not hold.
func (s Spans) Complement(windows Spans) Spans {
	if len(windows) == 0 {
		return nil
	}
	near := s.from(windows[0].Start).until(windows[len(windows)-1].End)
	out := make(Spans, 0, len(near)+len(windows))
	for _, w := range windows {
		from := w.Start
		for _, x := range s.from(w.Start) {
			if x.Start >= w.End {
				break
			}
			out = out.add(Span{from, min(x.Start, w.End)})
			from = max(from, x.End)
		}
		out = out.add(Span{from, w.End})
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// from is the tail of s that ends after t.
func (s Spans) from(t float64) Spans {
	return s[sort.Search(len(s), func(i int) bool { return s[i].End > t }):]
}

// until is the head of s that begins before t.
func (s Spans) until(t float64) Spans {
	return s[:sort.Search(len(s), func(i int) bool { return s[i].Start >= t })]
}

// Join closes holes shorter than gap.
func (s Spans) Join(gap float64) Spans {
	if gap <= 0 || len(s) < 2 {
		return s
	}
	out := Spans{s[0]}
	for _, x := range s[1:] {
		if last := &out[len(out)-1]; x.Start-last.End < gap {
			last.End = x.End
		} else {
			out = append(out, x)
		}
	}
	return out
}

// AtLeast keeps the spans of at least that many seconds.
func (s Spans) AtLeast(seconds float64) Spans {
	var out Spans
	for _, x := range s {
		if x.Seconds() >= seconds {
			out = append(out, x)
		}
	}
	return out
}

// Widen moves each start by before and each end by after (seconds; a negative
// before starts earlier) and drops the empty ones.
func (s Spans) Widen(before, after float64) Spans {
	var out Spans
	for _, x := range s {
		out = out.add(Span{x.Start + before, x.End + after})
	}
	return out
}

// Contains reports whether t lies in one of the spans.
func (s Spans) Contains(t float64) bool {
	tail := s.from(t)
	return len(tail) > 0 && tail[0].Start <= t
}

// Covers reports whether one span holds all of x.
func (s Spans) Covers(x Span) bool {
	tail := s.from(x.Start)
	return len(tail) > 0 && tail[0].Start <= x.Start && x.End <= tail[0].End
}

// Seconds adds up the lengths.
func (s Spans) Seconds() float64 {
	total := 0.0
	for _, x := range s {
		total += x.Seconds()
	}
	return total
}

// Hull is the one span from the first start to the last end.
func (s Spans) Hull() Spans {
	if len(s) == 0 {
		return nil
	}
	return Spans{{s[0].Start, s[len(s)-1].End}}
}
