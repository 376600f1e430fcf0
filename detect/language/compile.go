package language

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"

	"downlock/schemas"
)

// maxLength bounds an expression; a longer one is better split into rules.
const maxLength = 2000

// Compile parses and checks an expression that must be of the wanted kind. The
// error is an *Error.
func Compile(expression string, vocabulary *Vocabulary, want Kind) (*Expression, error) {
	if len(expression) > maxLength {
		return nil, &Error{0, fmt.Sprintf("the expression has more than %d characters", maxLength), "split the rule in two"}
	}
	tree, err := parser.Parse(expression)
	var syntax *file.Error
	if errors.As(err, &syntax) {
		return nil, syntaxMistake(expression, syntax)
	}
	if err != nil {
		return nil, &Error{0, err.Error(), ""}
	}
	c := &compiler{vocabulary: vocabulary, checked: map[ast.Node]node{}}
	root, err := c.compile(tree.Node)
	if err != nil {
		return nil, err
	}
	if got := root.kind(); got.Kind != want {
		return nil, &Error{0, fmt.Sprintf("%s where %s needed", is(got.Kind), needed(want)), wantedHint(got.Kind, want)}
	}
	return &Expression{Text: expression, Type: root.kind(), Names: c.names, root: root, tree: tree.Node, checked: c.checked}, nil
}

// phrase returns the kind with its article.
func (k Kind) phrase() string {
	switch k {
	case Moments:
		return "moments"
	case text:
		return "a quoted word"
	}
	return "a " + string(k)
}

func is(k Kind) string {
	if k == Moments {
		return "these are moments"
	}
	return "this is " + k.phrase()
}

func needed(k Kind) string {
	if k == Moments {
		return "moments are"
	}
	return k.phrase() + " is"
}

func wantedHint(got, want Kind) string {
	switch {
	case want == Condition && got == Moments:
		return "put after(..., seconds) or before(..., seconds) around them, or move them into at"
	case want == Moments && got == Number:
		return "write rises_through(..., level) or falls_through(..., level)"
	case want == Moments && got == State:
		return `write begins(... == "WORD"), or changes(...)`
	case want == Condition && got == Number:
		return "compare it with something, as in computed_airspeed > 250"
	case want == Condition && got == State:
		return `compare it with one of its words, as in gear_lever == "UP"`
	case want == Moments && got == Condition:
		return "put begins(...) or ends(...) around it"
	}
	return ""
}

// stateHint names the nearest state, in whatever case it was written, and all.
func stateHint(word string, states []string) string {
	hint := fmt.Sprintf("its states are %q", states)
	if near := schemas.Suggest(strings.ToUpper(word), states); near != "" {
		hint = near + " " + hint
	}
	return hint
}

type compiler struct {
	vocabulary *Vocabulary
	names      []string
	checked    map[ast.Node]node // what became of every part
}

func (c *compiler) used(name string) {
	if !slices.Contains(c.names, name) {
		c.names = append(c.names, name)
	}
}

func mistake(n ast.Node, hint, format string, args ...any) error {
	return &Error{n.Location().From, fmt.Sprintf(format, args...), hint}
}

func (c *compiler) compile(n ast.Node) (node, error) {
	x, err := c.compileOne(n)
	if err == nil {
		c.checked[n] = x
	}
	return x, err
}

func (c *compiler) compileOne(n ast.Node) (node, error) {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return c.name(n)
	case *ast.IntegerNode:
		return literal(n.Value), nil
	case *ast.FloatNode:
		return literal(n.Value), nil
	case *ast.BoolNode:
		return truth(n.Value), nil
	case *ast.StringNode:
		return quoted(n.Value), nil
	case *ast.UnaryNode:
		return c.unary(n)
	case *ast.BinaryNode:
		return c.binary(n)
	case *ast.CallNode:
		name, ok := n.Callee.(*ast.IdentifierNode)
		if !ok {
			return nil, mistake(n, "", "only functions of the language can be called")
		}
		return c.call(n, name.Value, n.Arguments)
	case *ast.BuiltinNode:
		return c.call(n, n.Name, n.Arguments)
	case *ast.ConditionalNode: // its own place is its end
		return nil, mistake(n.Cond, "write it with and, or and not", "this part of Expr's syntax is not used in rules")
	}
	return nil, mistake(n, "see `downlock rules --help` for the parts of the language", "this part of Expr's syntax is not used in rules")
}

func (c *compiler) name(n *ast.IdentifierNode) (node, error) {
	t, ok := c.vocabulary.Names[n.Value]
	if !ok {
		n.Value = schemas.NameNow(n.Value)
		t, ok = c.vocabulary.Names[n.Value]
	}
	if !ok {
		known := slices.Sorted(maps.Keys(c.vocabulary.Names))
		if _, isFunction := functions[n.Value]; isFunction {
			return nil, mistake(n, "call it: "+functions[n.Value].usage, "%s is a function", n.Value)
		}
		return nil, mistake(n, nearest(n.Value, known), "unknown name %q", n.Value)
	}
	c.used(n.Value)
	switch t.Kind {
	case Condition:
		return namedCondition(n.Value), nil
	case Moments:
		return namedMoments(n.Value), nil
	case State:
		return namedState{n.Value, t}, nil
	}
	return namedNumber{n.Value, t}, nil
}

