package readings

import (
	"math"
	"math/rand/v2"
	"testing"
)

// rough is a line of noise about a level that moves slowly, with lost samples and gaps.
func rough(random *rand.Rand) *Line {
	l := &Line{Sampling: Sampling{Interval: 1, Gap: 3}, Accuracy: float64(random.IntN(3))}
	if random.IntN(3) == 0 {
		l.TimeAccuracy = 0.75
	}
	for i := range 200 {
		if random.IntN(9) > 0 && (i < 90 || i > 90+random.IntN(12)) {
			l.Times, l.Values = append(l.Times, float64(i)+random.Float64()/2), append(l.Values, 40*math.Sin(float64(i)/20)+4*random.NormFloat64())
		}
	}
	if random.IntN(2) == 0 {
		margins := make([]float64, len(l.Values))
		for i := range margins {
			margins[i] = random.Float64()
		}
		l.Margins = func() Margins { return listed(margins) }
	}
	return l
}

// bounded is a number with the envelope that has to bound it.
type bounded struct {
	number func(Spans) Number
	bounds Envelope
}

// drawBounded combines rough lines, steps and a number put together of two lines.
func drawBounded(random *rand.Rand, window Span, each float64, depth int) bounded {
	if depth == 0 {
		switch random.IntN(4) {
		case 0:
			values, times := []float64{}, []float64{}
			for i := range 100 {
				times, values = append(times, 2*float64(i)), append(values, float64(random.IntN(2)*(i/10)))
			}
			h := HeldNumber{NewHeld(Sampling{Times: times, Interval: 2, Gap: 6}, values)}
			return bounded{h.Number, h.Envelope(func(v float64) float64 { return v }, window, each)}
		case 1:
			border := 50 + 100*random.Float64()
			s := Spliced{{Line: rough(random), Where: Spans{{3, border}}}, {Line: rough(random), Shift: 7, Where: Spans{{border, 190}}}}
			return bounded{s.Number, s.Envelope(window, each)}
		}
		l := rough(random)
		return bounded{l.Number, l.Envelope(window, each)}
	}
	a, b := drawBounded(random, window, each, depth-1), drawBounded(random, window, each, 0)
	switch random.IntN(6) {
	case 0:
		return bounded{func(w Spans) Number { return Add(a.number(w), b.number(w)) }, a.bounds.Add(b.bounds)}
	case 1:
		return bounded{func(w Spans) Number { return Subtract(a.number(w), b.number(w)) }, a.bounds.Subtract(b.bounds)}
	case 2:
		return bounded{func(w Spans) Number { return a.number(w).Absolute() }, a.bounds.Absolute()}
	case 3:
		return bounded{func(w Spans) Number { return a.number(w).Scale(-2) }, a.bounds.Mapped(func(x float64) float64 { return -2 * x })}
	case 4:
		table := [][2]float64{{-20, 5}, {0, 10}, {30, 12}}
		return bounded{func(w Spans) Number { return Through(table, a.number(w)) }, a.bounds.Through(table)}
	}
	return a
}

// TestCompareClosely wants the readings that the curves of the numbers give, compared
// throughout, at any time, and each value of the curves within the envelope.
func TestCompareClosely(t *testing.T) {
	random := rand.New(rand.NewPCG(20271127, 1))
	window := Span{5, 195}
	decided, stretches := 0, 0
	for range 400 {
		each := 2 + 10*random.Float64()
		a, b := drawBounded(random, window, each, random.IntN(3)), drawBounded(random, window, each, random.IntN(2))
		if random.IntN(2) == 0 {
			level := 60*random.Float64() - 30
			b = bounded{func(w Spans) Number { return Constant(level, w) }, LevelEnvelope(level)}
		}
		windows := Spans{{window.Start, 80}, {81, window.End}}
		relation := []Relation{Above, AtLeast, Below, AtMost, Equal, Unequal}[random.IntN(6)]
		directly := func(w Spans) Condition { return Compare(a.number(w), relation, b.number(w), w) }
		got := CompareClosely(a.bounds, relation, b.bounds, windows, directly)
		want := directly(windows)
		n := a.number(Spans{window})
		for range 200 {
			at := window.Start + random.Float64()*window.Seconds()
			for i, both := range [][2]Spans{{got.Certain, want.Certain}, {got.True, want.True}, {got.False, want.False}, {got.Possible, want.Possible}} {
				if both[0].Contains(at) != both[1].Contains(at) {
					t.Fatalf("%s at %v: reading %d is %v, want %v", relation, at, i, both[0], both[1])
				}
			}
			low, high := a.bounds.at(int((at - window.Start) / each))
			stretches++
			if math.IsNaN(low) {
				continue
			}
			decided++
			for _, c := range []Curve{n.Low, n.Nominal, n.High} {
				if v, ok := c.At(at); !ok || v < low-1e-9 || v > high+1e-9 {
					t.Fatalf("at %v: %v (%v) is not in %v to %v", at, v, ok, low, high)
				}
			}
		}
	}
	if decided < stretches/3 || decided == stretches {
		t.Errorf("envelopes say something of %d in %d", decided, stretches)
	}
}
