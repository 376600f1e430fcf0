package schemas

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing wrong with a file the user can mend.
type Problem struct {
	File   string // as the user named it
	Line   int    // from 1; 0 when the whole file is meant
	Column int    // from 1; 0 when the whole line is meant
	Cause  string // what is wrong
	Hint   string // what to do about it; may be empty
	Source string // the text of the line, to show with a marker; may be empty
}

// Position prints file:line:column, leaving out what is not known.
func (p *Problem) Position() string {
	s := p.File
	if p.Line > 0 {
		s += fmt.Sprintf(":%d", p.Line)
		if p.Column > 0 {
			s += fmt.Sprintf(":%d", p.Column)
		}
	}
	return s
}

func (p *Problem) Error() string { return p.Position() + ": " + p.Cause }

// Detail prints the problem over several lines: the position and cause, the
// source line with a marker under the column, and the hint.
func (p *Problem) Detail() string {
	var b strings.Builder
	b.WriteString(p.Error())
	if p.Source != "" {
		line := strings.ReplaceAll(p.Source, "\t", " ")
		fmt.Fprintf(&b, "\n    %s", line)
		if p.Column > 0 && p.Column <= len([]rune(line))+1 {
			fmt.Fprintf(&b, "\n    %s^", strings.Repeat(" ", p.Column-1))
		}
	}
	if p.Hint != "" {
		fmt.Fprintf(&b, "\n  hint: %s", p.Hint)
	}
	return b.String()
}

// MaxProblems bounds how many problems of one document are reported at once:
// past a screenful nobody reads on.
const MaxProblems = 20

// Problems is every problem of one document, in the order of the document.
type Problems []*Problem

func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.As find a single Problem.
func (ps Problems) Unwrap() []error {
	errs := make([]error, len(ps))
	for i, p := range ps {
		errs[i] = p
	}
	return errs
}

// InOrder sorts by position, drops repeats of one position and cause, and
// keeps at most MaxProblems, saying how many were left out.
func (ps Problems) InOrder() Problems {
	slices.SortStableFunc(ps, func(a, b *Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Cause, b.Cause))
	})
	ps = slices.CompactFunc(ps, func(a, b *Problem) bool { return *a == *b })
	if len(ps) > MaxProblems {
		more := &Problem{File: ps[0].File, Cause: fmt.Sprintf("%d more problems", len(ps)-MaxProblems), Hint: "mend the ones above first"}
		ps = append(ps[:MaxProblems:MaxProblems], more)
	}
	return ps
}
