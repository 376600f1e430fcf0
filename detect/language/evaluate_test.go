package language

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"downlock/detect/readings"
)

// sampled keeps the drawn samples, for the interpreter to read by itself.
type sampled[T any] struct {
	times  []float64
	values []T
}

func drawSampled[T any](t *rapid.T, name string, draw *rapid.Generator[T]) (s sampled[T]) {
	for i := 0; i <= flightEnd; i++ {
		if rapid.IntRange(0, 6).Draw(t, name+" present") > 0 {
			s.times, s.values = append(s.times, float64(i)), append(s.values, draw.Draw(t, name))
		}
	}
	return s
}

func (s sampled[T]) sampling() readings.Sampling {
	return readings.Sampling{Times: s.times, Interval: 1, Gap: 3}
}

// interpreter evaluates an expression at one time from the samples, knowing
// nothing of spans: an oracle for the nominal reading.
type interpreter struct {
	flight                testFlight
	flap                  sampled[float64]
	lever, horn, switched sampled[uint8]
}

func drawFlight(t *rapid.T) *interpreter {
	number := func(name string, low, high int) *readings.Line {
		s := drawSampled(t, name, rapid.IntRange(low, high))
		l := &readings.Line{Sampling: s.sampling(), Accuracy: float64(rapid.IntRange(0, 2).Draw(t, name+" accuracy"))}
		for _, v := range s.values {
			l.Values = append(l.Values, float64(v))
		}
		return l
	}
	x := &interpreter{
		flap:     drawSampled(t, "flap", rapid.SampledFrom([]float64{0, 5, 20, 30})),
		lever:    drawSampled(t, "lever", rapid.Uint8Range(0, 2)),
		horn:     drawSampled(t, "horn", rapid.Uint8Range(0, 1)),
		switched: drawSampled(t, "switch", rapid.Uint8Range(0, 1)),
	}
	x.flight = testFlight{
		speed: number("speed", 180, 260), height: number("height", 400, 1100),
		flap:  readings.NewHeld(x.flap.sampling(), x.flap.values),
		lever: readings.NewHeld(x.lever.sampling(), x.lever.values),
		horn:  readings.NewHeld(x.horn.sampling(), x.horn.values), switched: readings.NewHeld(x.switched.sampling(), x.switched.values),
	}
	return x
}

// saidNumber is an expression as text with its value at a time; a number that is
// unknown is NaN.
type saidNumber struct {
	text, unit string
	at         func(t float64) float64
}

type saidCondition struct {
	text string
	at   func(t float64) truth3
}

func (x *interpreter) number(t *rapid.T, depth int) saidNumber {
	heldAt := func(at float64) float64 {
		if k, ok := lastSample(x.flap.times, at); ok {
			return x.flap.values[k]
		}
		return math.NaN()
	}
	leaves := []saidNumber{
		{"speed", "kt", func(at float64) float64 { return lineAt(x.flight.speed, at) }},
		{"height", "ft", func(at float64) float64 { return lineAt(x.flight.height, at) }},
		{"flap", "deg", heldAt},
		{"limit", "kt", func(float64) float64 { return testLimit }},
		{"absent", "ft", func(float64) float64 { return math.NaN() }},
	}
	if depth == 0 {
		return rapid.SampledFrom(leaves).Draw(t, "name")
	}
	a := x.number(t, depth-1)
	k := rapid.Float64Range(-3, 3).Draw(t, "factor")
	switch rapid.SampledFrom([]string{"leaf", "minus", "times", "over", "plus", "less", "size", "table"}).Draw(t, "number") {
	case "minus":
		return saidNumber{"-(" + a.text + ")", a.unit, func(at float64) float64 { return -a.at(at) }}
	case "times":
		return saidNumber{fmt.Sprintf("%v * (%s)", k, a.text), a.unit, func(at float64) float64 { return k * a.at(at) }}
	case "over":
		return saidNumber{fmt.Sprintf("(%s) / 4", a.text), a.unit, func(at float64) float64 { return a.at(at) / 4 }}
	case "plus":
		return saidNumber{fmt.Sprintf("(%s) + %v", a.text, k), a.unit, func(at float64) float64 { return a.at(at) + k }}
	case "less":
		if b := x.number(t, depth-1); b.unit == a.unit {
			return saidNumber{fmt.Sprintf("(%s) - (%s)", a.text, b.text), a.unit, func(at float64) float64 { return a.at(at) - b.at(at) }}
		}
	case "size":
		return saidNumber{"abs(" + a.text + ")", a.unit, func(at float64) float64 { return math.Abs(a.at(at)) }}
	case "table":
		if a.unit == "kt" {
			return saidNumber{"floor(" + a.text + ")", "ft", func(at float64) float64 { return floorAt(a.at(at)) }}
		}
	}
	return a
}

// floorAt is mode 4A by its figures: 500 ft to 190 kt, 25/3 ft a knot to 1000 ft
// at 250 kt.
func floorAt(speed float64) float64 {
	switch {
	case math.IsNaN(speed):
		return math.NaN()
	case speed <= 190:
		return 500
	case speed >= 250:
		return 1000
	}
	return 500 + (speed-190)*25/3
}

// edge marks a time too near a crossing to tell the sides apart.
const edge = truth3(9)

