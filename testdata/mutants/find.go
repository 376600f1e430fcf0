package main

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"math"
	"slices"
	"strings"
)

// finder walks one file and notes where the operators apply.
type finder struct {
	pkg    *checkedPackage
	source *source
	stack  []ast.Node // around the node at hand, outer to inner
}

// find notes all mutants of the package, then leaves out those that do not compile.
func (p *checkedPackage) find() error {
	for _, s := range p.files {
		if ast.IsGenerated(s.tree) {
			continue
		}
		f := &finder{pkg: p, source: s}
		ast.PreorderStack(s.tree, nil, func(n ast.Node, stack []ast.Node) bool {
			f.stack = stack
			return f.visit(n)
		})
	}
	return p.dropUncompilable()
}

func (f *finder) offset(at token.Pos) int { return f.pkg.fset.Position(at).Offset }

func (f *finder) textOf(n ast.Node) string {
	return string(f.source.text[f.offset(n.Pos()):f.offset(n.End())])
}

// anchors are the offsets of the node and of the statements around it, up to the
// innermost function; none outside functions, where code runs before any test.
func (f *finder) anchors(n ast.Node) []int {
	out := []int{f.offset(n.Pos())}
	for _, around := range slices.Backward(f.stack) {
		switch x := around.(type) {
		case *ast.FuncDecl, *ast.FuncLit:
			return out
		case ast.Stmt:
			out = append(out, f.offset(x.Pos()))
		}
	}
	return nil
}

// parent returns the node i steps up that is no parenthesis; nil at the top.
func (f *finder) parent() ast.Node {
	for _, n := range slices.Backward(f.stack) {
		if _, paren := n.(*ast.ParenExpr); !paren {
			return n
		}
	}
	return nil
}

// visit notes the mutants of a node and says whether to go into it.
func (f *finder) visit(n ast.Node) bool {
	switch x := n.(type) {
	case *ast.GenDecl:
		return x.Tok == token.VAR // constants and types take no expression that runs
	case *ast.ArrayType, *ast.StructType, *ast.InterfaceType, *ast.FuncType:
		return false
	case ast.Stmt:
		f.statement(x)
		return true
	case *ast.BinaryExpr:
		if f.constant(x) {
			return f.inProduct(x)
		}
		f.binary(x)
	case *ast.CallExpr:
		if f.constant(x) {
			return false
		}
		if f.onlyCapacity(x) {
			return false
		}
		f.call(x)
	case ast.Expr:
		if f.constant(x) {
			return false
		}
	}
	if e, ok := n.(ast.Expr); ok {
		f.condition(e)
	}
	return true
}

// builtin returns the name of the built-in function a call calls, or "".
func (f *finder) builtin(x *ast.CallExpr) string {
	if name, ok := ast.Unparen(x.Fun).(*ast.Ident); ok {
		if b, ok := f.pkg.info.Uses[name].(*types.Builtin); ok {
			return b.Name()
		}
	}
	return ""
}

// onlyCapacity is true of calls whose numbers change no result: room made in advance.
func (f *finder) onlyCapacity(x *ast.CallExpr) bool {
	if f.builtin(x) == "make" {
		_, isMap := f.pkg.info.TypeOf(x).Underlying().(*types.Map)
		return isMap || len(x.Args) == 3
	}
	s, ok := x.Fun.(*ast.SelectorExpr)
	return ok && s.Sel.Name == "Grow"
}

func (f *finder) call(x *ast.CallExpr) {
	switch name := f.builtin(x); name {
	case "min", "max":
		other := map[string]string{"min": "max", "max": "min"}[name]
		whole := f.textOf(x)
		helper := strings.ToUpper(name[:1]) + name[1:]
		f.add(x, f.offset(x.Pos()), func(first int, inner func(int, int) string) string {
			return fmt.Sprintf("mutant%s(%d, %s)", helper, first, inner(f.offset(x.Lparen)+1, f.offset(x.Rparen)))
		}, whole, other+strings.TrimPrefix(whole, name))
	}
}

