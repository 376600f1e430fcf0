package language

import (
	"github.com/expr-lang/expr/ast"

	"downlock/detect/readings"
)

// Comparison is a number held against another, as an expression writes it: an airspeed
// against a limit.
type Comparison struct {
	Of, With Expression // the two numbers
	Relation readings.Relation
	// Crossing says that the moment of passing is asked for, as in falls_through.
	Crossing bool

	tree, target ast.Node
	checked      map[ast.Node]node
}

// Comparisons lists the comparisons of two numbers in an expression, in the order of the
// text.
func (e *Expression) Comparisons() []Comparison {
	var found []Comparison
	var walk func(n ast.Node)
	walk = func(n ast.Node) {
		x := e.checked[n]
		below := childrenOf(n)
		compared, ok := x.(compareNode)
		crossing := false
		if b, isCrossing := x.(begins); isCrossing {
			// falls_through and rises_through: begins of a comparison that stands nowhere.
			if c, made := b.of.(compareNode); made {
				compared, ok, crossing = c, true, true
			}
		}
		if ok && len(below) == 2 {
			found = append(found, Comparison{e.part(below[0]), e.part(below[1]), compared.relation, crossing, e.tree, n, e.checked})
		}
		for _, child := range below {
			walk(child)
		}
	}
	walk(e.tree)
	return found
}

func (e *Expression) part(n ast.Node) Expression {
	x := e.checked[n]
	w := partWalker{checked: e.checked}
	return Expression{Text: n.String(), Type: x.kind(), Names: w.walk(n, 0, ""), root: x, tree: n, checked: e.checked}
}

// Applies is where the comparison decides the expression: where everything holds that the
// expression joins to it by "and". A comparison below a "not" other than as part of a
// row, or within moments, applies everywhere.
func (c Comparison) Applies(env Environment) readings.Condition {
	within := readings.Spans{env.Window()}
	if rest, ok := c.besides(c.tree); ok && rest != nil {
		return rest.condition(env, within)
	}
	return readings.Always(within)
}

// besides is the condition an expression asks for besides a part of it; nil for none. ok is
// false where the part is not in it.
func (c Comparison) besides(n ast.Node) (rest conditionNode, ok bool) {
	if n == c.target {
		return nil, true
	}
	below := childrenOf(n)
	switch {
	case connective(n) == "and":
		for i, child := range below {
			rest, ok := c.besides(child)
			other, isCondition := c.checked[below[1-i]].(conditionNode)
			if !ok || !isCondition {
				continue
			}
			if rest == nil {
				return other, true
			}
			return andNode{rest, other}, true
		}
		return nil, false
	case connective(n) == "or":
		if rest, ok := c.besides(below[0]); ok {
			return rest, true
		}
		return c.besides(below[1])
	}
	switch c.checked[n].(type) {
	case notNode, timed:
		if len(below) > 0 {
			return c.besides(below[0])
		}
	}
	return nil, false
}
