package readings

import (
	"math"
	"testing"
)

// A difference that runs from one value to another in ten seconds is above zero, or at
// least zero, where the table says; the other side is the rest. Only a level at zero
// makes the two relations differ.
func TestCompareTouching(t *testing.T) {
	t.Parallel()
	windows := Spans{{0, 10}}
	for _, c := range []struct {
		from, to       float64
		above, atLeast Spans
	}{
		{0, 0, nil, windows},
		{0, 5, windows, windows},
		{5, 0, windows, windows},
		{-5, 0, nil, nil},
		{0, -5, nil, nil},
		{-5, 5, Spans{{5, 10}}, Spans{{5, 10}}},
		{1, -4, Spans{{0, 2}}, Spans{{0, 2}}},
		{0.25, 0.5, windows, windows},
		{-0.5, -0.25, nil, nil},
		{0.5, 0.5, windows, windows},
		{-0.5, -0.5, nil, nil},
	} {
		piece := Curve{{0, 10, c.from, c.to}}
		n := Number{piece, piece, piece}
		for relation, yes := range map[Relation]Spans{Above: c.above, AtLeast: c.atLeast} {
			no := yes.Complement(windows)
			got := Compare(n, relation, Constant(0, windows), windows)
			alike(t, string(relation), got, Condition{Certain: yes, True: yes, False: no, Possible: yes})
			mirrored := Compare(Constant(0, windows), map[Relation]Relation{Above: Below, AtLeast: AtMost}[relation], n, windows)
			alike(t, "mirrored", mirrored, got)
		}
	}
	// The end of a piece that touches zero is its end, and not where rounding puts it: 0.4 + (1.7 - 0.4) is not 1.7.
	for _, p := range []Piece{{0.4, 1.7, 1, 0}, {0.4, 1.7, 0, 1}} {
		if got := (Curve{p}).positive(false); len(got) != 1 || got[0] != (Span{0.4, 1.7}) {
			t.Errorf("%v is above zero in %v", p, got)
		}
	}
	five, bounds := Constant(5, windows), Number{Curve{{0, 10, 5, 5}}, Curve{{0, 10, 4, 4}}, Curve{{0, 10, 6, 6}}}
	alike(t, "equal", Compare(five, Equal, five, windows), Always(windows))
	alike(t, "unequal", Compare(five, Unequal, five, windows), Never(windows))
	alike(t, "within bounds", Compare(bounds, Equal, five, windows), Condition{True: windows, Possible: windows})
	alike(t, "its low bound", Compare(bounds, AtLeast, Constant(4, windows), windows), Always(windows))
	alike(t, "its high bound", Compare(bounds, AtLeast, Constant(6, windows), windows), Condition{False: windows, Possible: windows})
	alike(t, "above its high bound", Compare(bounds, Above, Constant(6, windows), windows), Never(windows))
}

func TestConditionsByHand(t *testing.T) {
	t.Parallel()
	windows := Spans{{0, 10}}
	c := Condition{Certain: Spans{{0, 2}, {4, 6}}, True: Spans{{0, 3}, {4, 7}}, False: Spans{{3, 4}, {7, 10}}, Possible: Spans{{0, 3.5}, {4, 8}}}
	// Half a second off each end that is not the window's; impossible times shrink too.
	alike(t, "blurred", c.Blurred(0.125, windows), Condition{
		Certain: Spans{{0, 1.875}, {4.125, 5.875}}, True: c.True, False: c.False, Possible: Spans{{0, 3.625}, {3.875, 8.125}},
	})
	two := Spans{{0, 4}, {6, 10}}
	alike(t, "two windows", Always(two).Blurred(1, two), Condition{Certain: Spans{{0, 3}, {7, 10}}, True: two, Possible: two})
	later := Condition{Certain: Spans{{11, 12}}, True: Spans{{11, 13}}, False: Spans{{13, 14}}, Possible: Spans{{11, 14}}}
	alike(t, "followed", c.Followed(later), Condition{
		Certain: Spans{{0, 2}, {4, 6}, {11, 12}}, True: Spans{{0, 3}, {4, 7}, {11, 13}}, False: Spans{{3, 4}, {7, 10}, {13, 14}}, Possible: Spans{{0, 3.5}, {4, 8}, {11, 14}},
	})
	alike(t, "every of none", Every(nil, windows), Always(windows))
	alike(t, "some of none", Some(nil, windows), Never(windows))
	alike(t, "every", Every([]Condition{Always(windows), Never(windows)}, windows), Never(windows))
	alike(t, "some", Some([]Condition{Never(windows), Always(windows)}, windows), Always(windows))
	alike(t, "every with unknown", Every([]Condition{Always(windows), Unknown(windows)}, windows), Unknown(windows))
	alike(t, "some with unknown", Some([]Condition{Never(windows), Unknown(windows)}, windows), Unknown(windows))
}

