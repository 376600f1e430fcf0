package language

import (
	"slices"

	"github.com/expr-lang/expr/ast"
)

// Part is a sub-expression of an expression, and an expression itself.
type Part struct {
	Depth int    // how far down it is; 0 is the whole expression
	Name  string // of the name or table it is, negates or looks up; "" for any other part
	Expression
}

// Parts lists the expression and its parts, each before its own
// parts, in the order of the text. The operands of a row of ands, or of ors,
// come as parts of one. Parts without a value over time are left out: words, states
// and numbers written in the expression, and a name that is only negated.
func (e *Expression) Parts() []Part {
	w := partWalker{checked: e.checked}
	w.walk(e.tree, 0, "")
	return w.parts
}

type partWalker struct {
	checked map[ast.Node]node
	parts   []Part
}

// walk adds the part n is and those below it, and returns the names in them.
// A connective that only continues the row above is no part of its own.
func (w *partWalker) walk(n ast.Node, depth int, row string) (names []string) {
	x, below := w.checked[n], childrenOf(n)
	at := -1
	if joins := connective(n); joins == "" || joins != row {
		if isPart(x) {
			at = len(w.parts)
			name := w.nameOf(n, x)
			if name != "" {
				names = append(names, name)
			}
			w.parts = append(w.parts, Part{depth, name, Expression{Text: n.String(), Type: x.kind(), root: x, tree: n, checked: w.checked}})
		} else if s, ok := x.(namedState); ok {
			names = append(names, s.name)
		}
		depth++
	}
	for _, child := range below {
		for _, name := range w.walk(child, depth, connective(n)) {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	if at >= 0 {
		w.parts[at].Names = names
	}
	return names
}

// isPart leaves out nodes that have no value over time to show.
func isPart(x node) bool {
	switch x.(type) {
	case literal, truth, quoted, namedState:
		return false
	}
	return true
}

func (w *partWalker) nameOf(n ast.Node, x node) string {
	if looked, ok := x.(lookedUp); ok {
		return looked.table
	}
	if name := identifier(n); name != "" {
		return name
	}
	if not, ok := n.(*ast.UnaryNode); ok {
		return identifier(not.Node)
	}
	return ""
}

func identifier(n ast.Node) string {
	if id, ok := n.(*ast.IdentifierNode); ok {
		return id.Value
	}
	return ""
}

// connective is "and" or "or" for a node that is one, else "".
func connective(n ast.Node) string {
	if b, ok := n.(*ast.BinaryNode); ok {
		switch b.Operator {
		case "and", "&&":
			return "and"
		case "or", "||":
			return "or"
		}
	}
	return ""
}

// childrenOf lists the operands or arguments of a node of the language.
func childrenOf(n ast.Node) []ast.Node {
	switch n := n.(type) {
	case *ast.UnaryNode:
		if identifier(n.Node) != "" {
			return nil
		}
		return []ast.Node{n.Node}
	case *ast.BinaryNode:
		return []ast.Node{n.Left, n.Right}
	case *ast.CallNode:
		return n.Arguments
	case *ast.BuiltinNode:
		return n.Arguments
	}
	return nil
}
