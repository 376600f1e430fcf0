// Package language is the language rules are written in: the syntax of Expr
// (parsed by its own parser), checked against the canonical parameters when a
// pack is loaded, and evaluated over spans of time by package readings.
//
// An expression in goes through Compile to an Expression, which an Environment
// (one flight) then evaluates to a condition, a number or moments. The package
// knows no file, no profile and no flight.
package language

import (
	"fmt"

	"github.com/expr-lang/expr/ast"

	"downlock/detect/readings"
)

// Kind is the kind of thing an expression stands for.
type Kind string

const (
	Number    Kind = "number"    // over time, with a unit
	Condition Kind = "condition" // holds or not over time
	State     Kind = "state"     // one of some words over time
	Moments   Kind = "moments"   // points in time
	text      Kind = "text"      // a quoted word, to compare a state with
)

// Type is the type of a name or an expression.
type Type struct {
	Kind   Kind
	Unit   string   // of a number; "" for a plain number, which goes with any unit
	States []string // of a state
	Fixed  bool     // a number that does not change over time
	Held   bool     // a number that keeps its value from sample to sample
}

// Table is a function of one number.
type Table struct{ From, To string } // units

// Vocabulary is every name an expression may use, apart from the functions of
// the language itself.
type Vocabulary struct {
	Names  map[string]Type
	Tables map[string]Table
}

// Environment holds the values of the names on one flight. All conditions and
// moments cover the whole of Window; they are unknown where samples are missing.
type Environment interface {
	Window() readings.Span
	Condition(name string) readings.Condition
	State(name, state string) readings.Condition
	Moments(name string) []readings.Moment
	// Steps are the moments at which a held parameter changes in the direction,
	// and the part of the window in which they may have been missed.
	Steps(name string, d readings.Direction) (moments []readings.Moment, unknown readings.Spans)
	Number(name string, within readings.Spans) readings.Number
	// Envelope bounds a number in the window; ok is false where no envelope is worked out.
	Envelope(name string) (e readings.Envelope, ok bool)
	// Compare is the fast way to compare a name with a constant.
	Compare(name string, r readings.Relation, constant float64) readings.Condition
	// Fixed is a number that does not change over time; ok is false where the type
	// has none, and where it is one that changes on this flight.
	Fixed(name string) (value float64, ok bool)
	// Table is a table's points, nil where the type has none.
	Table(name string) [][2]float64
}

// Error is a mistake in an expression.
type Error struct {
	Offset int // characters from the start of the expression
	Cause  string
	Hint   string
}

func (e *Error) Error() string { return fmt.Sprintf("at character %d: %s", e.Offset+1, e.Cause) }

// Expression is a checked expression. It holds no state and may be shared.
type Expression struct {
	Text  string
	Type  Type
	Names []string // names and tables used, each once, in order of first use
	root  node

	tree    ast.Node // root as it was written
	checked map[ast.Node]node
}

// Condition evaluates an expression of kind Condition over the whole window.
func (e *Expression) Condition(env Environment) readings.Condition {
	return e.root.(conditionNode).condition(env, readings.Spans{env.Window()})
}

// ConditionWithin is Condition inside the windows only.
func (e *Expression) ConditionWithin(env Environment, within readings.Spans) readings.Condition {
	return e.root.(conditionNode).condition(env, within)
}

// Number evaluates an expression of kind Number inside the windows.
func (e *Expression) Number(env Environment, within readings.Spans) readings.Number {
	return e.root.(numberNode).number(env, within)
}

// Fixed evaluates an expression whose Type is Fixed; ok is false where a value
// it needs is missing.
func (e *Expression) Fixed(env Environment) (value float64, ok bool) {
	return e.root.(numberNode).fixed(env)
}

// Moments evaluates an expression of kind Moments. Unknown is the part of the
// window in which moments may have been missed because samples are.
func (e *Expression) Moments(env Environment) (moments []readings.Moment, unknown readings.Spans) {
	return e.root.(momentsNode).moments(env)
}

// node is a checked part of an expression: a conditionNode, a numberNode, a
// momentsNode, a stateNode or a textNode.
type node interface{ kind() Type }

type conditionNode interface {
	node
	condition(env Environment, within readings.Spans) readings.Condition
}

type numberNode interface {
	node
	number(env Environment, within readings.Spans) readings.Number
	// fixed is the value where it does not change over time.
	fixed(env Environment) (value float64, ok bool)
	// envelope is that of the number; ok is false where none is worked out.
	envelope(env Environment) (e readings.Envelope, ok bool)
}

type momentsNode interface {
	node
	moments(env Environment) (found []readings.Moment, unknown readings.Spans)
}