// A clock known to within half a second: a change seen at 5 is certain from 5.5 and possible
// from 3.5, the last sample before it being at 4; a number is as low and as high as
// it is within half a second.
func TestLooseTimes(t *testing.T) {
	t.Parallel()
	s := Sampling{Times: []float64{3, 4, 5, 6}, Interval: 1, Gap: 2, TimeAccuracy: 0.5}
	h := NewHeld(s, []int{1, 1, 2, 2})
	is2 := func(v int) bool { return v == 2 }
	windows := Spans{{3, 6}}
	i := instant
	alike(t, "held", h.Condition(is2, windows), Condition{Certain: Spans{{5.5, 6}}, True: Spans{{5, 6}}, False: Spans{{3, 5}}, Possible: Spans{{3.5 + i, 6}}})
	alike(t, "no windows", h.Condition(is2, nil), Condition{})
	alike(t, "no windows", h.Number(func(v int) float64 { return float64(v) }, nil), Number{})
	one := HeldNumber{NewHeld(s, []float64{1, 1, 2, 2})}.Number(Spans{{4.75, 5.25}})
	alike(t, "number", one, Number{Nominal: Curve{{4.75, 5, 1, 1}, {5, 5.25, 2, 2}}, Low: Curve{{4.75, 5.25, 1, 1}}, High: Curve{{4.75, 5.25, 2, 2}}})
	s.TimeAccuracy = 1 // as where a clock has no parts of a second
	alike(t, "to a second", NewHeld(s, []int{1, 1, 2, 2}).Condition(is2, windows), Condition{Certain: Spans{}, True: Spans{{5, 6}}, False: Spans{{3, 5}}, Possible: Spans{{3 + i, 6}}})
	alike(t, "to a second", HeldNumber{NewHeld(s, []float64{1, 1, 2, 2})}.Number(Spans{{5.5, 6}}).Low, Curve{{5.5, 6, 1, 1}})
	moments, _ := Steps(h, Changes, windows)
	alike(t, "steps", moments, []Moment{{Nominal: 5, Earliest: 3.5, Latest: 5.5, Certain: true}})
	exact := NewHeld(Sampling{Times: s.Times, Interval: 1, Gap: 2}, []int{1, 1, 2, 2})
	alike(t, "exact times", exact.Condition(is2, windows), Condition{Certain: Spans{{5, 6}}, True: Spans{{5, 6}}, False: Spans{{3, 5}}, Possible: Spans{{4 + i, 6}}})
	if _, unknown := Steps(NewHeld(Sampling{Times: []float64{0, 2, 5}, Interval: 1, Gap: 2}, []int{1, 2, 2}), Changes, Spans{{0, 9}}); len(unknown) != 1 || unknown[0] != (Span{2, 5}) {
		t.Errorf("two seconds are no gap, three are: unknown in %v", unknown)
	}
}

