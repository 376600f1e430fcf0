package readings

import (
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestLongLines: comparing a long line skips whole blocks of samples; the value
// at any time, worked out without them, says the same.
func TestLongLines(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(1, 5*blockLength).Draw(t, "samples")
		line := &Line{Sampling: Sampling{Interval: 1, Gap: 3}, Accuracy: float64(rapid.IntRange(0, 3).Draw(t, "accuracy"))}
		gaps := rapid.IntRange(0, 3).Draw(t, "gaps")
		value, at := 0.0, 0.0
		for range n {
			value += random.Float64()*8 - 4 // wanders, so that blocks lie on one side and on both
			at++
			if random.IntN(n) < gaps {
				at += 10
			}
			line.Times, line.Values = append(line.Times, at), append(line.Values, value)
		}
		constant := line.Values[random.IntN(n)] + 0.01
		windows := Spans{{0, at + 5}}
		c := line.Compare(Above, constant, windows)
		for range 200 {
			moment := random.Float64() * (at + 5)
			v, nominal, bounded := valueAt(line, moment)
			if got := c.True.Contains(moment); got != (nominal && v > constant) {
				t.Fatalf("at %v: true %v, value %v (%v) against %v", moment, got, v, nominal, constant)
			}
			if got := c.False.Contains(moment); got != (nominal && v <= constant) {
				t.Fatalf("at %v: false %v, value %v (%v) against %v", moment, got, v, nominal, constant)
			}
			if got := c.Certain.Contains(moment); got != (bounded && v-line.Accuracy > constant) {
				t.Fatalf("at %v: certain %v, value %v (%v) against %v", moment, got, v, bounded, constant)
			}
			if got := c.Possible.Contains(moment); got != (!bounded || v+line.Accuracy > constant) {
				t.Fatalf("at %v: possible %v, value %v (%v) against %v", moment, got, v, bounded, constant)
			}
		}
	})
}

// TestSplicedReadsLikeItsParts holds a number put together of two lines, and its
// comparisons, against the lines at any time.
func TestSplicedReadsLikeItsParts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		line := func() *Line {
			l := &Line{Sampling: Sampling{Interval: 1, Gap: 3}, Accuracy: float64(random.IntN(3))}
			for i := range 100 {
				if random.IntN(8) > 0 {
					l.Times, l.Values = append(l.Times, float64(i)), append(l.Values, random.Float64()*100)
				}
			}
			return l
		}
		low, high := line(), line()
		const border, shift = 40.3, -17.0
		number := Spliced{{Line: low, Where: Spans{{0, border}}}, {Line: high, Shift: shift, Where: Spans{{border, 90}}}}
		windows := Spans{{0, 100}}
		level := random.Float64() * 100
		c, curves := number.Compare(Below, level, windows), number.Number(windows)
		start := random.Float64()*130 - 20
		few := Spans{{start, start + random.Float64()*3}}
		if times, _ := number.Samples(few); number.HasSamples(few) != (len(times) > 0) {
			t.Fatalf("%v has samples at %v: %v", few, times, number.HasSamples(few))
		}
		if alone := number.Nominal(windows); !slices.Equal(alone, curves.Nominal) {
			t.Fatalf("the nominal reading alone is %v, with bounds %v", alone, curves.Nominal)
		}
		for range 100 {
			at := random.Float64() * 100
			l, by := low, 0.0
			if at >= border {
				l, by = high, shift
			}
			v, nominal, bounded := valueAt(l, at)
			v, nominal, bounded = v+by, nominal && at < 90, bounded && at < 90
			got, known := curves.Nominal.At(at)
			if known != nominal || known && (got-v > 1e-9 || v-got > 1e-9) {
				t.Fatalf("at %v: %v (%v), want %v (%v)", at, got, known, v, nominal)
			}
			if value, ok := number.At(at); ok != nominal || ok && (value-v > 1e-9 || v-value > 1e-9) {
				t.Fatalf("at %v: At gives %v (%v), want %v (%v)", at, value, ok, v, nominal)
			}
			if c.True.Contains(at) != (nominal && v < level) || c.False.Contains(at) != (nominal && v >= level) ||
				c.Certain.Contains(at) != (bounded && v+l.Accuracy < level) || c.Possible.Contains(at) != (!bounded || v-l.Accuracy < level) {
				t.Fatalf("at %v: %v (%v, %v) below %v: %v", at, v, nominal, bounded, level, c)
			}
		}
	})
}
