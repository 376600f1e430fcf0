package simulator

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestCurve(t *testing.T) {
	t.Parallel()
	c, err := newCurve([]Knot{{0, 0}, {10, 0}, {20, 100}, {40, 300}, {50, 300}})
	if err != nil {
		t.Fatal(err)
	}
	// By hand: the curve is level before, after and between equal knots. The slopes
	// before and after 20 s are both 10, so the slope there is 10. The slope at 10 s
	// is 0, so the middle of the cubic is (0 + 100)/2 - 10·(10 - 0)/8 = 37.5.
	for _, want := range []Knot{{-5, 0}, {5, 0}, {10, 0}, {15, 37.5}, {20, 100}, {40, 300}, {45, 300}, {99, 300}} {
		if got := c.at(want.At); math.Abs(got-want.Value) > 1e-9 {
			t.Errorf("at %g s: got %g, want %g", want.At, got, want.Value)
		}
	}
	for _, bad := range [][]Knot{nil, {{1, 0}, {1, 2}}, {{2, 0}, {1, 0}}} {
		if _, err := newCurve(bad); err == nil {
			t.Errorf("knots %v: no error", bad)
		}
	}
}

func TestCurveNeverOvershoots(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var knots []Knot
		at := 0.0
		for range rapid.IntRange(2, 8).Draw(t, "knots") {
			at += rapid.Float64Range(0.1, 50).Draw(t, "step")
			knots = append(knots, Knot{at, rapid.Float64Range(-1000, 1000).Draw(t, "value")})
		}
		c, err := newCurve(knots)
		if err != nil {
			t.Fatal(err)
		}
		for i := 1; i < len(knots); i++ {
			a, b := knots[i-1], knots[i]
			low, high := math.Min(a.Value, b.Value), math.Max(a.Value, b.Value)
			for k := range 21 {
				x := a.At + (b.At-a.At)*float64(k)/20
				if v := c.at(x); v < low-1e-6 || v > high+1e-6 {
					t.Fatalf("at %g: %g is outside %g to %g", x, v, low, high)
				}
			}
		}
	})
}

// The oracle moves in small steps of time towards the setting of delay seconds ago.
func TestFollowedAgainstSmallSteps(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := steps{{0, rapid.Float64Range(0, 10).Draw(t, "first")}}
		for range rapid.IntRange(0, 6).Draw(t, "changes") {
			s = append(s, Knot{s[len(s)-1].At + rapid.Float64Range(0.5, 6).Draw(t, "after"), rapid.Float64Range(0, 10).Draw(t, "to")})
		}
		delay, up, down := rapid.Float64Range(0, 2).Draw(t, "delay"), 2.0, 1.0
		l := s.followed(delay, up, down)
		const step = 0.001
		position := s[0].Value
		for now := 0.0; now < 45; now += step {
			target := s.at(now - delay)
			if position < target {
				position = math.Min(target, position+up*step)
			} else {
				position = math.Max(target, position-down*step)
			}
			if got := l.at(now + step); math.Abs(got-position) > 0.03 {
				t.Fatalf("at %g s: got %g, small steps give %g", now, got, position)
			}
		}
	})
}