func TestCurvesByHand(t *testing.T) {
	t.Parallel()
	alike(t, "constant", Constant(7, Spans{{0, 1}, {2, 3}}).Low, Curve{{0, 1, 7, 7}, {2, 3, 7, 7}})
	alike(t, "within", ramped.Within(Spans{{-1, 2}, {9, 11}, {13, 20}}), Curve{{0, 2, 0, 2}, {9, 10, 9, 10}, {10, 11, 20, 20}, {14, 16, 5, 5}})
	alike(t, "within what it touches", ramped.Within(Spans{{12, 14}}), Curve{})
	low, high, ok := ramped.Extremes()
	alike(t, "extremes", []any{low, high, ok}, []any{0.0, 20.0, true})
	_, _, ok = (Curve{}).Extremes()
	alike(t, "extremes of none", ok, false)
	low, high, ok = (Curve{{0, 1, -3, -2}}).Extremes()
	alike(t, "extremes of one", []any{low, high, ok}, []any{-3.0, -2.0, true})
	for at, want := range map[float64]float64{0: 0, 10: 20, 12: 20, 14: 5, 16: 5, 2.5: 2.5} { // a step has its new value
		v, ok := ramped.At(at)
		alike(t, "at", []any{v, ok}, []any{want, true})
	}
	for _, at := range []float64{-0.1, 13, 16.5} {
		if v, ok := ramped.At(at); ok || v != 0 {
			t.Errorf("at %v: %v %v", at, v, ok)
		}
	}
	v, ok := (Curve{{0, 1, 3, 4}}).At(1)
	alike(t, "the end of all", []any{v, ok}, []any{4.0, true})
	n := Number{Curve{{0, 1, 2, 4}}, Curve{{0, 1, 1, 3}}, Curve{{0, 1, 3, 5}}}
	alike(t, "half", n.Scale(0.5), Number{Curve{{0, 1, 1, 2}}, Curve{{0, 1, 0.5, 1.5}}, Curve{{0, 1, 1.5, 2.5}}})
	alike(t, "turned", n.Scale(-1), Number{Curve{{0, 1, -2, -4}}, Curve{{0, 1, -3, -5}}, Curve{{0, 1, -1, -3}}})
	// A table that falls exchanges the bounds; one that stays level at an end falls all the same.
	falling := [][2]float64{{0, 10}, {2, 10}, {4, 6}, {6, 6}}
	alike(t, "falling", Through(falling, n), Number{Curve{{0, 1, 10, 6}}, Curve{{0, 0.5, 8, 6}, {0.5, 1, 6, 6}}, Curve{{0, 0.5, 10, 10}, {0.5, 1, 10, 8}}})
	alike(t, "falling, of two points", Through([][2]float64{{0, 10}, {10, 0}}, n).Low, Curve{{0, 1, 7, 5}})
	alike(t, "on a point", lookUp(falling, 2), 10.0)
	alike(t, "level", Through([][2]float64{{0, 5}, {9, 5}}, n).Nominal, Curve{{0, 1, 5, 5}})
}

// Nothing is known in a hole, however near the pieces beside it are.
func TestShakenHole(t *testing.T) {
	t.Parallel()
	c := Curve{{0, 1, 5, 5}, {10, 11, 2, 2}, {11, 12, 3, 3}}
	got := Number{c, c, c}.Shaken(0.5)
	alike(t, "low", got.Low, Curve{{0, 1, 5, 5}, {10, 11.5, 2, 2}, {11.5, 12, 3, 3}})
	alike(t, "high", got.High, Curve{{0, 1, 5, 5}, {10, 10.5, 2, 2}, {10.5, 12, 3, 3}})
}

// Each single moment is the first of one.
func TestOftenOnce(t *testing.T) {
	t.Parallel()
	got := Often([]Moment{{1, 1, 1, true}, {9, 9, 9, true}}, 1, 2, Spans{{0, 20}})
	two := Spans{{1, 3}, {9, 11}}
	alike(t, "once", got, Condition{Certain: two, True: two, False: two.Complement(Spans{{0, 20}}), Possible: two})
}

// Level numbers at different times, with bounds one and two away.
func level(start, end, value float64) Number {
	at := func(by float64) Curve { return Curve{{start, end, value + by, value + by}} }
	return Number{at(0), at(-1), at(2)}
}

