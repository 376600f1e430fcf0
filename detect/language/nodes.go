package language

import (
	"math"

	"downlock/detect/readings"
)

var relations = map[string]readings.Relation{
	">": readings.Above, ">=": readings.AtLeast, "<": readings.Below, "<=": readings.AtMost,
	"==": readings.Equal, "!=": readings.Unequal,
}

// mirrored is the relation with its sides exchanged.
var mirrored = map[readings.Relation]readings.Relation{
	readings.Above: readings.Below, readings.AtLeast: readings.AtMost,
	readings.Below: readings.Above, readings.AtMost: readings.AtLeast,
	readings.Equal: readings.Equal, readings.Unequal: readings.Unequal,
}

// literal is a number written in the expression.
type literal float64

func (l literal) kind() Type { return Type{Kind: Number, Fixed: true} }
func (l literal) number(_ Environment, within readings.Spans) readings.Number {
	return readings.Constant(float64(l), within)
}
func (l literal) fixed(Environment) (float64, bool) { return float64(l), true }
func (l literal) envelope(Environment) (readings.Envelope, bool) {
	return readings.LevelEnvelope(float64(l)), true
}

// quoted is a word to compare a state with.
type quoted string

func (quoted) kind() Type { return Type{Kind: text} }

// truth is true or false.
type truth bool

func (truth) kind() Type { return Type{Kind: Condition} }
func (t truth) condition(_ Environment, within readings.Spans) readings.Condition {
	if t {
		return readings.Always(within)
	}
	return readings.Never(within)
}

type namedCondition string

func (namedCondition) kind() Type { return Type{Kind: Condition} }
func (n namedCondition) condition(env Environment, within readings.Spans) readings.Condition {
	return env.Condition(string(n)).Clip(within)
}

type namedMoments string

func (namedMoments) kind() Type { return Type{Kind: Moments} }
func (n namedMoments) moments(env Environment) ([]readings.Moment, readings.Spans) {
	return env.Moments(string(n)), nil
}

type namedState struct {
	name string
	typ  Type
}

func (n namedState) kind() Type { return n.typ }

// isNode is where a state parameter is in one of its states.
type isNode struct{ name, state string }

func (isNode) kind() Type { return Type{Kind: Condition} }
func (n isNode) condition(env Environment, within readings.Spans) readings.Condition {
	return env.State(n.name, n.state).Clip(within)
}

type namedNumber struct {
	name string
	typ  Type
}

func (n namedNumber) kind() Type { return n.typ }
func (n namedNumber) number(env Environment, within readings.Spans) readings.Number {
	if v, ok := n.fixed(env); ok {
		return readings.Constant(v, within)
	}
	if n.typ.Fixed {
		return readings.Number{} // the type has none
	}
	return env.Number(n.name, within)
}
func (n namedNumber) fixed(env Environment) (float64, bool) { return env.Fixed(n.name) }
func (n namedNumber) envelope(env Environment) (readings.Envelope, bool) {
	if v, ok := n.fixed(env); ok {
		return readings.LevelEnvelope(v), true
	}
	if n.typ.Fixed {
		return readings.Envelope{}, false
	}
	return env.Envelope(n.name)
}

// sum is a + b, or a − b.
type sum struct {
	a, b  numberNode
	minus bool
	typ   Type
}

func (s sum) kind() Type { return s.typ }
func (s sum) number(env Environment, within readings.Spans) readings.Number {
	if s.minus {
		return readings.Subtract(s.a.number(env, within), s.b.number(env, within))
	}
	return readings.Add(s.a.number(env, within), s.b.number(env, within))
}
func (s sum) fixed(env Environment) (float64, bool) {
	a, aok := s.a.fixed(env)
	b, bok := s.b.fixed(env)
	if s.minus {
		b = -b
	}
	return a + b, aok && bok
}

func (s sum) envelope(env Environment) (readings.Envelope, bool) {
	a, aok := s.a.envelope(env)
	b, bok := s.b.envelope(env)
	if !aok || !bok {
		return readings.Envelope{}, false
	}
	if s.minus {
		return a.Subtract(b), true
	}
	return a.Add(b), true
}

// scaled is a number times a factor that does not change, or divided by it.
type scaled struct {
	of      numberNode
	by      numberNode
	inverse bool
	typ     Type
}

