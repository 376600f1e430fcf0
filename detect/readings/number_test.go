package readings

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// quantity is a number on parameters that each occur once: the reading by the code under
// test, and its value where each parameter is at a given place
// within its bounds, from −1 (lowest) to 1 (highest).
type quantity struct {
	text   string
	number Number
	value  func(at float64, places []float64) (value float64, known bool)
}

func drawQuantity(t *rapid.T, parameters *int) quantity {
	lineOrStep := func() quantity {
		k := *parameters
		*parameters++
		name := string(rune('a' + k))
		line := &Line{Sampling: Sampling{Interval: 1, Gap: 3}, Accuracy: float64(rapid.IntRange(0, 2).Draw(t, name+" accuracy"))}
		for i := 0; i <= seconds; i++ {
			if rapid.IntRange(0, 4).Draw(t, name+" present") > 0 {
				line.Times = append(line.Times, float64(i))
				line.Values = append(line.Values, float64(rapid.IntRange(-9, 9).Draw(t, name)))
			}
		}
		return quantity{fmt.Sprintf("%s %v at %v ± %v", name, line.Values, line.Times, line.Accuracy), line.Number(window),
			func(at float64, places []float64) (float64, bool) {
				v, nominal, bounded := valueAt(line, at)
				return v + places[k]*line.Accuracy, bounded || nominal && places[k] == 0
			}}
	}
	q := lineOrStep()
	for range rapid.IntRange(0, 3).Draw(t, "operations") {
		q = operated(t, q, lineOrStep)
	}
	return q
}

func operated(t *rapid.T, a quantity, another func() quantity) quantity {
	one := func(name string, n Number, f func(float64) float64) quantity {
		return quantity{name + " of " + a.text, n, func(at float64, places []float64) (float64, bool) {
			v, known := a.value(at, places)
			return f(v), known
		}}
	}
	two := func(name string, make func(a, b Number) Number, f func(x, y float64) float64) quantity {
		b := another()
		return quantity{name + " of " + a.text + " and " + b.text, make(a.number, b.number), func(at float64, places []float64) (float64, bool) {
			x, known := a.value(at, places)
			y, alsoKnown := b.value(at, places)
			return f(x, y), known && alsoKnown
		}}
	}
	switch rapid.SampledFrom([]string{"add", "subtract", "scale", "absolute", "through", "larger"}).Draw(t, "operation") {
	case "add":
		return two("sum", Add, func(x, y float64) float64 { return x + y })
	case "subtract":
		return two("difference", Subtract, func(x, y float64) float64 { return x - y })
	case "scale":
		factor := float64(rapid.IntRange(-2, 2).Draw(t, "factor"))
		return one(fmt.Sprint(factor, " times"), a.number.Scale(factor), func(x float64) float64 { return x * factor })
	case "larger":
		return two("larger", Highest, math.Max)
	case "absolute":
		return one("size", a.number.Absolute(), math.Abs)
	}
	table := [][2]float64{{-4, -3}, {0, 1}, {2, 1}, {6, 9}}
	return one("table", Through(table, a.number), func(x float64) float64 {
		switch { // straight lines between the points, by hand
		case x <= -4:
			return -3
		case x <= 0:
			return x + 1
		case x <= 2:
			return 1
		case x <= 6:
			return 1 + (x-2)*2
		}
		return 9
	})
}

// TestNumbers: at any time the nominal value is that of the samples, no history
// lies outside the bounds, and some history reaches each of them.
func TestNumbers(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		parameters := 0
		q := drawQuantity(t, &parameters)
		for range 20 {
			at := drawTime(t)
			checkNumber(t, q, parameters, at)
		}
	})
}

// drawTime draws a time off the samples: where a curve breaks off there the
// last value still belongs to it, and a span does not.
func drawTime(t *rapid.T) float64 {
	return float64(rapid.IntRange(0, seconds-1).Draw(t, "second")) + rapid.Float64Range(0.01, 0.99).Draw(t, "part")
}