func TestNumbersTogether(t *testing.T) {
	t.Parallel()
	a, b := level(0, 6, 10), level(4, 9, 3)
	alike(t, "lowest", Lowest(a, b), Number{
		Nominal: Curve{{0, 4, 10, 10}, {4, 6, 3, 3}, {6, 9, 3, 3}},
		Low:     Curve{{0, 4, 9, 9}, {4, 6, 2, 2}, {6, 9, 2, 2}},
		High:    Curve{{0, 4, 12, 12}, {4, 6, 5, 5}, {6, 9, 5, 5}},
	})
	alike(t, "highest", Highest(a, b), Number{Curve{{4, 6, 10, 10}}, Curve{{4, 6, 9, 9}}, Curve{{4, 6, 12, 12}}})
	alike(t, "beside", level(5, 6, 1).Beside(level(0, 1, 2)).Nominal, Curve{{0, 1, 2, 2}, {5, 6, 1, 1}})
	// Where b stands in for a from 6 on, surely from 7, perhaps from 5: between 5 and 6 the
	// bounds take in b's, behind 6 they are b's alone.
	c := Condition{Certain: Spans{{7, 9}}, True: Spans{{6, 9}}, False: Spans{{0, 6}}, Possible: Spans{{5, 9}}}
	alike(t, "overlay", a.Overlay(c, b), Number{
		Nominal: Curve{{0, 6, 10, 10}, {6, 9, 3, 3}},
		Low:     Curve{{0, 5, 9, 9}, {5, 6, 2, 2}, {6, 9, 2, 2}},
		High:    Curve{{0, 5, 12, 12}, {5, 6, 12, 12}, {6, 9, 5, 5}},
	})
	// Two that cross, cut where they do.
	up, down := Curve{{0, 10, 0, 10}}, Curve{{0, 10, 10, 0}}
	alike(t, "crossing", Highest(Number{up, up, up}, Number{down, down, down}).Nominal, Curve{{0, 5, 10, 5}, {5, 10, 5, 10}})
}

// A condition that is possible from 2 to 9 and never certain, true twice: neither beginning
// is certain, and each may come until the other ends.
func TestBeginsTwice(t *testing.T) {
	t.Parallel()
	c := Condition{True: Spans{{3, 4}, {6, 7}}, False: Spans{{0, 2}, {2, 3}, {4, 6}, {7, 10}}, Possible: Spans{{2, 9}}}
	alike(t, "twice", Begins(c), []Moment{{Nominal: 3, Earliest: 2, Latest: 4}, {Nominal: 6, Earliest: 4, Latest: 9}})
	// Certain behind: still two that may be one.
	c = Condition{Certain: Spans{{8, 9}}, True: Spans{{3, 4}, {6, 9}}, False: Spans{{0, 3}, {4, 6}, {9, 10}}, Possible: Spans{{2, 9}}}
	alike(t, "twice, then certain", Begins(c), []Moment{{Nominal: 3, Earliest: 2, Latest: 4}, {Nominal: 6, Earliest: 4, Latest: 8}})
	// Once, from false to certain: it happens in every history.
	c = Condition{Certain: Spans{{8, 9}}, True: Spans{{6, 9}}, False: Spans{{0, 6}, {9, 10}}, Possible: Spans{{2, 9}}}
	alike(t, "once", Begins(c), []Moment{{Nominal: 6, Earliest: 2, Latest: 8, Certain: true}})
	// Once, from false and back to false without being certain: it need not happen.
	c = Condition{True: Spans{{6, 7}}, False: Spans{{0, 6}, {7, 10}}, Possible: Spans{{2, 9}}}
	alike(t, "perhaps", Begins(c), []Moment{{Nominal: 6, Earliest: 2, Latest: 9}})
	// Once, after a time of which nothing is known: it may have held before.
	c = Condition{Certain: Spans{{8, 9}}, True: Spans{{6, 9}}, False: Spans{{4, 6}, {9, 10}}, Possible: Spans{{0, 9}}}
	alike(t, "perhaps before", Begins(c), []Moment{{Nominal: 6, Earliest: 0, Latest: 8}})
	// True from the very start of what is possible, with false before.
	c = Condition{Certain: Spans{{2, 9}}, True: Spans{{2, 9}}, False: Spans{{0, 2}, {9, 10}}, Possible: Spans{{2, 9}}}
	alike(t, "at once", Begins(c), []Moment{{Nominal: 2, Earliest: 2, Latest: 2, Certain: true}})
	// Known from the first time on, and possible from there: it may have held before.
	c = Condition{Certain: Spans{{8, 10}}, True: Spans{{6, 10}}, False: Spans{{0, 6}}, Possible: Spans{{0, 10}}}
	alike(t, "perhaps from the first", Begins(c), []Moment{{Nominal: 6, Earliest: 0, Latest: 8}})
	c = Condition{Certain: Spans{{2, 10}}, True: Spans{{2, 10}}, Possible: Spans{{0, 10}}}
	alike(t, "unknown before", Begins(c), []Moment{{Nominal: math.NaN(), Earliest: 0, Latest: 2}})
	c = Condition{Possible: Spans{{0, 10}}}
	alike(t, "unknown throughout", Begins(c), []Moment{})
	alike(t, "held from the first", Begins(Always(Spans{{0, 10}})), []Moment{})
}

