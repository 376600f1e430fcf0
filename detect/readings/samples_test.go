package readings

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// The figures below are read off these samples by hand: 0 at 0 s to 40 at 4 s, nothing
// until 10 s, then 7 at 10 s and 9 at 12 s. Two seconds are no gap, more than two are.
func climb() *Line {
	return &Line{Sampling: Sampling{Times: []float64{0, 1, 2, 4, 10, 12}, Interval: 1, Gap: 2}, Values: []float64{0, 10, 20, 40, 7, 9}}
}

func alike(t *testing.T, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty(), cmpopts.EquateApprox(0, 1e-9), cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

func TestValueOfALine(t *testing.T) {
	t.Parallel()
	l := climb()
	for _, c := range []struct {
		at, value float64
		known     bool
	}{
		{0, 0, true}, {0.5, 5, true}, {1, 10, true}, {3, 30, true}, {4, 40, true}, {12, 9, true}, {11, 8, true},
		{-0.5, 0, false}, {5, 0, false}, {9.9, 0, false}, {12.5, 0, false},
	} {
		v, ok := l.At(c.at)
		alike(t, "value", v, c.value)
		alike(t, "known", ok, c.known)
	}
	d, ok := l.Change(1, 3.5)
	alike(t, "change", d, 25.0)
	alike(t, "known", ok, true)
	for _, ends := range [][2]float64{{1, 5}, {5, 11}, {-1, 13}} {
		if _, ok := l.Change(ends[0], ends[1]); ok {
			t.Errorf("change over %v is known", ends)
		}
	}
}

// Into a gap the usual reading goes on for an interval; the bounds are those of the sample, and no longer.
func TestBoundsEndAtAGap(t *testing.T) {
	t.Parallel()
	n := climb().Number(Spans{{0, 13}})
	for name, c := range map[string]Curve{"low": n.Low, "high": n.High} {
		if v, ok := c.At(4); !ok || v != 40 {
			t.Errorf("%s: %v %v at the sample before the gap", name, v, ok)
		}
		if v, ok := c.At(4.5); ok {
			t.Errorf("%s: %v within the gap", name, v)
		}
	}
	if v, ok := n.Nominal.At(4.5); !ok || v != 40 {
		t.Errorf("nominal: %v %v within an interval", v, ok)
	}
	for _, c := range []struct {
		times []float64
		gap   bool
	}{{[]float64{0, 1, 2}, false}, {[]float64{0, 10, 11}, true}, {[]float64{0, 1, 10}, true}, {[]float64{0, 2, 4}, false}} {
		l := Line{Sampling: Sampling{Times: c.times, Interval: 1, Gap: 2}, Values: make([]float64, 3)}
		if l.hasGap() != c.gap {
			t.Errorf("samples at %v: a gap %v", c.times, !c.gap)
		}
	}
}

// The mean of the samples from the first time up to, not including, the second. Samples are
// missing when there are fewer than one less than an interval each would make.
func TestMeanAndExtremes(t *testing.T) {
	t.Parallel()
	l := climb()
	for _, c := range []struct {
		from, to, mean float64
		known          bool
	}{
		{0, 2, 5, true},         // 0 and 10
		{0, 3, 10, true},        // 0, 10, 20 in three seconds
		{0, 5, 17.5, true},      // four samples where there might be five
		{0, 5.5, 0, false},      // four where there might be six
		{4, 6, 40, true},        // one where there might be two
		{4, 6.5, 0, false},      // one where there might be three
		{5, 6, 0, false},        // none
		{5, 5, 0, false},        // no time
		{9.5, 13, 0, false},     // two where there might be four
		{9.5, 12.25, 8, true},   // two where there might be three
		{2.5, 4.25, 40, true},   // one where there might be two
		{0.5, 1.5, 10, true},    // one sample, one second
		{11.5, 13.5, 9, true},   // two seconds with one sample, and the end
		{11.5, 13.75, 0, false}, // a little longer
	} {
		m, ok := l.Mean(c.from, c.to)
		alike(t, "mean", m, c.mean)
		alike(t, "known", ok, c.known)
	}
	half := &Line{Sampling: Sampling{Times: []float64{0, 0.5, 1, 1.5}, Interval: 0.5, Gap: 2}, Values: []float64{1, 2, 3, 4}}
	if _, ok := half.Mean(0, 3); ok { // four where there might be six
		t.Error("four samples at half a second are enough for three seconds")
	}
	low, high := l.Extremes(Spans{{1, 2.5}, {9, 11}})
	alike(t, "extremes", []float64{low, high}, []float64{7, 20})
	low, high = l.Extremes(Spans{{5, 6}})
	alike(t, "extremes of none", []float64{low, high}, []float64{math.Inf(1), math.Inf(-1)})
	alike(t, "largest", Largest([]float64{-3, -1, -2}), -1.0)
	alike(t, "largest of none", Largest(nil), math.Inf(-1))
}

func TestSamplesWithin(t *testing.T) {
	t.Parallel()
	s := climb().Sampling
	for _, c := range []struct {
		within   Span
		from, to int
	}{{Span{1, 4}, 1, 4}, {Span{0.5, 3.9}, 1, 3}, {Span{5, 6}, 4, 4}, {Span{-2, -1}, 0, 0}, {Span{13, 14}, 6, 6}, {Span{4, 1}, 3, 3}} {
		from, to := s.Within(c.within)
		alike(t, "within", [2]int{from, to}, [2]int{c.from, c.to})
	}
	alike(t, "gaps", s.Gaps(Span{-3, 20}), Spans{{-3, 0}, {4, 10}, {12, 20}})
	alike(t, "no gap", s.Gaps(Span{-2, 4}), Spans{})
	alike(t, "a gap of its own", s.Gaps(Span{5, 9}), Spans{{5, 9}})
	alike(t, "as long as a gap may be", s.Gaps(Span{12, 14}), Spans{})
}

// Rests of at least two seconds within a waver of 1: the first sample rules, on both sides,
// and a gap ends one.
func TestRests(t *testing.T) {
	t.Parallel()
	s := Sampling{Times: []float64{0, 1, 2, 3, 4, 5, 6, 7, 9, 12, 13, 14}, Interval: 1, Gap: 2}
	values := []float64{5, 6, 4, 7, 7.5, 6, 20, 30, 30, 30, 30, 30}
	alike(t, "rests", s.Rests(values, Span{0, 20}, 2, 1), []Rest{
		{Span{0, 2}, 5}, {Span{3, 5}, 7}, {Span{7, 9}, 30}, {Span{12, 14}, 30},
	})
	alike(t, "shorter ones do not count", s.Rests(values, Span{0, 20}, 2.5, 1), []Rest{})
	alike(t, "within a span", s.Rests(values, Span{1, 13}, 1, 1), []Rest{{Span{3, 5}, 7}, {Span{7, 9}, 30}, {Span{12, 13}, 30}})
	alike(t, "single samples", s.Rests(values, Span{5, 7}, 0, 1), []Rest{{Span{5, 5}, 6}, {Span{6, 6}, 20}, {Span{7, 7}, 30}})
	alike(t, "below", s.Rests([]float64{5, 3.9, 3.9, 3.9}, Span{0, 3}, 1, 1), []Rest{{Span{1, 3}, 3.9}})
}

// Samples a, a, b at 0, 1, 2 s, then a gap until 10, b, a: changes at 2 and at 11.
func held() *Held[string] {
	s := Sampling{Times: []float64{0, 1, 2, 10, 11, 13}, Interval: 1, Gap: 2}
	return NewHeld(s, []string{"a", "a", "b", "b", "a", "a"})
}

func TestHeldValues(t *testing.T) {
	t.Parallel()
	h := held()
	for at, want := range map[float64]string{0: "a", 1.5: "a", 2: "b", 5: "b", 10.9: "b", 11: "a", 99: "a"} {
		v, ok := h.At(at)
		alike(t, "value", v, want)
		alike(t, "known", ok, true)
	}
	if v, ok := h.At(-0.1); ok || v != "" {
		t.Errorf("before the first: %q %v", v, ok)
	}
	alike(t, "values", h.Values(), []string{"a", "a", "b", "b", "a", "a"})
	for _, c := range []struct {
		within Span
		want   []float64
	}{{Span{-9, 99}, []float64{2, 11}}, {Span{2, 11}, []float64{2, 11}}, {Span{2.5, 10.9}, nil}, {Span{0, 2}, []float64{2}}, {Span{11, 12}, []float64{11}}, {Span{0, 1}, nil}} {
		alike(t, "changes", h.Changes(c.within), c.want)
	}
	if got := NewHeld(Sampling{Times: []float64{3}, Interval: 1, Gap: 2}, []string{"a"}).Changes(Span{0, 9}); got != nil {
		t.Errorf("one sample changes at %v", got)
	}
	alike(t, "none", NewHeld(Sampling{}, []string{}).Condition(func(string) bool { return true }, Spans{{0, 2}}), Unknown(Spans{{0, 2}}))
	one := NewHeld(Sampling{Times: []float64{3}, Interval: 1, Gap: 2}, []string{"a"})
	alike(t, "one", one.Condition(func(v string) bool { return v == "a" }, Spans{{0, 9}}),
		Condition{Certain: Spans{{2, 4}}, True: Spans{{2, 4}}, Possible: Spans{{0, 9}}})
}

// By the specification: between two samples of different values either is possible; into a
// gap the nominal reading goes on for an interval, the bounds for an instant.
func TestHeldNumber(t *testing.T) {
	t.Parallel()
	number := held().Number(func(v string) float64 { return map[string]float64{"a": 3, "b": 8}[v] }, Spans{{-5, 20}})
	i := instant
	alike(t, "number", number, Number{
		Nominal: Curve{{-1, 2, 3, 3}, {2, 3, 8, 8}, {10, 11, 8, 8}, {11, 14, 3, 3}},
		Low:     Curve{{-1, 2, 3, 3}, {2, 2 + i, 8, 8}, {10, 10 + i, 8, 8}, {10 + i, 14, 3, 3}},
		High:    Curve{{-1, 1 + i, 3, 3}, {1 + i, 2 + i, 8, 8}, {10, 11, 8, 8}, {11, 14, 3, 3}},
	})
	// As far apart as two samples without a gap may be.
	wide := HeldNumber{NewHeld(Sampling{Times: []float64{0, 2}, Interval: 1, Gap: 2}, []float64{3, 8})}.Number(Spans{{0, 2}})
	alike(t, "without a gap", wide, Number{
		Nominal: Curve{{0, 2, 3, 3}}, Low: Curve{{0, 2, 3, 3}}, High: Curve{{0, i, 3, 3}, {i, 2, 8, 8}},
	})
	// Before the hour a clock counts from times are negative; a gap is one all the same.
	early := NewHeld(Sampling{Times: []float64{-20, -10}, Interval: 1, Gap: 2}, []int{1, 1})
	alike(t, "negative times", early.Condition(func(int) bool { return true }, Spans{{-20, -10}}).True, Spans{{-20, -19}})
	none := HeldNumber{NewHeld(Sampling{}, []float64{})}.Number(Spans{{0, 2}})
	alike(t, "none", none, Number{})
}

func TestPiecesOfAHeldNumber(t *testing.T) {
	t.Parallel()
	n := HeldNumber{NewHeld(Sampling{Times: []float64{0, 1, 3, 9}, Interval: 1, Gap: 2}, []float64{5, 6, 7, 8})}
	for i, want := range []Piece{{-1, 0, 5, 5}, {0, 1, 5, 5}, {1, 3, 6, 6}, {3, 3.25, 7, 7}, {9, 10, 8, 8}} {
		alike(t, "piece", n.piece(i, 0.25), want)
	}
	alike(t, "held longer than the gap", n.piece(3, 99), Piece{3, 9, 7, 7})
	alike(t, "exact", n.accuracy(), 0.0)
}

// Margins on top of the accuracy: 1, 2, 5, 3 at 0 to 3 s, straight between.
func margined() *Line {
	asked := 0
	return &Line{
		Sampling: Sampling{Times: []float64{0, 1, 2, 3}, Interval: 1, Gap: 2}, Values: []float64{10, 20, 30, 40}, Accuracy: 0.5,
		Margins: func() Margins {
			if asked++; asked > 1 {
				panic("asked twice")
			}
			return listed{1, 2, 5, 3}
		},
	}
}

// listed are margins by sample.
type listed []float64

func (l listed) Fill(margins []float64, from, to int) { copy(margins[from:to], l[from:to]) }
func (l listed) AtMost(float64) float64               { return slices.Max(l) }

func TestMargins(t *testing.T) {
	t.Parallel()
	l := margined()
	number := l.Number(Spans{{0, 3}})
	alike(t, "low", number.Low, Curve{{0, 1, 8.5, 17.5}, {1, 2, 17.5, 24.5}, {2, 3, 24.5, 36.5}})
	alike(t, "nominal", number.Nominal, Curve{{0, 1, 10, 20}, {1, 2, 20, 30}, {2, 3, 30, 40}})
	alike(t, "nominal alone", l.Nominal(Spans{{0, 3}}), number.Nominal)
	alike(t, "high", number.High, Curve{{0, 1, 11.5, 22.5}, {1, 2, 22.5, 35.5}, {2, 3, 35.5, 43.5}})
	for _, c := range []struct {
		within Span
		want   float64
	}{{Span{0, 0}, 2.5}, {Span{0.5, 0.75}, 0.5}, {Span{0, 0.5}, 2.5}, {Span{1, 1}, 5.5}, {Span{3, 3}, 5.5}, {Span{0, 3}, 5.5}, {Span{7, 9}, 0.5}} {
		alike(t, "accuracy", l.AccuracyWithin(c.within), c.want)
	}
	exact, first := margined(), margined()
	exact.Accuracy = 0
	alike(t, "margins alone", exact.Number(Spans{{0, 1}}).Low, Curve{{0, 1, 9, 18}})
	first.Margins = func() Margins { return listed{9, 1, 1, 1} }
	alike(t, "largest first", first.AccuracyWithin(Span{0, 0}), 9.5)
	alike(t, "not the one before the one before", first.AccuracyWithin(Span{2, 2}), 1.5)
	alike(t, "accuracy without margins", climb().Widened(3).AccuracyWithin(Span{0, 9}), 3.0)
	// Surely above 20 from where 20 is the low line's value, 17.5 at 1 s and 24.5 at 2 s;
	// possible from where the high line passes it, 11.5 at 0 s and 22.5 at 1 s.
	c := margined().Compare(Above, 20, Spans{{0, 3}})
	alike(t, "compared", c, Condition{
		Certain: Spans{{1 + 2.5/7, 3}}, True: Spans{{1, 3}}, False: Spans{{0, 1}}, Possible: Spans{{8.5 / 11, 3}},
	})
	shared := margined() // asked once, whichever of the two lines comes first
	wider := shared.Widened(1)
	alike(t, "low, widened", []Curve{wider.Number(Spans{{0, 1}}).Low, shared.Number(Spans{{0, 1}}).Low}, []Curve{{{0, 1, 7.5, 16.5}}, {{0, 1, 8.5, 17.5}}})
	wide := *climb()
	alike(t, "widened", wide.Widened(2).Number(Spans{{0, 1}}), Number{Curve{{0, 1, 0, 10}}, Curve{{0, 1, -2, 8}}, Curve{{0, 1, 2, 12}}})
	alike(t, "the line itself", wide.Accuracy, 0.0)
}

// A line that rests on the constant: at least, and not above. Margins of nothing but
// zeroes change no bound, yet each is a line with its own.
func TestLineOnTheConstant(t *testing.T) {
	t.Parallel()
	level := &Line{Sampling: Sampling{Times: []float64{0, 1, 2, 3}, Interval: 1, Gap: 2}, Values: []float64{5, 5, 5, 6}}
	windows := Spans{{0, 3}}
	always, never := Always(windows), Never(windows)
	alike(t, "at least", level.Compare(AtLeast, 5, windows), always)
	alike(t, "at most", level.Compare(AtMost, 6, windows), always)
	alike(t, "below", level.Compare(Below, 5, windows), never)
	alike(t, "above", level.Compare(Above, 5, windows), Condition{Certain: Spans{{2, 3}}, True: Spans{{2, 3}}, False: Spans{{0, 2}}, Possible: Spans{{2, 3}}})
	alike(t, "equal", level.Compare(Equal, 5, windows), Condition{Certain: Spans{{0, 2}}, True: Spans{{0, 2}}, False: Spans{{2, 3}}, Possible: Spans{{0, 2}}})
	alike(t, "unequal", level.Compare(Unequal, 5, windows), Condition{Certain: Spans{{2, 3}}, True: Spans{{2, 3}}, False: Spans{{0, 2}}, Possible: Spans{{2, 3}}})
	level.Accuracy = 1
	alike(t, "surely at least", level.Compare(AtLeast, 4, windows), always)
	alike(t, "perhaps at least", level.Compare(AtLeast, 6, windows).Possible, windows)
	alike(t, "perhaps above", level.Compare(Above, 6, Spans{{0, 2}}).Possible, Spans{})
	alike(t, "none", (&Line{}).Compare(Above, 0, windows), Unknown(windows))
	one := &Line{Sampling: Sampling{Times: []float64{1}, Interval: 1, Gap: 2}, Values: []float64{5}}
	alike(t, "one sample", one.Compare(Above, 0, windows), Condition{Certain: Spans{{0, 2}}, True: Spans{{0, 2}}, Possible: Spans{{0, 3}}})
	alike(t, "one sample as a number", one.Number(windows).Nominal, Curve{{0, 1, 5, 5}, {1, 2, 5, 5}})
	alike(t, "none as a number", (&Line{}).Number(windows), Number{})
}

// Whole blocks on the level count with it or not as their samples do: 300 samples at 5.
func TestBlocksOnTheConstant(t *testing.T) {
	t.Parallel()
	line := func(gap float64, times, values []float64) *Line {
		return &Line{Sampling: Sampling{Times: times, Interval: 1, Gap: gap}, Values: values}
	}
	var times, values []float64
	for i := range 300 {
		times, values = append(times, float64(i)), append(values, 5)
	}
	windows := Spans{{0, 299}}
	alike(t, "at least", line(2, times, values).Compare(AtLeast, 5, windows), Always(windows))
	alike(t, "above", line(2, times, values).Compare(Above, 5, windows), Never(windows))
	// One sample off the others, at each place of a block and of its neighbours.
	for i := 60; i < 132; i++ {
		one, at := slices.Clone(values), float64(i)
		one[i] = 7
		alike(t, "above", line(2, times, one).Compare(Above, 6, windows).True, Spans{{at - 0.5, at + 0.5}})
		one[i] = 3
		alike(t, "at least", line(2, times, one).Compare(AtLeast, 4, windows).False, Spans{{at - 0.5, at + 0.5}})
	}
	// Two samples on the level in a block that is above it.
	high := slices.Repeat([]float64{7}, 300)
	high[100], high[101] = 5, 5
	alike(t, "rests on it", line(2, times, high).Compare(Above, 5, windows).False, Spans{{100, 101}})
	// A gap before each of its samples: above for a second from each, of 130.
	apart := slices.Clone(times[:130])
	for i := range apart {
		apart[i] *= 10
	}
	alone := line(2, apart, values[:130]).Compare(Above, 4, Spans{{0, 1300}})
	alike(t, "gaps throughout", []float64{float64(len(alone.True)), alone.True.Seconds()}, []float64{130, 130})
	// A gap before any of its samples: what is on both its sides is unknown in it.
	for i := 1; i < 132; i++ {
		later := slices.Clone(times)
		for k := i; k < len(later); k++ {
			later[k] += 2
		}
		all, at := Spans{{0, 301}}, float64(i)
		alike(t, "across a gap", line(2, later, values).Compare(Above, 4, all).Missing(all), Spans{{at, at + 2}})
		alike(t, "without a gap", line(3, later, values).Compare(Above, 4, all), Always(all))
	}
}