func (s scaled) kind() Type { return s.typ }
func (s scaled) factor(env Environment) (float64, bool) {
	f, ok := s.by.fixed(env)
	if s.inverse {
		f = 1 / f
	}
	return f, ok && !math.IsInf(f, 0)
}
func (s scaled) number(env Environment, within readings.Spans) readings.Number {
	f, ok := s.factor(env)
	if !ok {
		return readings.Number{}
	}
	return s.of.number(env, within).Scale(f)
}
func (s scaled) fixed(env Environment) (float64, bool) {
	f, fok := s.factor(env)
	v, vok := s.of.fixed(env)
	return f * v, fok && vok
}

func (s scaled) envelope(env Environment) (readings.Envelope, bool) {
	f, fok := s.factor(env)
	e, ok := s.of.envelope(env)
	if !fok || !ok {
		return readings.Envelope{}, false
	}
	return e.Mapped(func(x float64) float64 { return x * f }), true
}

type notNode struct{ of conditionNode }

func (notNode) kind() Type { return Type{Kind: Condition} }
func (n notNode) condition(env Environment, within readings.Spans) readings.Condition {
	return readings.Not(n.of.condition(env, within), within)
}

// andNode evaluates its right side only where the left one is possible: write
// the cheap and rare part first.
type andNode struct{ a, b conditionNode }

func (andNode) kind() Type { return Type{Kind: Condition} }
func (n andNode) condition(env Environment, within readings.Spans) readings.Condition {
	a := n.a.condition(env, within)
	return readings.And(a, n.b.condition(env, a.Possible))
}

// orNode evaluates its right side only where the left one is not certain.
type orNode struct{ a, b conditionNode }

func (orNode) kind() Type { return Type{Kind: Condition} }
func (n orNode) condition(env Environment, within readings.Spans) readings.Condition {
	a := n.a.condition(env, within)
	return readings.Or(a, n.b.condition(env, a.Certain.Complement(within)))
}

type compareNode struct {
	a        numberNode
	relation readings.Relation
	b        numberNode
}

func (compareNode) kind() Type { return Type{Kind: Condition} }
func (n compareNode) condition(env Environment, within readings.Spans) readings.Condition {
	_, aFixed := n.a.fixed(env)
	level, bFixed := n.b.fixed(env)
	if name, ok := n.a.(namedNumber); ok && bFixed && !aFixed && !name.typ.Fixed {
		return env.Compare(name.name, n.relation, level).Clip(within)
	}
	if _, ok := n.b.(namedNumber); ok && aFixed && !bFixed {
		return compareNode{n.b, mirrored[n.relation], n.a}.condition(env, within)
	}
	if looked, ok := n.b.(lookedUp); ok && (n.relation == readings.Below || n.relation == readings.AtMost) {
		// Below the table only where below its largest value: look there alone.
		if top, ok := looked.largest(env); ok {
			coarse := compareNode{n.a, n.relation, literal(top)}.condition(env, within)
			fine := readings.Compare(n.a.number(env, coarse.Possible), n.relation, n.b.number(env, coarse.Possible), coarse.Possible)
			return readings.And(coarse, fine)
		}
	}
	a, aKnown := n.a.envelope(env)
	b, bKnown := n.b.envelope(env)
	if !aKnown || !bKnown {
		return n.closely(env, within)
	}
	return readings.CompareClosely(a, n.relation, b, within, func(w readings.Spans) readings.Condition { return n.closely(env, w) })
}

// closely compares the numbers themselves.
func (n compareNode) closely(env Environment, within readings.Spans) (c readings.Condition) {
	for _, part := range inParts(within) {
		c = c.Followed(readings.Compare(n.a.number(env, part), n.relation, n.b.number(env, part), part))
	}
	return c
}

// partSeconds (s) bounds what is compared at a time: a number has a piece for each of its
// samples, in three readings, and a long flight would hold them all at once.
const partSeconds = 1800.0

// inParts cuts spans into parts that last no longer than so.
func inParts(within readings.Spans) (parts []readings.Spans) {
	var part readings.Spans
	room := partSeconds
	for _, s := range within {
		for s.Seconds() > room {
			cut := s.Start + room
			parts, part, room = append(parts, append(part, readings.Span{Start: s.Start, End: cut})), nil, partSeconds
			s.Start = cut
		}
		part, room = append(part, s), room-s.Seconds()
	}
	return append(parts, part)
}