// A moment from 3 to 4, nominal 3.5, with two seconds before and five after: surely from 2
// to 8, when it is certain; one that need not happen is nowhere sure.
func TestAroundByHand(t *testing.T) {
	t.Parallel()
	windows := Spans{{0, 8.25}}
	m := Moment{Nominal: 3.5, Earliest: 3, Latest: 4, Certain: true}
	want := Condition{Certain: Spans{{2, 8}}, True: Spans{{1.5, 8.25}}, False: Spans{{0, 1.5}}, Possible: Spans{{1, 8.25}}}
	alike(t, "certain", Around([]Moment{m}, 2, 5, windows), want)
	m.Certain, want.Certain = false, nil
	alike(t, "possible", Around([]Moment{m}, 2, 5, windows), want)
	m.Nominal, want.True, want.False = math.NaN(), nil, windows
	alike(t, "not nominal", Around([]Moment{m}, 2, 5, windows), want)
}

// Later moments that are not nominal are passed over; one at the very time of the later
// one is before it, and is not taken twice.
func TestLastBeforeByHand(t *testing.T) {
	t.Parallel()
	sure := func(at float64) Moment { return Moment{at, at, at, true} }
	perhaps := Moment{math.NaN(), 2, 3, false}
	alike(t, "passed over", LastBefore([]Moment{sure(1), sure(5)}, []Moment{perhaps, sure(5), sure(8)}), []Moment{sure(5)})
	wide := Moment{6, 4, 7, true}
	alike(t, "may come after", LastBefore([]Moment{wide, {5, 5, 5, true}, {6.5, 6.5, 6.5, true}}, []Moment{sure(8)}), []Moment{{6.5, 6.5, 6.5, false}})
	alike(t, "before what may not happen", LastBefore([]Moment{sure(1), sure(5)}, []Moment{sure(3), {8, 8, 8, false}}), []Moment{sure(1), {5, 5, 5, false}})
	alike(t, "as late as the last", LastBefore([]Moment{{5, 3, 6, true}, sure(6)}, []Moment{sure(8)}), []Moment{sure(6)})
}

func TestSpansJoined(t *testing.T) {
	t.Parallel()
	s := Spans{{0, 1}, {1.5, 2}, {4, 5}}
	alike(t, "half a second", s.Join(0.5), s)
	alike(t, "more than that", s.Join(0.75), Spans{{0, 2}, {4, 5}})
	alike(t, "nothing", s.Join(0), s)
	alike(t, "two seconds and more", s.Join(2.5), Spans{{0, 5}})
	alike(t, "two spans", s[:2].Join(0.75), Spans{{0, 2}})
	alike(t, "within no time", s.Within(Span{4.5, 4.5}), Spans{})
}