// negated writes an expression that is turned round while its mutant is on.
func (f *finder) negated(x ast.Expr) func(int, func(int, int) string) string {
	from, to := f.offset(x.Pos()), f.offset(x.End())
	return func(first int, inner func(int, int) string) string {
		return fmt.Sprintf("((%s) != mutantIs(%d))", inner(from, to), first)
	}
}

// condition notes an expression that decides: the condition of an if or for, an operand of
// && and ||, a returned bool. Comparisons are turned round by binary, and && and ||
// through their operands.
func (f *finder) condition(e ast.Expr) {
	value, known := f.pkg.info.Types[e]
	if !known || !value.IsValue() || !isBool(value.Type) {
		return
	}
	switch x := e.(type) {
	case *ast.ParenExpr, *ast.BinaryExpr:
		return
	case *ast.UnaryExpr:
		if x.Op == token.NOT {
			return
		}
	}
	switch p := f.parent().(type) {
	case *ast.IfStmt, *ast.ForStmt, *ast.ReturnStmt, *ast.UnaryExpr, *ast.CaseClause:
	case *ast.BinaryExpr:
		if p.Op != token.LAND && p.Op != token.LOR {
			return
		}
	default:
		return
	}
	becomes := "!" + f.textOf(e)
	switch f.textOf(e) {
	case "true":
		becomes = "false"
	case "false":
		becomes = "true"
	}
	f.add(e, f.offset(e.Pos()), f.negated(e), f.textOf(e), becomes)
}

func isBool(t types.Type) bool {
	b, ok := t.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsBoolean != 0
}

func isNumber(t types.Type) bool {
	switch b := t.Underlying().(type) {
	case *types.Basic:
		return b.Info()&(types.IsInteger|types.IsFloat) != 0
	case *types.Interface: // a type parameter; the compiler says whether it has numbers
		_, parameter := t.(*types.TypeParam)
		return parameter
	}
	return false
}

// boundary and turned are the two changes of a comparison by order.
var (
	boundary = map[token.Token]token.Token{token.LSS: token.LEQ, token.LEQ: token.LSS, token.GTR: token.GEQ, token.GEQ: token.GTR}
	turned   = map[token.Token]token.Token{token.LSS: token.GEQ, token.LEQ: token.GTR, token.GTR: token.LEQ, token.GEQ: token.LSS}
	swapped  = map[token.Token]token.Token{
		token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL,
		token.LAND: token.LOR, token.LOR: token.LAND, token.EQL: token.NEQ, token.NEQ: token.EQL,
		token.ADD_ASSIGN: token.SUB_ASSIGN, token.SUB_ASSIGN: token.ADD_ASSIGN,
		token.MUL_ASSIGN: token.QUO_ASSIGN, token.QUO_ASSIGN: token.MUL_ASSIGN,
		token.INC: token.DEC, token.DEC: token.INC, token.BREAK: token.CONTINUE, token.CONTINUE: token.BREAK,
	}
	helperOf = map[token.Token]string{
		token.LSS: "mutantLess", token.LEQ: "mutantAtMost", token.GTR: "mutantMore", token.GEQ: "mutantAtLeast",
		token.ADD: "mutantAdd", token.SUB: "mutantSub", token.MUL: "mutantMul", token.QUO: "mutantQuo",
	}
)

