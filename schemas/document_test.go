package schemas

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

// Each text marks with ^ the character that offset counts to. The test removes the
// marks before parsing.
func TestTextProblem(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		text   string
		offset int
	}{
		{"plain", "when: one ^two", 4},
		{"plain, later key", "a: 1\nwhen: ^one", 0},
		{"double quotes", `when: "one ^two"`, 4},
		{"single quotes", `when: 'one ^two'`, 4},
		{"block, first line", "when: |\n  one ^two\n  three", 4},
		{"block, second line", "when: |\n  one two\n  th^ree", 10},
		{"block, line indented further", "when: |\n  one\n    ^two", 6},
		{"block, blank line", "when: |\n  one\n\n  t^wo", 6},
		{"block with letters of two bytes", "when: |\n  é é ^two", 4},
		{"folded", "when: >-\n  one\n  ^two", 4},
		{"end of a block", "when: |\n  one^\n  two", 3},
		{"letters of two bytes", "é: 1\nwhen: é é ^two", 4},
	} {
		before, _, _ := strings.Cut(c.text, "^")
		line := strings.Count(before, "\n") + 1
		column := len([]rune(before[strings.LastIndex(before, "\n")+1:])) + 1
		doc, err := ParseDocument("f.yaml", []byte(strings.Replace(c.text, "^", "", 1)))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if p := doc.TextProblem("/when", c.offset, "cause", "hint"); p.Line != line || p.Column != column {
			t.Errorf("%s: at %d:%d, want %d:%d", c.name, p.Line, p.Column, line, column)
		}
	}
}

func TestProblemNearestPlace(t *testing.T) {
	t.Parallel()
	doc, err := ParseDocument("f.yaml", []byte("rules:\n  - id: a\n    measure: [x, y]\n"))
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		"/rules/0/id": "f.yaml:2:9", "/rules/0": "f.yaml:2:5", "/rules/0/none": "f.yaml:2:5", "/rules/0/measure/1": "f.yaml:3:18",
		"/rules/0/measure": "f.yaml:3:5", "/rules/7/id": "f.yaml:1:1", "": "f.yaml:1:1",
	} {
		if got := doc.Problem(path, "cause", "").Position(); got != want {
			t.Errorf("%q: at %s, want %s", path, got, want)
		}
	}
	if got := doc.KeyProblem("/rules/0/id", "cause", "").Position(); got != "f.yaml:2:5" {
		t.Errorf("the key is at %s, want f.yaml:2:5", got)
	}
}

func TestDocumentLimits(t *testing.T) {
	t.Parallel()
	fits := append([]byte("a: b #"), make([]byte, maxDocumentBytes-6)...)
	for i := range fits[6:] {
		fits[6+i] = 'x'
	}
	if _, err := ParseDocument("f", fits); err != nil {
		t.Errorf("%d bytes: %v", len(fits), err)
	}
	if _, err := ParseDocument("f", append(fits, 'x')); err == nil {
		t.Errorf("%d bytes are taken", len(fits)+1)
	}
	for depth, want := range map[int]bool{maxNesting: true, maxNesting + 1: false, 5000: false, maxDocumentBytes / 2: false} {
		text := strings.Repeat("[", depth) + strings.Repeat("]", depth)
		if _, err := ParseDocument("f", []byte(text)); (err == nil) != want {
			t.Errorf("nested %d deep: %v", depth, err)
		}
	}
}

func TestProblemDetail(t *testing.T) {
	t.Parallel()
	p := &Problem{File: "f.yaml", Line: 3, Column: 5, Cause: "is wrong", Hint: "mend it", Source: "  a\tb"}
	want := "f.yaml:3:5: is wrong\n      a b\n        ^\n  hint: mend it"
	if got := p.Detail(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got := (&Problem{File: "f", Cause: "is empty"}).Detail(); got != "f: is empty" {
		t.Errorf("got %q", got)
	}
}

func TestProblemsInOrder(t *testing.T) {
	t.Parallel()
	var all Problems
	for line := 30; line > 0; line-- {
		all = append(all, &Problem{File: "f", Line: line, Cause: "wrong"}, &Problem{File: "f", Line: line, Cause: "wrong"})
	}
	got := all.InOrder()
	if len(got) != MaxProblems+1 || got[0].Line != 1 || got[MaxProblems-1].Line != MaxProblems {
		t.Fatalf("got %d problems, from line %d", len(got), got[0].Line)
	}
	if last := got[MaxProblems]; last.Cause != "10 more problems" {
		t.Errorf("got %q", last.Cause)
	}
	var one *Problem
	if err := fmt.Errorf("with a name: %w", got); !errors.As(err, &one) || one.Line != 1 {
		t.Errorf("no single problem comes out of %v", err)
	}
}

// The distances are worked out by hand.
func TestEditDistance(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"gear", "", 4}, {"", "gear", 4}, {"gear", "gear", 0}, {"gear", "near", 1}, {"flap", "flaps", 1}, {"kitten", "sitting", 3}, {"lever", "level", 1}} {
		if got := editDistance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: got %d, want %d", c.a, c.b, got, c.want)
		}
	}
	if got := Suggest("zzzzzz", (&Profile{}).parameterNames()); got != "" {
		t.Errorf("suggested %q for nonsense", got)
	}
}
