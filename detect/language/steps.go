package language

import (
	"github.com/expr-lang/expr/ast"

	"downlock/detect/readings"
)

// held is what changes, increases and decreases take: the name of a parameter
// that keeps its value from sample to sample.
const held Kind = "held parameter"

// heldNode is a name whose value is held.
type heldNode interface {
	node
	heldName() string
}

func (n namedCondition) heldName() string { return string(n) }
func (n namedState) heldName() string     { return n.name }
func (n namedNumber) heldName() string    { return n.name }

// isHeld checks an argument of changes, increases or decreases.
func isHeld(n ast.Node, function string, arg node) error {
	named, ok := arg.(heldNode)
	number, isNumber := arg.(namedNumber)
	switch {
	case !ok || isNumber && !number.typ.Held:
		return mistake(n, "it takes a state, a discrete, or a held number such as flap_handle", "%s needs a parameter that is held from sample to sample", function)
	case !isNumber && function != "changes":
		return mistake(n, "use changes, or begins", "%s needs a number; %s is %s", function, named.heldName(), arg.kind().Kind.phrase())
	}
	return nil
}

// stepsOf is the moments at which a held parameter changes in the direction.
type stepsOf struct {
	of        heldNode
	direction readings.Direction
}

func (stepsOf) kind() Type { return Type{Kind: Moments} }
func (n stepsOf) moments(env Environment) ([]readings.Moment, readings.Spans) {
	found, unknown := env.Steps(n.of.heldName(), n.direction)
	c, isCondition := n.of.(namedCondition)
	if !isCondition || len(found) > 0 {
		return found, unknown
	}
	all := readings.Spans{env.Window()} // one that is worked out has no samples of its own
	on := c.condition(env, all)
	off := readings.Not(on, all)
	return readings.Either(readings.Begins(on), readings.Begins(off)), on.Missing(all)
}

// either is the moments of both.
type either struct{ a, b momentsNode }

func (either) kind() Type { return Type{Kind: Moments} }
func (n either) moments(env Environment) ([]readings.Moment, readings.Spans) {
	a, unknownA := n.a.moments(env)
	b, unknownB := n.b.moments(env)
	return readings.Either(a, b), readings.Union(unknownA, unknownB)
}

// latched holds from the time set begins until it is reset.
type latched struct{ set, reset conditionNode }

func (latched) kind() Type { return Type{Kind: Condition} }
func (n latched) condition(env Environment, within readings.Spans) readings.Condition {
	all := readings.Spans{env.Window()}
	return readings.Latched(n.set.condition(env, all), n.reset.condition(env, all), all).Clip(within)
}

// often is where moments crowd.
type often struct {
	of             momentsNode
	count, seconds numberNode
}

func (often) kind() Type { return Type{Kind: Condition} }
func (n often) condition(env Environment, within readings.Spans) readings.Condition {
	count, cok := n.count.fixed(env)
	seconds, sok := n.seconds.fixed(env)
	if !cok || !sok {
		return readings.Unknown(within)
	}
	all := readings.Spans{env.Window()}
	found, unknown := n.of.moments(env)
	c := readings.Often(found, int(count), seconds, all)
	// Any number of moments may have been missed where samples are missing.
	near := readings.Intersect(unknown.Widen(0, seconds), all)
	c.Possible = readings.Union(c.Possible, near)
	c.False = readings.Intersect(c.False, near.Complement(all))
	return c.Clip(within)
}
