package main

import (
	"fmt"
	"go/ast"
	"go/token"
	"slices"
	"strings"
)

// statement notes what can be done to a statement in a block: leave it out, turn its
// operator round, exchange break and continue.
func (f *finder) statement(s ast.Stmt) {
	if !f.inBlock(s) {
		return
	}
	text := f.textOf(s)
	var changes, code []string
	change := func(becomes, instead string) {
		changes, code = append(changes, text, becomes), append(code, instead)
	}
	with := func(at token.Pos, was, becomes token.Token) {
		cut := f.offset(at) - f.offset(s.Pos())
		instead := text[:cut] + becomes.String() + text[cut+len(was.String()):]
		change(instead, instead)
	}
	const removed = "(removed)"
	switch x := s.(type) {
	case *ast.ExprStmt:
		if call, ok := x.X.(*ast.CallExpr); ok && f.builtin(call) != "panic" && !f.onlyCapacity(call) {
			change(removed, "")
		}
	case *ast.DeferStmt:
		change(removed, "")
	case *ast.AssignStmt:
		if x.Tok == token.DEFINE || !slices.ContainsFunc(x.Lhs, notBlank) {
			return
		}
		change(removed, "")
		if other, ok := swapped[x.Tok]; ok && isNumber(f.pkg.info.TypeOf(x.Lhs[0])) {
			with(x.TokPos, x.Tok, other)
		}
	case *ast.IncDecStmt:
		change(removed, "")
		with(x.TokPos, x.Tok, swapped[x.Tok])
	case *ast.BranchStmt:
		if other, ok := swapped[x.Tok]; ok && f.loopEnds(x) {
			with(x.TokPos, x.Tok, other)
		}
	}
	if len(code) == 0 {
		return
	}
	from, to := f.offset(s.Pos()), f.offset(s.End())
	f.add(s, from, func(first int, inner func(int, int) string) string {
		var out strings.Builder
		for i, instead := range code {
			fmt.Fprintf(&out, "if mutantIs(%d) { %s } else ", first+i, instead)
		}
		fmt.Fprintf(&out, "{ %s }", inner(from, to))
		return out.String()
	}, changes...)
}

func notBlank(e ast.Expr) bool {
	name, ok := e.(*ast.Ident)
	return !ok || name.Name != "_"
}

// inBlock is false of statements in the head of an if, for, switch or case.
func (f *finder) inBlock(s ast.Stmt) bool {
	if len(f.stack) == 0 {
		return false
	}
	switch x := f.stack[len(f.stack)-1].(type) {
	case *ast.BlockStmt, *ast.CaseClause:
		return true
	case *ast.CommClause:
		return x.Comm != s
	}
	return false
}

// loopEnds is true where a break or continue stands in a loop that may end by itself: a
// loop without a condition has no way on when its break is gone, so the compiler
// may refuse it.
func (f *finder) loopEnds(s *ast.BranchStmt) bool {
	for i, n := range slices.Backward(f.stack) {
		label := ""
		if i > 0 {
			if l, ok := f.stack[i-1].(*ast.LabeledStmt); ok {
				label = l.Label.Name
			}
		}
		if s.Label != nil && s.Label.Name != label {
			if _, ends := n.(*ast.FuncLit); ends {
				return false
			}
			continue
		}
		switch x := n.(type) {
		case *ast.RangeStmt:
			return true
		case *ast.ForStmt:
			return x.Cond != nil
		case *ast.FuncLit, *ast.FuncDecl:
			return false
		}
	}
	return false
}