func checkNumber(t *rapid.T, q quantity, parameters int, at float64) {
	places := make([]float64, parameters)
	value, known := q.value(at, places)
	got, ok := q.number.Nominal.At(at)
	if known != ok || ok && math.Abs(got-value) > 1e-6 {
		t.Fatalf("%s\nat %v: %v (%v), want %v (%v)", q.text, at, got, ok, value, known)
	}
	low, lowKnown := q.number.Low.At(at)
	high, highKnown := q.number.High.At(at)
	smallest, largest, bounded := math.Inf(1), math.Inf(-1), true
	// Nine places within the bounds: the ends, between them enough to meet zero.
	var each func(k int)
	each = func(k int) {
		if k == parameters {
			v, known := q.value(at, places)
			bounded = bounded && known
			smallest, largest = min(smallest, v), max(largest, v)
			return
		}
		for p := -1.0; p <= 1; p += 0.25 {
			places[k] = p
			each(k + 1)
		}
	}
	each(0)
	if !bounded {
		return // past a sample there is no bound, and none may be used: see the conditions
	}
	if !lowKnown || !highKnown {
		t.Fatalf("%s\nat %v: no bound", q.text, at)
	}
	if low > smallest+1e-6 || high < largest-1e-6 {
		t.Fatalf("%s\nat %v: bounds %v to %v, histories %v to %v", q.text, at, low, high, smallest, largest)
	}
	const coarse = 2.3 // the places are a quarter of an accuracy of up to 2 apart, doubled by scale and table
	if low < smallest-coarse || high > largest+coarse {
		t.Fatalf("%s\nat %v: bounds %v to %v are too wide, histories %v to %v", q.text, at, low, high, smallest, largest)
	}
}

// TestCompareNumbers: two numbers on different parameters, compared at any time.
func TestCompareNumbers(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		parameters := 0
		a, b := drawQuantity(t, &parameters), drawQuantity(t, &parameters)
		relation := rapid.SampledFrom([]Relation{Above, AtLeast, Below, AtMost}).Draw(t, "relation")
		c := Compare(a.number, relation, b.number, window)
		holds := func(x, y float64) bool { return x > y == (relation == Above || relation == AtLeast) }
		for range 20 {
			at := drawTime(t)
			x, xKnown := a.number.Nominal.At(at)
			y, yKnown := b.number.Nominal.At(at)
			if math.Abs(x-y) < 1e-6 {
				continue // on the crossing
			}
			if got, want := c.True.Contains(at), xKnown && yKnown && holds(x, y); got != want {
				t.Fatalf("%s\n%s %s\nat %v: true %v", a.text, relation, b.text, at, got)
			}
			if got, want := c.False.Contains(at), xKnown && yKnown && !holds(x, y); got != want {
				t.Fatalf("%s\n%s %s\nat %v: false %v", a.text, relation, b.text, at, got)
			}
			checkReadings(t, a, b, c, relation, holds, at)
		}
	})
}

// checkReadings compares the bounds: all of a's on one side of all of b's.
func checkReadings(t *rapid.T, a, b quantity, c Condition, relation Relation, holds func(x, y float64) bool, at float64) {
	low, ok1 := a.number.Low.At(at)
	high, ok2 := a.number.High.At(at)
	low2, ok3 := b.number.Low.At(at)
	high2, ok4 := b.number.High.At(at)
	if !(ok1 && ok2 && ok3 && ok4) {
		if c.Certain.Contains(at) || !c.Possible.Contains(at) {
			t.Fatalf("%s\n%s %s\nat %v: decided without a bound", a.text, relation, b.text, at)
		}
		return
	}
	if math.Abs(low-high2) < 1e-6 || math.Abs(high-low2) < 1e-6 {
		return
	}
	always, ever := holds(low, high2) && holds(high, low2), holds(low, high2) || holds(high, low2)
	if c.Certain.Contains(at) != always || c.Possible.Contains(at) != ever {
		t.Fatalf("%s\n%s %s\nat %v: certain %v possible %v, want %v %v", a.text, relation, b.text, at,
			c.Certain.Contains(at), c.Possible.Contains(at), always, ever)
	}
}
