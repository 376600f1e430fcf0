package readings

import (
	"math"
	"slices"
	"testing"
)

var unknown = math.NaN()

// grid is an envelope of stretches of two seconds from zero on, by their bounds.
func grid(bounds ...[2]float64) Envelope {
	e := Envelope{Each: 2}
	for _, b := range bounds {
		e.Low, e.High = append(e.Low, b[0]), append(e.High, b[1])
	}
	return e
}

func sameEnvelope(t *testing.T, what string, got, want Envelope) {
	t.Helper()
	same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
	if got.Start != want.Start || got.Each != want.Each || !slices.EqualFunc(got.Low, want.Low, same) || !slices.EqualFunc(got.High, want.High, same) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// tenth is a margin of a tenth of the spread; it fills in the number of each sample.
type tenth struct{ asked *[][2]int }

func (m tenth) Fill(margins []float64, from, to int) {
	if m.asked != nil {
		*m.asked = append(*m.asked, [2]int{from, to})
	}
	for i := from; i < to; i++ {
		margins[i] = float64(i)
	}
}

func (m tenth) AtMost(spread float64) float64 { return spread / 10 }

// The samples of a stretch are those in it, the last one before it and the first behind it.
func TestEnvelopeByHand(t *testing.T) {
	t.Parallel()
	line := func(s Sampling, values ...float64) *Line { return &Line{Sampling: s, Values: values} }
	every := Sampling{Times: []float64{0, 1, 2, 3, 4, 5}, Interval: 1, Gap: 2}
	each := line(every, 10, 99, 30, 20, 10, -50)
	sameEnvelope(t, "line", each.Envelope(Span{0, 6}, 2), grid([2]float64{10, 99}, [2]float64{10, 30}, [2]float64{unknown, unknown}))
	sameEnvelope(t, "a window that is no number of stretches", each.Envelope(Span{0, 3}, 2), grid([2]float64{10, 99}, [2]float64{10, 30}))
	early := each.Envelope(Span{-1, 3}, 2)
	sameEnvelope(t, "begins before the samples", early, Envelope{Start: -1, Each: 2, Low: []float64{unknown, 20}, High: []float64{unknown, 99}})
	late := each.Envelope(Span{4, 10}, 2)
	sameEnvelope(t, "ends behind the samples", late, Envelope{Start: 4, Each: 2, Low: []float64{unknown, unknown, unknown}, High: []float64{unknown, unknown, unknown}})
	known := *each
	known.Accuracy = 1
	sameEnvelope(t, "accuracy", known.Envelope(Span{0, 4}, 2), grid([2]float64{9, 100}, [2]float64{9, 31}))
	loose := *each
	loose.TimeAccuracy = 1
	sameEnvelope(t, "times within a second", loose.Envelope(Span{2, 4}, 2), Envelope{Start: 2, Each: 2, Low: []float64{-50}, High: []float64{99}})
	gap := line(Sampling{Times: []float64{0, 1, 2, 5, 6, 8}, Interval: 1, Gap: 2}, 1, 2, 3, 4, 5, 6)
	sameEnvelope(t, "a gap of three seconds, and none of two", gap.Envelope(Span{0, 8}, 2),
		grid([2]float64{1, 3}, [2]float64{unknown, unknown}, [2]float64{unknown, unknown}, [2]float64{5, 6}))
	sameEnvelope(t, "no sample", line(Sampling{}).Envelope(Span{0, 4}, 2), grid([2]float64{unknown, unknown}, [2]float64{unknown, unknown}))

	held := NewHeld(every, []uint8{1, 1, 3, 3, 2, 2})
	sameEnvelope(t, "held", held.Envelope(func(v uint8) float64 { return float64(v) }, Span{0, 4}, 2), grid([2]float64{1, 3}, [2]float64{2, 3}))
	sameEnvelope(t, "held, below zero", held.Envelope(func(v uint8) float64 { return -float64(v) }, Span{0, 4}, 2), grid([2]float64{-3, -1}, [2]float64{-3, -2}))
}

// Zero but for 100 at sample 10 and −40 at sample 30. Stretch i has samples i and i + 1; its
// margin depends on eight samples to either side, i − 8 to i + 9.
func TestEnvelopeOfMargins(t *testing.T) {
	t.Parallel()
	l := &Line{Sampling: Sampling{Interval: 1, Gap: 2}, Margins: func() Margins { return tenth{} }}
	for i := range 41 {
		l.Times, l.Values = append(l.Times, float64(i)), append(l.Values, 0)
	}
	l.Values[10], l.Values[30] = 100, -40
	got := l.Envelope(Span{0, 40}, 1)
	for i := range 40 {
		low, high := 0.0, 0.0
		switch {
		case i == 9 || i == 10:
			low, high = -10, 110
		case 1 <= i && i <= 18:
			low, high = -10, 10
		case i == 29 || i == 30:
			low, high = -44, 4
		case 21 <= i && i <= 38:
			low, high = -4, 4
		}
		if got.Low[i] != low || got.High[i] != high {
			t.Errorf("stretch %d: %v to %v, want %v to %v", i, got.Low[i], got.High[i], low, high)
		}
	}
}

// Ten until 4 s, then 20 moved by 5, each from a line that is sampled from 0 to 10 s.
func TestEnvelopeOfParts(t *testing.T) {
	t.Parallel()
	level := func(value float64) *Line {
		l := &Line{Sampling: Sampling{Interval: 1, Gap: 2}}
		for i := range 11 {
			l.Times, l.Values = append(l.Times, float64(i)), append(l.Values, value)
		}
		return l
	}
	parts := func(first, second Span) Spliced {
		return Spliced{{Line: level(10), Where: Spans{first}}, {Line: level(20), Shift: 5, Where: Spans{second}}}
	}
	touching := grid([2]float64{10, 10}, [2]float64{10, 25}, [2]float64{10, 25}, [2]float64{25, 25})
	sameEnvelope(t, "touching", parts(Span{0, 4}, Span{4, 8}).Envelope(Span{0, 8}, 2), touching)
	sameEnvelope(t, "to the end of the window", parts(Span{0, 4}, Span{4, 7}).Envelope(Span{0, 7}, 2), touching)
	sameEnvelope(t, "a second apart", parts(Span{0, 4}, Span{5, 8}).Envelope(Span{0, 8}, 2),
		grid([2]float64{10, 10}, [2]float64{10, 10}, [2]float64{unknown, unknown}, [2]float64{25, 25}))
	below := Spliced{{Line: level(-3), Where: Spans{{0, 8}}}}
	sameEnvelope(t, "below zero", below.Envelope(Span{0, 2}, 2), grid([2]float64{-3, -3}))
}

func TestEnvelopesJoined(t *testing.T) {
	t.Parallel()
	e := grid([2]float64{-3, 2}, [2]float64{2, 5}, [2]float64{-5, -2}, [2]float64{0, 5}, [2]float64{unknown, unknown})
	three := LevelEnvelope(3)
	half := grid([2]float64{unknown, 2}, [2]float64{2, unknown})
	for name, c := range map[string]struct{ got, want Envelope }{
		"without sign":      {e.Absolute(), grid([2]float64{0, 3}, [2]float64{2, 5}, [2]float64{2, 5}, [2]float64{0, 5}, [2]float64{unknown, unknown})},
		"plus three":        {e.Add(three), grid([2]float64{0, 5}, [2]float64{5, 8}, [2]float64{-2, 1}, [2]float64{3, 8}, [2]float64{unknown, unknown})},
		"three less it":     {three.Subtract(e), grid([2]float64{1, 6}, [2]float64{-2, 1}, [2]float64{5, 8}, [2]float64{-2, 3}, [2]float64{unknown, unknown})},
		"it or three":       {three.Lowest(e), grid([2]float64{-3, 2}, [2]float64{2, 3}, [2]float64{-5, -2}, [2]float64{0, 3}, [2]float64{unknown, unknown})},
		"seven for all":     {e.Mapped(func(float64) float64 { return 7 }), grid([2]float64{7, 7}, [2]float64{7, 7}, [2]float64{7, 7}, [2]float64{7, 7}, [2]float64{unknown, unknown})},
		"seven for half":    {half.Mapped(func(float64) float64 { return 7 }), grid([2]float64{unknown, unknown}, [2]float64{unknown, unknown})},
		"three of a level":  {three.Add(three), LevelEnvelope(6)},
		"less two of those": {e.Subtract(e), grid([2]float64{-5, 5}, [2]float64{-3, 3}, [2]float64{-3, 3}, [2]float64{-5, 5}, [2]float64{unknown, unknown})},
	} {
		sameEnvelope(t, name, c.got, c.want)
	}
}

// Against 4: 1 to 2 is below, 5 to 6 above, 3 to 5 may be either, and one is not known.
func TestDecide(t *testing.T) {
	t.Parallel()
	e, four := grid([2]float64{1, 2}, [2]float64{5, 6}, [2]float64{unknown, unknown}, [2]float64{3, 5}), LevelEnvelope(4)
	windows := Spans{{-1, 9}}
	first, second, open := Spans{{0, 2}}, Spans{{2, 4}}, Spans{{-1, 0}, {4, 9}}
	both := Spans{{0, 4}}
	for _, c := range []struct {
		a, b          Envelope
		r             Relation
		yes, no, open Spans
	}{
		{e, four, Above, second, first, open},
		{e, four, AtLeast, second, first, open},
		{e, four, Below, first, second, open},
		{e, four, AtMost, first, second, open},
		{e, four, Equal, nil, both, open},
		{e, four, Unequal, both, nil, open},
		{four, e, Above, first, second, open},
		{four, four, Above, nil, nil, windows},
		{Envelope{Each: 2}, four, Above, nil, nil, nil},
		{Envelope{Each: 1, Low: []float64{5}, High: []float64{6}}, four, Above, Spans{{0, 1}}, nil, Spans{{-1, 0}, {1, 9}}},
	} {
		yes, no, left := decide(c.a, c.r, c.b, windows)
		if !slices.Equal(yes, c.yes) || !slices.Equal(no, c.no) || !slices.Equal(left, c.open) {
			t.Errorf("%v %s %v: %v %v %v", c.a, c.r, c.b, yes, no, left)
		}
	}
	one := 1.0
	just := 1e-9 * (one + 1e-9) // as much as rounding, which is 1e-9 × (1 + just)
	for _, c := range []struct {
		low, high float64
		want      bool
	}{
		{2, 1, true}, {1, 2, false}, {1 + 1e-6, 1, true}, {1, 1 - 1e-12, false}, {1e12, 1e12 - 1, false}, {1e12, 1e12 - 3000, true}, {-1e12, -1e12 - 1, false},
		{1.5e-9, 0, true}, {just, 0, false}, {0, -just, false}, {math.Nextafter(just, 1), 0, true},
		{math.Inf(1), 5, true}, {math.Inf(1), math.Inf(1), false}, {5, math.Inf(-1), true}, {math.Inf(-1), math.Inf(-1), false},
		{math.MaxFloat64, -math.MaxFloat64, true}, {-math.MaxFloat64, math.MaxFloat64, false}, {math.Inf(-1), 5, false},
	} {
		if got := surelyAbove(c.low, c.high); got != c.want {
			t.Errorf("%v surely above %v: %v", c.low, c.high, got)
		}
	}
}

// What the envelopes decide is not asked for again, and what they leave open a stretch wider.
func TestAskedClosely(t *testing.T) {
	t.Parallel()
	four, windows := LevelEnvelope(4), Spans{{0, 8}}
	for name, c := range map[string]struct {
		e            Envelope
		asked, above Spans
	}{
		"all decided":     {grid([2]float64{1, 2}, [2]float64{5, 6}, [2]float64{5, 6}, [2]float64{5, 6}), nil, Spans{{2, 8}}},
		"the last open":   {grid([2]float64{5, 6}, [2]float64{5, 6}, [2]float64{5, 6}, [2]float64{3, 5}), Spans{{4, 8}}, Spans{{0, 7}}},
		"none above":      {grid([2]float64{1, 2}, [2]float64{1, 2}, [2]float64{1, 2}, [2]float64{3, 5}), Spans{{4, 8}}, Spans{{6, 7}}},
		"nothing decided": {grid([2]float64{3, 5}, [2]float64{3, 5}, [2]float64{3, 5}, [2]float64{3, 5}), windows, Spans{{6, 7}}},
	} {
		var asked Spans
		got := CompareClosely(c.e, Above, four, windows, func(w Spans) Condition {
			asked = append(asked, w...)
			return Always(Spans{{6, 7}})
		})
		if !slices.Equal(asked, c.asked) || !slices.Equal(got.True, c.above) {
			t.Errorf("%s: asked for %v, true in %v", name, asked, got.True)
		}
	}
}

// Five blocks of samples that are zero but for one, in the third or the first: the margin of a
// block depends on those beside it.
func TestBlocksOfMargins(t *testing.T) {
	t.Parallel()
	for at, spike := range map[int]float64{0: 10, 2: -10, 4: 10} {
		l := &Line{Sampling: Sampling{Interval: 1, Gap: 2}, Values: make([]float64, 5*blockLength), Margins: func() Margins { return tenth{} }}
		for i := range l.Values {
			l.Times = append(l.Times, float64(i))
		}
		l.Values[at*blockLength+7] = spike
		l.summary()
		for k := range 5 {
			margin := 0.0
			if at-1 <= k && k <= at+1 {
				margin = 1
			}
			smallest, largest := 0.0, 0.0
			if k == at {
				smallest, largest = min(spike, 0), max(spike, 0)
			}
			for r, want := range map[reading][2]float64{lower: {smallest - margin, largest}, nominal: {smallest, largest}, upper: {smallest, largest + margin}} {
				if low, high := l.valuesOf(r).within(k); [2]float64{low, high} != want {
					t.Errorf("%v, block %d, reading %d: %v to %v, want %v", spike, k, r, low, high, want)
				}
			}
		}
	}
}

// Margins are filled in by blocks of 64, when first asked for.
func TestMarginsAsked(t *testing.T) {
	t.Parallel()
	var asked [][2]int
	l := &Line{Sampling: Sampling{Times: make([]float64, 257)}, Values: make([]float64, 257), Margins: func() Margins { return tenth{&asked} }}
	for _, c := range []struct {
		from, to int
		asked    [][2]int
	}{{64, 128, [][2]int{{64, 128}}}, {70, 130, [][2]int{{128, 192}}}, {0, 257, [][2]int{{0, 64}, {192, 256}, {256, 257}}}, {5, 6, nil}} {
		asked = nil
		margins := l.margins(c.from, c.to)
		if !slices.Equal(asked, c.asked) {
			t.Errorf("%d to %d: asked for %v, want %v", c.from, c.to, asked, c.asked)
		}
		for i := c.from; i < c.to; i++ {
			if margins[i] != float64(i) {
				t.Fatalf("%d to %d: %v at %d", c.from, c.to, margins[i], i)
			}
		}
	}
	wide := l.Widened(2)
	asked = nil
	if wide.margins(0, 257)[256] != 256 || asked != nil {
		t.Errorf("a widened line asks again: %v", asked)
	}
}
