package readings

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// cells is how many unit stretches the brute-force checks look at. A list of
// spans with whole ends is then a set of cells, one bit each.
const cells = 24

type set uint32

const every set = 1<<cells - 1

func (s set) has(i int) bool { return s>>i&1 == 1 }

// spans lists the runs of a set.
func (s set) spans() Spans {
	var out Spans
	for i := 0; i < cells; i++ {
		if !s.has(i) {
			continue
		}
		j := i
		for j < cells && s.has(j) {
			j++
		}
		out = append(out, Span{float64(i), float64(j)})
		i = j
	}
	return out
}

func drawSet(t *rapid.T, name string) set {
	// Long runs and short ones: bits of two numbers put together.
	a := rapid.Uint32().Draw(t, name)
	if rapid.Bool().Draw(t, name+" in long runs") {
		a &= a << 1
		a |= a<<1 | a<<2
	}
	return set(a) & every
}

// orderly fails unless no span is empty and none touches the next.
func orderly(t *rapid.T, what string, spans Spans) {
	for i, x := range spans {
		if !(x.Start < x.End) || i > 0 && spans[i-1].End >= x.Start {
			t.Fatalf("%s is not in order: %v", what, spans)
		}
	}
}

func same(t *rapid.T, what string, got Spans, want set) {
	t.Helper()
	orderly(t, what, got)
	if diff := cmp.Diff(want.spans(), got); diff != "" {
		t.Fatalf("%s (-want +got):\n%s", what, diff)
	}
}

func TestSpansAreSets(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b, w := drawSet(t, "a"), drawSet(t, "b"), drawSet(t, "windows")
		as, bs, ws := a.spans(), b.spans(), w.spans()
		same(t, "union", Union(as, bs), a|b)
		same(t, "intersection", Intersect(as, bs), a&b)
		same(t, "complement", as.Complement(ws), w&^a)
		// De Morgan within the windows.
		left := Union(as, bs).Complement(ws)
		right := Intersect(as.Complement(ws), bs.Complement(ws))
		if !cmp.Equal(left, right) {
			t.Fatalf("not (a or b) = %v, not a and not b = %v", left, right)
		}
		left = Intersect(as, bs).Complement(ws)
		right = Union(as.Complement(ws), bs.Complement(ws))
		if !cmp.Equal(left, right) {
			t.Fatalf("not (a and b) = %v, not a or not b = %v", left, right)
		}
		if got := as.Complement(ws).Complement(ws); !cmp.Equal(got, Intersect(as, ws)) {
			t.Fatalf("twice not = %v", got)
		}
		from := rapid.IntRange(0, cells-1).Draw(t, "from")
		to := rapid.IntRange(from+1, cells).Draw(t, "to")
		x := Span{float64(from), float64(to)}
		inside := every >> (cells - (to - from)) << from
		same(t, "within", as.Within(x), a&inside)
		if got, want := as.Covers(x), a&inside == inside; got != want {
			t.Fatalf("covers %v: %v", x, got)
		}
		for i := 0; i < cells; i++ {
			if as.Contains(float64(i)) != a.has(i) || as.Contains(float64(i)+0.5) != a.has(i) {
				t.Fatalf("contains %d: %v", i, as.Contains(float64(i)))
			}
		}
		count := 0
		for i := 0; i < cells; i++ {
			if a.has(i) {
				count++
			}
		}
		if as.Seconds() != float64(count) {
			t.Fatalf("%v seconds, want %d", as.Seconds(), count)
		}
	})
}

// TestJoinAndAtLeast holds the two that settle events against loops over cells.
func TestJoinAndAtLeast(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := drawSet(t, "a")
		gap := rapid.IntRange(0, 6).Draw(t, "gap")
		joined, last := a, -1
		for i := 0; i < cells; i++ {
			if !a.has(i) {
				continue
			}
			if last >= 0 && i-last-1 < gap {
				for k := last + 1; k < i; k++ {
					joined |= 1 << k
				}
			}
			last = i
		}
		same(t, "join", a.spans().Join(float64(gap)), joined)
		least, long := rapid.IntRange(0, 8).Draw(t, "least"), set(0)
		for i := 0; i < cells; i++ {
			from, to := i, i
			for from > 0 && a.has(from-1) {
				from--
			}
			for to < cells && a.has(to) {
				to++
			}
			if a.has(i) && to-from >= least {
				long |= 1 << i
			}
		}
		same(t, "at least", a.spans().AtLeast(float64(least)), long)
	})
}

func TestWidenAndHull(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := drawSet(t, "a")
		before, after := rapid.IntRange(-3, 3).Draw(t, "before"), rapid.IntRange(0, 3).Draw(t, "after")
		var want set
		for _, x := range a.spans() {
			for i := int(x.Start) + before; i < int(x.End)+after; i++ {
				if i >= 0 && i < cells {
					want |= 1 << i
				}
			}
		}
		got := a.spans().Widen(float64(before), float64(after))
		orderly(t, "widen", got)
		same(t, "widen", got.Within(Span{0, cells}), want)
		hull := a.spans().Hull()
		switch {
		case a == 0 && hull != nil:
			t.Fatalf("the hull of nothing is %v", hull)
		case a != 0 && (len(hull) != 1 || !hull.Covers(a.spans()[0]) || hull.Seconds() != a.spans()[len(a.spans())-1].End-a.spans()[0].Start):
			t.Fatalf("hull %v", hull)
		}
	})
}

// TestOverlaps is by hand: sharing a point is not overlapping.
func TestOverlaps(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b Span
		want bool
	}{
		{Span{0, 1}, Span{1, 2}, false},
		{Span{0, 1.1}, Span{1, 2}, true},
		{Span{1, 2}, Span{0, 1}, false},
		{Span{0, 5}, Span{1, 2}, true},
	} {
		if c.a.Overlaps(c.b) != c.want || c.b.Overlaps(c.a) != c.want {
			t.Errorf("%v and %v: want %v", c.a, c.b, c.want)
		}
	}
}

// The union of many, in any order, is the set of all their cells; the spans given stay as
// they are.
func TestUnionOf(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var all []Span
		var want set
		for range rapid.IntRange(0, 12).Draw(t, "spans") {
			start, length := rapid.IntRange(0, cells-4).Draw(t, "start"), rapid.IntRange(0, 4).Draw(t, "length")
			all = append(all, Span{float64(start), float64(start + length)})
			for i := range length {
				want |= 1 << (start + i)
			}
		}
		before := slices.Clone(all)
		same(t, "the union", UnionOf(all), want)
		if !slices.Equal(all, before) {
			t.Fatalf("%v became %v", before, all)
		}
	})
}
