package language

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/expr-lang/expr/ast"

	"downlock/detect/readings"
)

// function is one function of the language: its arguments and its result.
type function struct {
	usage   string
	meaning string
	takes   []Kind // Number at the end is a plain number that does not change
	make    func(args []node) node
}

// Function describes a function for the documentation of the language.
type Function struct{ Name, Usage, Meaning string }

// Functions lists the functions of the language by name.
func Functions() []Function {
	var out []Function
	for _, name := range slices.Sorted(maps.Keys(functions)) {
		out = append(out, Function{name, functions[name].usage, functions[name].meaning})
	}
	return out
}

var functions map[string]function

func init() { // in init: the table and the compiler refer to each other
	functions = map[string]function{
		"held": {"held(condition, seconds)", "holds once the condition has held for that many seconds without a break",
			[]Kind{Condition, Number}, func(a []node) node { return timed{a[0].(conditionNode), a[1].(numberNode), readings.HeldFor} }},
		"lasting": {"lasting(condition, seconds)", "holds throughout each stretch of the condition that lasts that many seconds",
			[]Kind{Condition, Number}, func(a []node) node { return timed{a[0].(conditionNode), a[1].(numberNode), readings.Lasting} }},
		"begins": {"begins(condition)", "the moments at which the condition starts to hold",
			[]Kind{Condition}, func(a []node) node { return begins{a[0].(conditionNode)} }},
		"ends": {"ends(condition)", "the moments at which the condition stops holding",
			[]Kind{Condition}, func(a []node) node { return begins{notNode{a[0].(conditionNode)}} }},
		"falls_through": {"falls_through(number, level)", "the moments at which the number falls below the level",
			[]Kind{Number, Number}, func(a []node) node {
				return begins{compareNode{a[0].(numberNode), readings.Below, a[1].(numberNode)}}
			}},
		"rises_through": {"rises_through(number, level)", "the moments at which the number rises above the level",
			[]Kind{Number, Number}, func(a []node) node {
				return begins{compareNode{a[0].(numberNode), readings.Above, a[1].(numberNode)}}
			}},
		"after": {"after(moments, seconds)", "holds from each moment for that many seconds",
			[]Kind{Moments, Number}, func(a []node) node { return near{of: a[0].(momentsNode), after: a[1].(numberNode)} }},
		"before": {"before(moments, seconds)", "holds for that many seconds up to each moment",
			[]Kind{Moments, Number}, func(a []node) node { return near{of: a[0].(momentsNode), before: a[1].(numberNode)} }},
		"either": {"either(moments, moments)", "the moments of both, in order of time",
			[]Kind{Moments, Moments}, func(a []node) node { return either{a[0].(momentsNode), a[1].(momentsNode)} }},
		"latched": {"latched(set, reset)", "holds from when set begins to hold until reset holds, and again the next time",
			[]Kind{Condition, Condition}, func(a []node) node { return latched{a[0].(conditionNode), a[1].(conditionNode)} }},
		"often": {"often(moments, count, seconds)", "holds while there have been at least count moments within that many seconds",
			[]Kind{Moments, Number, Number}, func(a []node) node {
				return often{a[0].(momentsNode), a[1].(numberNode), a[2].(numberNode)}
			}},
		"changes": {"changes(held)", "the moments at which a state, a held number or a discrete changes",
			[]Kind{held}, func(a []node) node { return stepsOf{a[0].(heldNode), readings.Changes} }},
		"increases": {"increases(held number)", "the moments at which a held number steps up",
			[]Kind{held}, func(a []node) node { return stepsOf{a[0].(heldNode), readings.Increases} }},
		"decreases": {"decreases(held number)", "the moments at which a held number steps down",
			[]Kind{held}, func(a []node) node { return stepsOf{a[0].(heldNode), readings.Decreases} }},
		"last_before": {"last_before(moments, later)", "the last of the first moments before each of the later moments",
			[]Kind{Moments, Moments}, func(a []node) node { return lastBefore{a[0].(momentsNode), a[1].(momentsNode)} }},
		"abs": {"abs(number)", "the number without its sign",
			[]Kind{Number}, func(a []node) node { return absolute{a[0].(numberNode)} }},
	}
}

func (c *compiler) call(n ast.Node, name string, arguments []ast.Node) (node, error) {
	args := make([]node, len(arguments))
	for i, a := range arguments {
		x, err := c.compile(a)
		if err != nil {
			return nil, err
		}
		args[i] = x
	}
	if table, ok := c.vocabulary.Tables[name]; ok {
		return c.lookUp(n, name, table, arguments, args)
	}
	f, ok := functions[name]
	if !ok {
		known := slices.Concat(slices.Collect(maps.Keys(functions)), slices.Collect(maps.Keys(c.vocabulary.Tables)))
		slices.Sort(known)
		return nil, mistake(n, nearest(name, known), "unknown function %q", name)
	}
	if len(args) != len(f.takes) {
		return nil, mistake(n, "use "+f.usage, "%s takes %d arguments, not %d", name, len(f.takes), len(args))
	}
	for i, want := range f.takes {
		got := args[i].kind()
		if want == held {
			if err := isHeld(arguments[i], name, args[i]); err != nil {
				return nil, err
			}
			continue
		}
		if got.Kind != want {
			return nil, mistake(arguments[i], "use "+f.usage, "%s needs %s here; %s", name, want.phrase(), is(got.Kind))
		}
		if i > 0 && want == Number && f.takes[0] != Number && (!got.Fixed || got.Unit != "" && got.Unit != "s") {
			return nil, mistake(arguments[i], "use "+f.usage, "%s needs a plain number here that does not change", name)
		}
	}
	if len(f.takes) == 2 && f.takes[0] == Number && f.takes[1] == Number {
		if _, ok := unitOf(args[0].kind(), args[1].kind()); !ok {
			return nil, mistake(arguments[1], "both need the same unit", "%s: the units differ, %s and %s", name, args[0].kind().Unit, args[1].kind().Unit)
		}
	}
	return f.make(args), nil
}