func (c *compiler) unary(n *ast.UnaryNode) (node, error) {
	operand, err := c.compile(n.Node)
	if err != nil {
		return nil, err
	}
	switch n.Operator {
	case "not", "!":
		if x, ok := operand.(conditionNode); ok {
			return notNode{x}, nil
		}
		return nil, mistake(n.Node, wantedHint(operand.kind().Kind, Condition), "not needs a condition; %s", is(operand.kind().Kind))
	case "-", "+":
		if x, ok := operand.(numberNode); ok {
			factor := map[string]float64{"-": -1, "+": 1}[n.Operator]
			return scaled{x, literal(factor), false, x.kind()}, nil
		}
		return nil, mistake(n.Node, "", "%s needs a number; %s", n.Operator, is(operand.kind().Kind))
	}
	return nil, mistake(n, "", "the operator %q is not used in rules", n.Operator)
}

func (c *compiler) binary(n *ast.BinaryNode) (node, error) {
	left, err := c.compile(n.Left)
	if err != nil {
		return nil, err
	}
	right, err := c.compile(n.Right)
	if err != nil {
		return nil, err
	}
	switch n.Operator {
	case "and", "&&", "or", "||":
		return c.connect(n, left, right)
	case "<", "<=", ">", ">=", "==", "!=":
		return c.compare(n, left, right)
	case "+", "-", "*", "/":
		return c.arithmetic(n, left, right)
	}
	return nil, mistake(n, "", "the operator %q is not used in rules", n.Operator)
}

func (c *compiler) connect(n *ast.BinaryNode, left, right node) (node, error) {
	a, ok := left.(conditionNode)
	if !ok {
		return nil, mistake(n.Left, wantedHint(left.kind().Kind, Condition), "%s needs a condition on its left; %s", n.Operator, is(left.kind().Kind))
	}
	b, ok := right.(conditionNode)
	if !ok {
		return nil, mistake(n.Right, wantedHint(right.kind().Kind, Condition), "%s needs a condition on its right; %s", n.Operator, is(right.kind().Kind))
	}
	if n.Operator == "and" || n.Operator == "&&" {
		return andNode{a, b}, nil
	}
	if both, ok := together(a, b, firstArgument(n.Left) != "" && firstArgument(n.Left) == firstArgument(n.Right)); ok {
		return both, nil
	}
	return orNode{a, b}, nil
}

// firstArgument is the text of a call's first argument, "" for any other node.
func firstArgument(n ast.Node) string {
	if call, ok := n.(*ast.CallNode); ok && len(call.Arguments) > 0 {
		return call.Arguments[0].String()
	}
	return ""
}

// unitOf is the unit two numbers share; a plain number goes with any.
func unitOf(a, b Type) (string, bool) {
	switch {
	case a.Unit == "":
		return b.Unit, true
	case b.Unit == "" || a.Unit == b.Unit:
		return a.Unit, true
	}
	return "", false
}

func (c *compiler) arithmetic(n *ast.BinaryNode, left, right node) (node, error) {
	a, aok := left.(numberNode)
	b, bok := right.(numberNode)
	if !aok || !bok {
		wrong, found := n.Left, left
		if aok {
			wrong, found = n.Right, right
		}
		return nil, mistake(wrong, "", "%s needs numbers; %s", n.Operator, is(found.kind().Kind))
	}
	ta, tb := a.kind(), b.kind()
	fixed := ta.Fixed && tb.Fixed
	switch n.Operator {
	case "+", "-":
		unit, ok := unitOf(ta, tb)
		if !ok {
			return nil, mistake(n, "both sides need the same unit", "%s %s %s: the units differ", ta.Unit, n.Operator, tb.Unit)
		}
		return sum{a, b, n.Operator == "-", Type{Kind: Number, Unit: unit, Fixed: fixed}}, nil
	case "*":
		if ta.Fixed && ta.Unit == "" {
			return scaled{b, a, false, Type{Kind: Number, Unit: tb.Unit, Fixed: fixed}}, nil
		}
		fallthrough
	default:
		if tb.Fixed && tb.Unit == "" {
			return scaled{a, b, n.Operator == "/", Type{Kind: Number, Unit: ta.Unit, Fixed: fixed}}, nil
		}
	}
	return nil, mistake(n, "a function of two parameters belongs in a table of the profile", "%s needs a plain number on one side", n.Operator)
}

func (c *compiler) compare(n *ast.BinaryNode, left, right node) (node, error) {
	ta, tb := left.kind(), right.kind()
	relation := relations[n.Operator]
	if a, ok := left.(numberNode); ok {
		if b, ok := right.(numberNode); ok {
			if _, ok := unitOf(ta, tb); !ok {
				return nil, mistake(n, "both sides need the same unit", "%s %s %s: the units differ", ta.Unit, n.Operator, tb.Unit)
			}
			return compareNode{a, relation, b}, nil
		}
	}
	wordAt := n.Right
	if ta.Kind == text {
		left, right, ta, tb = right, left, tb, ta
		wordAt = n.Left
	}
	word, isWord := right.(quoted)
	state, isState := left.(namedState)
	switch {
	case isState && isWord && !slices.Contains(ta.States, string(word)):
		return nil, mistake(wordAt, stateHint(string(word), ta.States), "%s has no state %q", state.name, string(word))
	case isState && isWord && (n.Operator == "==" || n.Operator == "!="):
		is := conditionNode(isNode{state.name, string(word)})
		if n.Operator == "!=" {
			is = notNode{is}
		}
		return is, nil
	case ta.Kind == Condition || tb.Kind == Condition:
		return nil, mistake(n, "a condition needs no comparison: write it alone, or with not before it", "cannot compare %s with %s", ta.Kind.phrase(), tb.Kind.phrase())
	}
	hint := ""
	if isState {
		hint = fmt.Sprintf("compare it, with == or !=, with one of %q", ta.States)
	}
	return nil, mistake(n, hint, "cannot compare %s with %s using %s", ta.Kind.phrase(), tb.Kind.phrase(), n.Operator)
}