// A number of two lines: the second one from 5 on, moved by 100.
func TestSplicedByHand(t *testing.T) {
	t.Parallel()
	low := &Line{Sampling: Sampling{Times: []float64{0, 1, 2, 3, 4, 5, 6}, Interval: 1, Gap: 2}, Values: []float64{0, 1, 2, 3, 4, 5, 6}, Accuracy: 2}
	high := &Line{Sampling: Sampling{Times: []float64{4.5, 5.5, 6.5, 7.5}, Interval: 1, Gap: 2}, Values: []float64{10, 11, 12, 13}, Accuracy: 3}
	s := Spliced{{Line: high, Shift: 100, Where: Spans{{5, 7}}}, {Line: low, Where: Spans{{1, 3}, {3.5, 5}}}}
	times, values := s.Samples(Spans{{0, 10}})
	alike(t, "times", times, []float64{1, 2, 4, 5.5, 6.5})
	alike(t, "values", values, []float64{1, 2, 4, 111, 112})
	times, values = s.Samples(Spans{{2, 3}, {3.6, 3.9}})
	alike(t, "times", times, []float64{2})
	alike(t, "values", values, []float64{2})
	s[0].Where = Spans{{5, 7}, {8, 9}} // past the last sample
	times, _ = s.Samples(Spans{{0, 10}})
	alike(t, "none past the last", times, []float64{1, 2, 4, 5.5, 6.5})
	s[0].Where = Spans{{5, 7}}
	alike(t, "accuracy", s.Accuracy(Span{0, 10}), 3.0)
	alike(t, "accuracy of none", Spliced(nil).Accuracy(Span{0, 10}), 0.0)
	for at, want := range map[float64]float64{1: 1, 2.5: 2.5, 3: 3, 4: 4, 5: 110.5, 6: 111.5, 7: 112.5} {
		v, ok := s.At(at)
		alike(t, "at", []any{v, ok}, []any{want, true})
	}
	for _, at := range []float64{0.5, 3.25, 7.5} {
		if v, ok := s.At(at); ok || v != 0 {
			t.Errorf("at %v: %v %v", at, v, ok)
		}
	}
	one := Spliced{{Line: low, Shift: 1, Where: Spans{{0, 2}}}}
	alike(t, "moved by one", one.Number(Spans{{0, 1}}).Nominal, Curve{{0, 1, 1, 2}})
	alike(t, "moved by one, alone", one.Nominal(Spans{{0, 1}}), Curve{{0, 1, 1, 2}})
	alike(t, "in order of time", s.Nominal(Spans{{2, 3}, {4.5, 6}}), Curve{{2, 3, 2, 3}, {4.5, 5, 4.5, 5}, {5, 5.5, 110.5, 111}, {5.5, 6, 111, 111.5}})
	alike(t, "a piece of either", s.Nominal(Spans{{4.5, 5.5}}), Curve{{4.5, 5, 4.5, 5}, {5, 5.5, 110.5, 111}})
	alike(t, "none of the other", s.Nominal(Spans{{5, 5.5}}), Curve{{5, 5.5, 110.5, 111}})
	v, _ := Spliced{{Line: margined(), Where: Spans{{0, 3}}}}.At(1.5)
	alike(t, "within margins", v, 25.0)
}

