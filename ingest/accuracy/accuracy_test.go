package accuracy

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func each(n int, value func(i int) float64) (times, values []float64) {
	for i := range n {
		times, values = append(times, float64(i)), append(values, value(i))
	}
	return times, values
}

func TestResolution(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2))
	stepped := func(step float64) func(int) float64 {
		return func(int) float64 { return step * math.Round(random.Float64()*2000) }
	}
	for _, c := range []struct {
		name  string
		value func(i int) float64
		want  float64
	}{
		{"tenths", stepped(0.1), 0.1},
		{"16 ft/min", stepped(16), 16},
		{"a sixtieth, as a scale leaves it", stepped(1. / 60), 1. / 60},
		{"feet written as metres", stepped(0.3048), 0.3048},
		{"tenths of 32 bits", func(int) float64 { return float64(float32(0.1 * math.Round(random.Float64()*2000))) }, 0.1},
		{"few values, each more than a step apart", func(i int) float64 { return []float64{0, 22.5, 26.3, 0}[i%4] }, 0.1},
		{"never moves", func(int) float64 { return 7 }, 0},
		{"not written in steps", func(int) float64 { return random.Float64() }, 0},
	} {
		_, values := each(400, c.value)
		if got := Resolution(values); math.Abs(got-c.want) > 1e-4*c.want {
			t.Errorf("%s: resolution %g, want %g", c.name, got, c.want)
		}
	}
	if got := Resolution(nil); got != 0 {
		t.Errorf("no samples: %g", got)
	}
}

// Worked out by hand: y = t*t lies 1 below the line between its neighbours at every
// sample of 1 s. The line from sample to sample is above it by 0.25 at most.
func TestMotionOfACurve(t *testing.T) {
	t.Parallel()
	times, values := each(50, func(i int) float64 { return float64(i*i) + 0.001*float64(i%2) })
	e, margins := Of(times, values, 3), Margins(times, values, 3)
	if math.Abs(e.Motion-1) > 0.01 {
		t.Errorf("motion %g, want 1", e.Motion)
	}
	for i, m := range margins {
		if m < 1-0.01 || m > 1+0.01 {
			t.Errorf("margin %g at %d, want 1", m, i)
		}
	}
	if _, small := TooSmall(0.2, times, values, 3); !small {
		t.Error("0.2 is not too small where a smooth curve needs 0.25")
	}
	if _, small := TooSmall(0.3, times, values, 3); small {
		t.Error("0.3 is too small where a smooth curve needs 0.25")
	}
}

// A level stretch keeps half a step. A lever moved between two samples may have moved
// at any time between them. A few samples further on nothing is uncertain.
func TestLeverMovedOnce(t *testing.T) {
	t.Parallel()
	times, values := each(60, func(i int) float64 {
		if i < 30 {
			return 0.5 * float64(i/6) // 0 to 2: each change is half of the part that rounding explains
		}
		return 40
	})
	e, margins := Of(times, values, 3), Margins(times, values, 3)
	if e.Resolution != 0.5 {
		t.Fatalf("resolution %g", e.Resolution)
	}
	if margins[29] < 38 || margins[30] < 38 {
		t.Errorf("the jump is 38, and the margins beside it %g and %g", margins[29], margins[30])
	}
	for _, i := range []int{0, 10, 24, 35, 59} {
		if margins[i] != 0.25 {
			t.Errorf("margin %g at %d, want half a step", margins[i], i)
		}
	}
}

// Samples beyond a gap tell nothing of the motion.
func TestMotionAcrossAGap(t *testing.T) {
	t.Parallel()
	times, values := each(40, func(i int) float64 { return float64(i / 20 * 100) })
	for i := 20; i < 40; i++ {
		times[i] += 100
	}
	e, margins := Of(times, values, 3), Margins(times, values, 3)
	if e.Motion != 0 || slices.Max(margins) != 50 { // the step is 100
		t.Errorf("motion %g and margin %g, want 0 and 50", e.Motion, slices.Max(margins))
	}
}

// Rounding causes an error of half a step: nobody can state less.
func TestStatedLessThanHalfAStep(t *testing.T) {
	t.Parallel()
	times, values := each(100, func(i int) float64 { return float64(i / 10) })
	for stated, want := range map[float64]bool{0.4: true, 0.5: false, 2: false} {
		if _, small := TooSmall(stated, times, values, 3); small != want {
			t.Errorf("±%g of steps of 1: too small %v", stated, small)
		}
	}
	if _, small := TooSmall(0.1, times[:1], values[:1], 3); small {
		t.Error("one sample says nothing")
	}
}

func TestLargestAround(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		_, values := each(random.IntN(30), func(int) float64 { return float64(random.IntN(6)) })
		got := largestAround(values, 4)
		for i := range values {
			if want := slices.Max(values[max(0, i-4):min(len(values), i+5)]); got[i] != want {
				t.Fatalf("%v: %g around %d, want %g", values, got[i], i, want)
			}
		}
	}
}

// A few samples at a time have the margins they have together, none above what the spread
// of the samples around allows.
func TestEstimatorInParts(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		times, values := each(1+random.IntN(60), func(int) float64 { return float64(random.IntN(5)*random.IntN(5)) / 2 })
		for i := range times {
			if i > 20 {
				times[i] += 9 // a gap
			}
		}
		whole, e := Margins(times, values, 3), NewEstimator(times, values, 3)
		got := make([]float64, len(values))
		for from := 0; from < len(values); {
			to := min(len(values), from+1+random.IntN(20))
			e.Fill(got, from, to)
			from = to
		}
		if !slices.Equal(got, whole) {
			t.Fatalf("%v: in parts %v, want %v", values, got, whole)
		}
		for i, m := range whole {
			around := values[max(0, i-reach-1):min(len(values), i+reach+2)]
			if most := e.AtMost(slices.Max(around) - slices.Min(around)); m > most {
				t.Fatalf("%v: margin %g at %d, above %g", values, m, i, most)
			}
		}
	}
}

func TestSelected(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for range 500 {
		_, values := each(1+random.IntN(300), func(int) float64 { return float64(random.IntN(40)) })
		sorted := slices.Sorted(slices.Values(values))
		place := random.IntN(len(values))
		if got := selected(values, place); got != sorted[place] {
			t.Fatalf("%g at %d of %v, want %g", got, place, sorted, sorted[place])
		}
	}
}
