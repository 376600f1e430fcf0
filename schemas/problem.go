package schemas

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one fault of a file that the user can correct.
type Problem struct {
	File   string // as the user named it
	Line   int    // from 1; 0 when the whole file is meant
	Column int    // from 1; 0 when the whole line is meant
	Cause  string // the fault
	Hint   string // the remedy; may be empty
	Source string // the text of the line, to show with a marker; may be empty
}

// Position returns file:line:column and leaves out unknown parts.
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

// Detail returns the problem over several lines: position and cause, then the source
// line with a marker under the column, then the hint.
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

// MaxProblems bounds the reported problems of one document: nobody reads on past a
// screenful.
const MaxProblems = 20

// Problems lists the problems of one document in the order of the document.
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

// InOrder sorts by position and drops repeats of one position and cause. It keeps at
// most MaxProblems and says how many it left out.
func (ps Problems) InOrder() Problems {
	slices.SortStableFunc(ps, func(a, b *Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Cause, b.Cause))
	})
	ps = slices.CompactFunc(ps, func(a, b *Problem) bool { return *a == *b })
	if len(ps) > MaxProblems {
		more := fmt.Sprintf("%d more problems", len(ps)-MaxProblems)
		if len(ps) == MaxProblems+1 {
			more = "1 more problem"
		}
		ps = append(ps[:MaxProblems:MaxProblems], &Problem{File: ps[0].File, Cause: more, Hint: "correct the ones above first"})
	}
	return ps
}
