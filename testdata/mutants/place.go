package main

import (
	"cmp"
	"fmt"
	"go/ast"
	"slices"
	"strings"
)

// place is a stretch of source that mutants change. Its mutants have consecutive numbers.
type place struct {
	from, to int   // offsets in the file
	anchors  []int // offsets of the statements around it, inner to outer, for the coverage
	mutants  []*mutant
	// write returns the text that holds the original and all mutants. Between calls
	// of inner, which renders a stretch with the places in it, it writes plain source.
	write  func(first int, inner func(from, to int) string) string
	nested []*place
}

// mutant is one small mistake.
type mutant struct {
	number       int
	file         string // as the user sees it
	line, column int
	was, becomes string
	text         string // its source line, trimmed
	again        int    // 2 for the second of the same change in lines of the same text, and so on
	place        *place
	source       *source

	found, reached, tried bool
}

const notReached = "  (no test gets there)"

func (m *mutant) reach() string {
	if m.reached {
		return ""
	}
	return notReached
}

// String is the line of a survivor.
func (m *mutant) String() string {
	return fmt.Sprintf("%s:%d:%d: %s", m.file, m.line, m.column, m.change())
}

// key names the mutant in the file of explained ones, where it outlives shifted lines.
func (m *mutant) key() string {
	return m.file + ": " + m.change()
}

func (m *mutant) change() string {
	ordinal := ""
	if m.again > 1 {
		ordinal = fmt.Sprintf(" (%d)", m.again)
	}
	return fmt.Sprintf("%s => %s%s in: %s", m.was, m.becomes, ordinal, m.text)
}

// add notes a place and its changes: pairs of what was there and what it becomes.
func (f *finder) add(node ast.Node, at int, write func(int, func(int, int) string) string, changes ...string) {
	p := &place{from: f.offset(node.Pos()), to: f.offset(node.End()), write: write, anchors: f.anchors(node)}
	line, column, text := f.source.line(at)
	for i := 0; i < len(changes); i += 2 {
		p.mutants = append(p.mutants, &mutant{
			file: shown(f.source.name), line: line, column: column, was: short(changes[i]), becomes: short(changes[i+1]),
			text: text, place: p, source: f.source,
		})
	}
	f.source.places = append(f.source.places, p)
}

// line returns the line and column of an offset, from 1, and the text of the
// line without a comment after it.
func (s *source) line(at int) (line, column int, text string) {
	before := string(s.text[:at])
	start := strings.LastIndexByte(before, '\n') + 1
	rest, _, _ := strings.Cut(string(s.text[start:]), "\n")
	rest, _, _ = strings.Cut(rest, " // ")
	return strings.Count(before, "\n") + 1, at - start + 1, strings.TrimSpace(rest)
}

// short is source in one line of at most 60 characters.
func short(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if r := []rune(text); len(r) > 60 {
		return string(r[:57]) + "..."
	}
	return text
}

// number orders the places of all files, nests them, and counts the mutants through.
func (p *checkedPackage) number() {
	p.mutants = nil
	seen := map[string]int{}
	for _, s := range p.files {
		slices.SortStableFunc(s.places, func(a, b *place) int {
			return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(b.to, a.to))
		})
		for _, x := range s.places {
			x.nested = nil
			for _, m := range x.mutants {
				p.mutants = append(p.mutants, m)
				m.number = len(p.mutants)
				m.again = 0
				k := m.key()
				seen[k]++
				m.again = seen[k]
			}
		}
	}
}

// render returns a file with all mutants in it, and the stretch of the result each place
// takes.
func (s *source) render() string {
	return s.stretch(0, len(s.text), s.places)
}

// stretch renders part of a file; the places are those that begin in it, in order.
func (s *source) stretch(from, to int, places []*place) string {
	var out strings.Builder
	at := from
	for i := 0; i < len(places); {
		x := places[i]
		end := i + 1
		for end < len(places) && places[end].from < x.to {
			end++
		}
		within := places[i+1 : end]
		out.Write(s.text[at:x.from])
		fmt.Fprintf(&out, "/*<%d*/", x.mutants[0].number)
		out.WriteString(x.write(x.mutants[0].number, func(from, to int) string {
			var inside []*place
			for _, y := range within {
				if y.from >= from && y.to <= to {
					inside = append(inside, y)
				}
			}
			return s.stretch(from, to, inside)
		}))
		fmt.Fprintf(&out, "/*%d>*/", x.mutants[0].number)
		at = x.to
		i = end
	}
	out.Write(s.text[at:to])
	return out.String()
}
