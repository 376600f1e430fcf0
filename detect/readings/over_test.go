package readings

import (
	"math"
	"testing"
)

// A ramp from 0 at 0 to 10 at 10, a step up to 20, level until 12, a hole until
// 14, level at 5 until 16. All figures are read off it.
var ramped = Curve{{0, 10, 0, 10}, {10, 12, 20, 20}, {14, 16, 5, 5}}

func TestOver(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		from, to          float64
		smallest, largest float64
		whole             bool
	}{
		{2, 4, 2, 4, true},
		{3, 3, 3, 3, true},
		{9, 10, 9, 20, true}, // the step at 10 counts with both its values
		{10, 10, 10, 20, true},
		{10, 11, 10, 20, true},
		{11, 13, 20, 20, false}, // into the hole
		{13, 15, 5, 5, false},
		{11, 15, 5, 20, false},
		{14, 16, 5, 5, true},
		{-1, 1, 0, 1, false},
		{15, 17, 5, 5, false},
	} {
		smallest, largest, whole := ramped.Over(c.from, c.to)
		if smallest != c.smallest || largest != c.largest || whole != c.whole {
			t.Errorf("%v to %v: %v to %v, whole %v; want %v to %v, %v", c.from, c.to, smallest, largest, whole, c.smallest, c.largest, c.whole)
		}
	}
	if _, _, whole := ramped.Over(12.5, 13); whole {
		t.Error("known in a hole")
	}
	if _, _, whole := (Curve{}).Over(1, 1); whole {
		t.Error("a curve without a piece is known")
	}
}

func TestPeak(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		within    Spans
		value, at float64
		known     bool
	}{
		{Spans{{2, 4}}, 4, 4, true},
		{Spans{{2, 11}}, 20, 10, true},
		{Spans{{0, 1}, {14, 15}}, 5, 14, true},
		{Spans{{12, 14}}, math.Inf(-1), 0, false},
		{nil, math.Inf(-1), 0, false},
	} {
		value, at, known := ramped.Peak(c.within)
		if value != c.value || known && at != c.at || known != c.known {
			t.Errorf("in %v: %v at %v, %v; want %v at %v, %v", c.within, value, at, known, c.value, c.at, c.known)
		}
	}
}

func TestHoles(t *testing.T) {
	t.Parallel()
	got := ramped.Holes(Spans{{-1, 11}, {11.5, 20}})
	want := Spans{{-1, 0}, {12, 14}, {16, 20}}
	if len(got) != len(want) {
		t.Fatalf("holes %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("holes %v, want %v", got, want)
		}
	}
}