func (x *interpreter) condition(t *rapid.T, depth int) saidCondition {
	if depth > 0 {
		operator := rapid.SampledFrom([]string{"and", "or", "not", "&&", "||", "!"}).Draw(t, "operator")
		a := x.condition(t, depth-1)
		if operator == "not" || operator == "!" {
			return saidCondition{operator + " (" + a.text + ")", func(at float64) truth3 { return guarded(a.at(at), a.at(at), truth3.not) }}
		}
		b := x.condition(t, depth-1)
		join := func(p, q truth3) truth3 { return p.and(q) }
		if operator == "or" || operator == "||" {
			join = func(p, q truth3) truth3 { return p.not().and(q.not()).not() }
		}
		return saidCondition{"(" + a.text + ") " + operator + " (" + b.text + ")", func(at float64) truth3 {
			p, q := a.at(at), b.at(at)
			return guarded(p, q, func(truth3) truth3 { return join(p, q) })
		}}
	}
	held := func(text string, s sampled[uint8], is func(uint8) bool) saidCondition {
		return saidCondition{text, func(at float64) truth3 {
			if k, ok := lastSample(s.times, at); ok {
				return truthOf(is(s.values[k]))
			}
			return unknown
		}}
	}
	switch rapid.SampledFrom([]string{"horn", "switch", "state", "not state", "true", "compare"}).Draw(t, "condition") {
	case "horn":
		return held("horn", x.horn, func(v uint8) bool { return v == 1 })
	case "switch":
		return held("switch", x.switched, func(v uint8) bool { return v == 1 })
	case "state":
		state := rapid.IntRange(0, 2).Draw(t, "state")
		return held(fmt.Sprintf("lever == %q", leverStates[state]), x.lever, func(v uint8) bool { return int(v) == state })
	case "not state":
		state := rapid.IntRange(0, 2).Draw(t, "state")
		return held(fmt.Sprintf("%q != lever", leverStates[state]), x.lever, func(v uint8) bool { return int(v) != state })
	case "true":
		return saidCondition{"true", func(float64) truth3 { return yes }}
	}
	return x.comparison(t)
}

func guarded(p, q truth3, f func(truth3) truth3) truth3 {
	if p == edge || q == edge {
		return edge
	}
	return f(p)
}

func (x *interpreter) comparison(t *rapid.T) saidCondition {
	a := x.number(t, rapid.IntRange(0, 2).Draw(t, "depth"))
	constant := rapid.Float64Range(-300, 1100).Draw(t, "constant")
	b := saidNumber{fmt.Sprint(constant), a.unit, func(float64) float64 { return constant }}
	if other := x.number(t, 1); other.unit == a.unit && rapid.Bool().Draw(t, "two numbers") {
		b = other
	}
	if rapid.Bool().Draw(t, "other way round") {
		a, b = b, a
	}
	relation := rapid.SampledFrom([]string{"<", "<=", ">", ">="}).Draw(t, "relation")
	return saidCondition{fmt.Sprintf("%s %s %s", a.text, relation, b.text), func(at float64) truth3 {
		p, q := a.at(at), b.at(at)
		switch {
		case math.IsNaN(p) || math.IsNaN(q):
			return unknown
		case math.Abs(p-q) < 1e-6:
			return edge
		}
		return truthOf(p < q == (relation == "<" || relation == "<="))
	}}
}

// TestNominalReading: the spans an expression comes out as say at any time what
// its samples say there.
func TestNominalReading(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		x := drawFlight(t)
		said := x.condition(t, rapid.IntRange(0, 3).Draw(t, "depth"))
		compiled, err := Compile(said.text, testVocabulary, Condition)
		if err != nil {
			t.Fatalf("%s: %v", said.text, err)
		}
		c := compiled.Condition(x.flight)
		for range 30 {
			at := float64(rapid.IntRange(0, flightEnd-1).Draw(t, "second")) + rapid.Float64Range(0.001, 0.999).Draw(t, "part")
			want, got := said.at(at), unknown
			switch {
			case want == edge:
				continue
			case c.True.Contains(at):
				got = yes
			case c.False.Contains(at):
				got = no
			}
			if got != want {
				t.Fatalf("%s\nat %v: %d, want %d (0 no, 1 yes, 2 unknown): %v", said.text, at, got, want, c)
			}
			if got == yes && !c.Possible.Contains(at) || got != yes && c.Certain.Contains(at) {
				t.Fatalf("%s\nat %v the readings are out of order: %v", said.text, at, c)
			}
		}
	})
}

// TestWithinIsTheSameInside: evaluating inside windows only has the same result
// there as evaluating throughout.
func TestWithinIsTheSameInside(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		x := drawFlight(t)
		said := x.condition(t, rapid.IntRange(0, 3).Draw(t, "depth"))
		compiled, err := Compile(said.text, testVocabulary, Condition)
		if err != nil {
			t.Fatalf("%s: %v", said.text, err)
		}
		from := rapid.Float64Range(0, 18).Draw(t, "from")
		inside := readings.Span{Start: from, End: from + 2}
		whole, part := compiled.Condition(x.flight), compiled.ConditionWithin(x.flight, readings.Spans{inside})
		for range 20 {
			at := rapid.Float64Range(inside.Start, inside.End-1e-9).Draw(t, "time")
			if said.at(at) == edge {
				continue
			}
			if whole.True.Contains(at) != part.True.Contains(at) || whole.False.Contains(at) != part.False.Contains(at) ||
				whole.Certain.Contains(at) != part.Certain.Contains(at) || whole.Possible.Contains(at) != part.Possible.Contains(at) {
				t.Fatalf("%s\nat %v: throughout %v\nwithin %v %v", said.text, at, whole, inside, part)
			}
		}
	})
}