func (f *finder) binary(x *ast.BinaryExpr) {
	a, b, at := f.textOf(x.X), f.textOf(x.Y), f.offset(x.OpPos)
	as := func(op token.Token) string { return a + " " + op.String() + " " + b }
	operands := func(inner func(int, int) string) (string, string) {
		return inner(f.offset(x.X.Pos()), f.offset(x.X.End())), inner(f.offset(x.Y.Pos()), f.offset(x.Y.End()))
	}
	inHelper := func(first int, inner func(int, int) string) string {
		a, b := operands(inner)
		return fmt.Sprintf("%s(%d, %s, %s)", helperOf[x.Op], first, a, b)
	}
	switch x.Op {
	case token.LSS, token.LEQ, token.GTR, token.GEQ:
		f.add(x, at, inHelper, as(x.Op), as(boundary[x.Op]), as(x.Op), as(turned[x.Op]))
	case token.EQL, token.NEQ:
		f.add(x, at, f.negated(x), as(x.Op), as(swapped[x.Op]))
	case token.LAND, token.LOR:
		// By De Morgan, with each operand evaluated as often as in the original.
		f.add(x, at, func(first int, inner func(int, int) string) string {
			a, b := operands(inner)
			on := fmt.Sprintf("mutantIs(%d)", first)
			return fmt.Sprintf("((((%s) != %s) %s ((%s) != %s)) != %s)", a, on, x.Op, b, on, on)
		}, as(x.Op), as(swapped[x.Op]))
	case token.ADD, token.SUB, token.MUL, token.QUO:
		if isNumber(f.pkg.info.TypeOf(x)) {
			f.add(x, at, inHelper, as(x.Op), as(swapped[x.Op]))
		}
	}
}

// large is the constant from which one more is no change worth a test.
const large = 10_000

// constant notes a numeric constant that is used where any value may stand, and says
// whether e is a constant.
func (f *finder) constant(e ast.Expr) bool {
	value := f.pkg.info.Types[e]
	if value.Value == nil {
		return false
	}
	if kind := value.Value.Kind(); kind != constant.Int && kind != constant.Float {
		return !isBool(value.Type)
	}
	if b, ok := e.(*ast.BinaryExpr); ok && f.inProduct(b) {
		return true
	}
	if key, ok := f.parent().(*ast.KeyValueExpr); ok && key.Key == e {
		return true // of an array; those of a map are no more telling
	}
	name, ok := f.spelled(value.Type)
	if !ok || !isNumber(value.Type) || f.onlySign(value.Value) {
		return true
	}
	v, _ := constant.Float64Val(constant.ToFloat(value.Value))
	helper, becomes := "mutantMore1", f.textOf(e)+" + 1"
	if math.Abs(v) >= large {
		helper, becomes = "mutantTwice", "2 * "+f.textOf(e)
	} else if constant.ToInt(value.Value).Kind() == constant.Int {
		if n, literal := e.(*ast.BasicLit); literal && n.Kind == token.INT {
			becomes = constant.BinaryOp(value.Value, token.ADD, constant.MakeInt64(1)).String()
		}
	}
	from, to := f.offset(e.Pos()), f.offset(e.End())
	f.add(e, from, func(first int, _ func(int, int) string) string {
		return fmt.Sprintf("%s[%s](%d, %s)", helper, name, first, f.source.text[from:to])
	}, f.textOf(e), becomes)
	return true
}

// onlySign is true of a positive number in math.Inf or math.IsInf, which take the sign alone.
func (f *finder) onlySign(v constant.Value) bool {
	call, ok := f.parent().(*ast.CallExpr)
	if !ok || constant.Sign(v) <= 0 {
		return false
	}
	s, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		return false
	}
	of, ok := f.pkg.info.Uses[s.Sel].(*types.Func)
	return ok && (of.FullName() == "math.Inf" || of.FullName() == "math.IsInf")
}

// inProduct is true of a constant product of numbers, such as 5 * time.Second, whose factors
// are changed one by one.
func (f *finder) inProduct(x *ast.BinaryExpr) bool {
	return x.Op == token.MUL && f.pkg.info.Types[x].Value != nil
}

// spelled returns a type as this file can write it.
func (f *finder) spelled(t types.Type) (string, bool) {
	ok := true
	name := types.TypeString(t, func(other *types.Package) string {
		if other == f.pkg.types {
			return ""
		}
		for _, i := range f.source.tree.Imports {
			if strings.Trim(i.Path.Value, `"`) == other.Path() {
				if i.Name != nil {
					return i.Name.Name
				}
				return other.Name()
			}
		}
		ok = false
		return ""
	})
	return name, ok && !strings.HasPrefix(name, "untyped")
}
