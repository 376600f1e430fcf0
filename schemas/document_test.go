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
		{"block in a group", "a:\n  when: |\n    one ^two", 4},
		{"end of a block", "when: |\n  one^\n  two", 3},
		{"letters of two bytes", "é: 1\nwhen: é é ^two", 4},
		{"the last character", "when: tw^o", 2},
		{"behind the first line of a plain text", "when: ^one\n  two", 4},
		{"block, blank line before the text", "when: |\n\n  one ^two", 5},
		{"block, blank line with a space before the text", "when: |\n \n  one ^two", 5},
		{"behind the end of a block", "when: ^|\n  one\n", 99},
	} {
		before, _, _ := strings.Cut(c.text, "^")
		line := strings.Count(before, "\n") + 1
		column := len([]rune(before[strings.LastIndex(before, "\n")+1:])) + 1
		doc, err := ParseDocument("f.yaml", []byte(strings.Replace(c.text, "^", "", 1)))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if p := doc.TextProblem(map[bool]string{true: "/a"}[strings.HasPrefix(c.text, "a:\n  ")]+"/when", c.offset, "cause", "hint"); p.Line != line || p.Column != column {
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
		"/rules/0/measure": "f.yaml:3:5", "/rules/7/id": "f.yaml:1:1", "": "f.yaml:1:1", "/other": "f.yaml:1:1", "other": "f.yaml",
	} {
		if got := doc.Problem(path, "cause", "").Position(); got != want {
			t.Errorf("%q: at %s, want %s", path, got, want)
		}
	}
	if got := doc.KeyProblem("/rules/0/id", "cause", "").Position(); got != "f.yaml:2:5" {
		t.Errorf("the key is at %s, want f.yaml:2:5", got)
	}
	if got := doc.TextProblem("/rules/0/none", 2, "cause", "").Position(); got != "f.yaml:2:5" {
		t.Errorf("a text that is not there is at %s, want f.yaml:2:5", got)
	}
	if got := doc.line(0) + doc.line(5); got != "" || doc.line(4) != "" || doc.line(3) != "    measure: [x, y]" {
		t.Errorf("outside the document there is %q", got)
	}
	if p := doc.yamlProblem(errors.New("one\ntwo")); *p != (Problem{File: "f.yaml", Cause: "one"}) {
		t.Errorf("an error without a place is told as %+v", p)
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
	if _, err := ParseDocument("f", append(fits, 'x')); err == nil || err.Error() != "f: is 262145 bytes; a profile or rule pack has at most 262144" {
		t.Errorf("%d bytes: %v", len(fits)+1, err)
	}
	for depth, want := range map[int]bool{maxNesting: true, maxNesting + 1: false, 5000: false, maxDocumentBytes / 2: false} {
		text := strings.Repeat("[", depth) + strings.Repeat("]", depth)
		if _, err := ParseDocument("f", []byte(text)); (err == nil) != want {
			t.Errorf("nested %d deep: %v", depth, err)
		}
	}
}

// Forty levels are read and the 41st is not, however they are written. Each level has its
// own place: a bracket or dash of a line, or the value of a key or dash of its own line.
func TestNestingLimit(t *testing.T) {
	t.Parallel()
	stairs := func(n int, step, end string) (text string) {
		for i := range n {
			text += strings.Repeat(" ", i) + step
		}
		return text + strings.Repeat(" ", n) + end
	}
	for _, c := range []struct {
		text string
		at   string // "": it is read
	}{
		{strings.Repeat("{a: ", 40) + "b" + strings.Repeat("}", 40), ""},
		{strings.Repeat("{a: ", 41) + "b" + strings.Repeat("}", 41), "f:1:161"}, // 40 of 4 characters before it
		{strings.Repeat("[", 41) + strings.Repeat("]", 41), "f:1:41"},
		{"[" + strings.Repeat("[], {}, ", 50) + "a]", ""},
		{strings.Repeat("- ", 40) + "a", ""},
		{strings.Repeat("- ", 41) + "a", "f:1:81"}, // 40 of 2
		{strings.Repeat("? ", 41) + "a", "f:1:81"},
		{strings.Repeat("- a\n", 50), ""},
		{stairs(40, "a:\n", "b"), ""},
		{stairs(41, "a:\n", "b"), "f:42:42"},
		{stairs(40, "-\n", "b"), ""},
		{stairs(41, "-\n", "b"), "f:42:42"},
	} {
		got := ""
		if _, err := ParseDocument("f", []byte(c.text)); err != nil {
			got = err.Error()
		}
		if c.at != "" {
			c.at += ": nested too deep"
		}
		if got != c.at {
			t.Errorf("%.60q: got %q, want %q", c.text, got, c.at)
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
	for column, marker := range map[int]string{0: "", 1: "\n    ^", 3: "\n      ^", 4: ""} { // the place behind the line may be meant
		at := map[bool]string{true: fmt.Sprintf(":%d", column)}[column > 0]
		if got, want := (&Problem{File: "f", Line: 2, Column: column, Cause: "c", Source: "éb"}).Detail(), "f:2"+at+": c\n    éb"+marker; got != want {
			t.Errorf("column %d: got\n%s\nwant\n%s", column, got, want)
		}
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
	for n, want := range map[int]int{MaxProblems: MaxProblems, MaxProblems + 1: MaxProblems + 1} {
		all = nil
		for line := range n {
			all = append(all, &Problem{File: fmt.Sprint("f", line), Line: line + 1, Cause: "wrong"})
		}
		last := &Problem{File: "f19", Line: 20, Cause: "wrong"}
		if n > MaxProblems {
			last = &Problem{File: "f0", Cause: "1 more problem", Hint: "correct the ones above first"}
		}
		if got := all.InOrder(); len(got) != want || *got[want-1] != *last {
			t.Errorf("%d problems: %d, the last %v", n, len(got), got[len(got)-1])
		}
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
	}{{"", "", 0}, {"gear", "", 4}, {"", "gear", 4}, {"gear", "gear", 0}, {"gear", "near", 1}, {"flap", "flaps", 1}, {"kitten", "sitting", 3}, {"lever", "level", 1}, {"flaps", "flap", 1}, {"flaps", "fps", 2}} {
		if got := editDistance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: got %d, want %d", c.a, c.b, got, c.want)
		}
	}
	if got := Suggest("zzzzzz", (&Profile{}).parameterNames()); got != "" {
		t.Errorf("suggested %q for nonsense", got)
	}
	// Of six letters at most three may differ: one, and one for every three.
	for known, want := range map[string]string{"abcxyz": "did you mean abcxyz?", "abwxyz": "", "abwxyz abcdxy abcxyf abcdez": "did you mean abcdez?", "abcdex abcdey": "did you mean abcdex?",
		"abcdey abcxyz": "did you mean abcdey?", "abcxyz abcdxy": "did you mean abcdxy?"} {
		if got := Suggest("abcdef", strings.Fields(known)); got != want {
			t.Errorf("abcdef for %s: got %q, want %q", known, got, want)
		}
	}
}