// Level lines three apart, known to within 1 and 2: never surely apart by more than what is
// allowed while the difference stays below the sum of all three.
func TestNeverApartByHand(t *testing.T) {
	t.Parallel()
	line := func(accuracy float64, values ...float64) *Line {
		l := &Line{Sampling: Sampling{Interval: 1, Gap: 2}, Values: values, Accuracy: accuracy}
		for i := range values {
			l.Times = append(l.Times, float64(i))
		}
		return l
	}
	step := func(values ...float64) HeldNumber {
		l := line(0, values...)
		return HeldNumber{NewHeld(l.Sampling, values)}
	}
	gapped := func(times, values []float64) *Line {
		return &Line{Sampling: Sampling{Times: times, Interval: 1, Gap: 2}, Values: values}
	}
	all := Span{-9, 99}
	for _, c := range []struct {
		name    string
		a, b    Sampled
		within  Span
		allowed float64
		want    bool
	}{
		{"below the accuracies", line(1, 0, 0), line(2, 2.99, 2.99), all, 0, true},
		{"equal to them is looked at more closely", line(1, 0, 0), line(2, 3, 3), all, 0, false},
		{"above them", line(1, 0, 0), line(2, 3.01, 3.01), all, 0, false},
		{"below them and the allowed", line(1, 0, 0), line(2, 3.4, 3.4), all, 0.5, true},
		{"the same, nothing allowed", line(0, 5, 5), line(0, 5, 5), all, 0, true},
		{"of different signs", line(0, 5, 5), line(0, -5, -5), all, 1, false},
		{"far at the start", line(0, 0, 0), line(0, 10, 0), Span{0, 1}, 1, false},
		{"far at the end", line(0, 0, 0), line(0, 0, 10), Span{0, 1}, 1, false},
		{"near within the span", line(0, 0, 0), line(0, -10, 10), Span{0.45, 0.55}, 2, true},
		{"far at its start alone", line(0, 0, 0), line(0, 10, 0), Span{0.5, 2}, 4, false},
		{"at one time", line(0, 0, 0), line(0, 10, 10), Span{1, 1}, 4, false},
		{"in the first part", line(0, 0, 0, 0), line(0, 10, 0, 0), Span{0.25, 2}, 4, false},
		{"before the first samples", line(0, 0), line(0, 10), Span{-0.5, -0.25}, 4, false},
		{"past the last sample of one", line(0, 0, 0, 0), line(0, 0, 0, 0, 5, 5), all, 4, false},
		{"one sample each", line(0, 0), line(0, 100), all, 4, false},
		{"no sample", line(0), line(0, 100), all, 4, true},
		{"long past each other", gapped([]float64{0, 1}, []float64{0, 0}), gapped([]float64{5, 6}, []float64{9, 9}), all, 4, true},
		{"in a gap", gapped([]float64{0, 10}, []float64{0, 0}), gapped([]float64{0, 0.4, 0.5, 2, 3, 4, 5, 6, 7, 8, 9, 9.5, 9.6, 10}, []float64{0, 0, 50, 50, 50, 50, 50, 50, 50, 50, 50, 50, 0, 0}), all, 4, true},
		{"alike at other times", gapped([]float64{0, 1}, []float64{5, 5}), gapped([]float64{0.5, 1.5}, []float64{5, 5}), all, 1, true},
		{"the same at other times, nothing allowed", gapped([]float64{0, 1}, []float64{5, 5}), gapped([]float64{0.5, 1.5}, []float64{5, 5}), all, 0, true},
		{"margins leave a line where it is", margined(), gapped([]float64{0.5, 1.5, 2.5}, []float64{15, 25, 35}), Span{0.5, 2.5}, 0, true},
		{"of different signs at other times", gapped([]float64{0, 1}, []float64{5, 5}), gapped([]float64{0.5, 1.5}, []float64{-5, -5}), all, 1, false},
		{"steps", step(0, 0, 8, 8), step(0, 0, 0, 0), all, 4, false},
		{"steps alike", step(0, 3, 3), step(0, 0, 0), all, 4, true},
		{"a step past the last", gapped([]float64{0, 1.5}, []float64{0, 0}), step(0, 0, 9), all, 4, false},
		{"a step before the first", step(9), step(0), Span{-1, -0.5}, 4, false},
	} {
		if got := NeverApart(c.a, c.b, c.within, c.allowed); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
		if got := NeverApart(c.b, c.a, c.within, c.allowed); got != c.want {
			t.Errorf("%s, the other way round: %v", c.name, got)
		}
	}
}

// The first of two equal peaks counts; a curve that is lower than nothing at all has one too.
func TestPeakByHand(t *testing.T) {
	t.Parallel()
	value, at, ok := (Curve{{0, 1, -7, -7}, {2, 3, -7, -9}}).Peak(Spans{{0, 9}})
	alike(t, "peak", []any{value, at, ok}, []any{-7.0, 0.0, true})
	value, at, ok = (Curve{{0, 1, math.Inf(-1), math.Inf(-1)}}).Peak(Spans{{0, 9}})
	alike(t, "peak of nothing above", []any{value, at, ok}, []any{math.Inf(-1), 0.0, true})
}