func (c *compiler) lookUp(n ast.Node, name string, table Table, arguments []ast.Node, args []node) (node, error) {
	usage := fmt.Sprintf("%s(number in %s)", name, table.From)
	if len(args) != 1 {
		return nil, mistake(n, "use "+usage, "%s takes one number, not %d arguments", name, len(args))
	}
	x, ok := args[0].(numberNode)
	if !ok || x.kind().Unit != "" && x.kind().Unit != table.From {
		return nil, mistake(arguments[0], "use "+usage, "%s needs a number in %s", name, table.From)
	}
	c.used(name)
	return lookedUp{name, x, Type{Kind: Number, Unit: table.To}}, nil
}

// timed is held and lasting. They look at time outside the windows, so the
// condition is evaluated throughout.
type timed struct {
	of      conditionNode
	seconds numberNode
	make    func(readings.Condition, float64, readings.Spans) readings.Condition
}

func (timed) kind() Type { return Type{Kind: Condition} }
func (n timed) condition(env Environment, within readings.Spans) readings.Condition {
	seconds, ok := n.seconds.fixed(env)
	if !ok {
		return readings.Unknown(within)
	}
	all := readings.Spans{env.Window()}
	return n.make(n.of.condition(env, all), seconds, all).Clip(within)
}

type begins struct{ of conditionNode }

func (begins) kind() Type { return Type{Kind: Moments} }
func (n begins) moments(env Environment) ([]readings.Moment, readings.Spans) {
	all := readings.Spans{env.Window()}
	c := n.of.condition(env, all)
	return readings.Begins(c), c.Missing(all)
}

// near holds before each moment, after it, or both; nil is no time.
type near struct {
	of            momentsNode
	before, after numberNode
}

// together is near on both sides of the same moments, as one: before and after one by
// one leave the bounds of the moment between them open. Both are calls, so each has one side.
func together(a, b node, sameMoments bool) (near, bool) {
	x, ok := a.(near)
	y, also := b.(near)
	if !ok || !also || !sameMoments || (x.before == nil) == (y.before == nil) {
		return near{}, false
	}
	if x.before == nil {
		x, y = y, x
	}
	return near{of: x.of, before: x.before, after: y.after}, true
}

func (near) kind() Type { return Type{Kind: Condition} }
func (n near) condition(env Environment, within readings.Spans) readings.Condition {
	var seconds [2]float64
	for i, side := range []numberNode{n.before, n.after} {
		if side == nil {
			continue
		}
		given, ok := side.fixed(env)
		if !ok {
			return readings.Unknown(within)
		}
		seconds[i] = given
	}
	all := readings.Spans{env.Window()}
	found, unknown := n.of.moments(env)
	c := readings.Around(found, seconds[0], seconds[1], all)
	if len(unknown) == 0 {
		return c.Clip(within)
	}
	// A moment may have been missed wherever samples are missing.
	missed := make([]readings.Moment, len(unknown))
	for i, s := range unknown {
		missed[i] = readings.Moment{Nominal: math.NaN(), Earliest: s.Start, Latest: s.End}
	}
	near := readings.Around(missed, seconds[0], seconds[1], all).Possible
	c.Possible = readings.Union(c.Possible, near)
	c.False = readings.Intersect(c.False, near.Complement(all))
	return c.Clip(within)
}

type lastBefore struct{ of, later momentsNode }

func (lastBefore) kind() Type { return Type{Kind: Moments} }
func (n lastBefore) moments(env Environment) ([]readings.Moment, readings.Spans) {
	found, missing := n.of.moments(env)
	later, missingLater := n.later.moments(env)
	return readings.LastBefore(found, later), readings.Union(missing, missingLater)
}

type absolute struct{ of numberNode }

func (n absolute) kind() Type { return n.of.kind() }
func (n absolute) number(env Environment, within readings.Spans) readings.Number {
	return n.of.number(env, within).Absolute()
}
func (n absolute) fixed(env Environment) (float64, bool) {
	v, ok := n.of.fixed(env)
	return max(v, -v), ok
}
func (n absolute) envelope(env Environment) (readings.Envelope, bool) {
	e, ok := n.of.envelope(env)
	return e.Absolute(), ok
}

// lookedUp is a number looked up in a table of the profile.
type lookedUp struct {
	table string
	of    numberNode
	typ   Type
}

func (n lookedUp) kind() Type { return n.typ }
func (n lookedUp) number(env Environment, within readings.Spans) readings.Number {
	points := env.Table(n.table)
	if len(points) == 0 {
		return readings.Number{}
	}
	return readings.Through(points, n.of.number(env, within))
}
func (n lookedUp) fixed(Environment) (float64, bool) { return 0, false }
func (n lookedUp) envelope(env Environment) (readings.Envelope, bool) {
	e, ok := n.of.envelope(env)
	points := env.Table(n.table)
	if !ok || len(points) == 0 {
		return readings.Envelope{}, false
	}
	return e.Through(points), true
}

// largest is the largest value of the table, its last: the values never fall.
func (n lookedUp) largest(env Environment) (value float64, ok bool) {
	points := env.Table(n.table)
	if len(points) == 0 {
		return 0, false
	}
	return points[len(points)-1][1], true
}
