package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// The package below was made by hand, and so was the list of its mutants that no test
// can find; every other one is found by the test that its comment names.
const (
	shelf = `package shelf

import (
	"math"
	"time"
)

const most = 3

// Fits: the tests stand on the limit and one above it, so both < and > are found, and
// so is the limit itself.
func Fits(n int) bool { return n <= most }

// Warm has a test far from its limit: boundary and limit survive, turned is found.
func Warm(t float64) bool {
	if t > 20 {
		return true
	}
	return false
}

// Both is tested with both true and both false alone: || survives for &&.
func Both(a, b bool) bool { return a && b }

// Area is tested with 1 by 1: / survives for *.
func Area(a, b float64) float64 { return a * b }

// Count hangs when its step is taken away or turned; the time limit finds both.
func Count(n int) (sum int) {
	for n > 0 {
		sum += n
		n--
	}
	return sum
}

// Note is tested without a look at what it notes: its removal survives.
func Note(log *[]string) int {
	*log = append(*log, "noted")
	return 7
}

// First stops at the first; without the stop it would be the last.
func First(list []int) (first int) {
	for _, first = range list {
		if first != 0 {
			break
		}
	}
	return first
}

// Least is tested with different numbers.
func Least(a, b int) int { return min(a, b) }

// Never is not called by any test.
func Never(a int) int { return a + 1 }

// Wait holds a constant product; its factor is a number of its own.
func Wait() time.Duration { return 2 * time.Second }

// Room makes room in advance, which is no change.
func Room() []int { return make([]int, 0, 8) }

// Beyond: another positive number is no change to math.Inf; zero in place of -1 is, and found.
func Beyond() (high, low float64) { return math.Inf(1), math.Inf(-1) }
`
	shelfTest = `package shelf

import (
	"os"
	"testing"
	"time"
)

func TestFits(t *testing.T) {
	if !Fits(3) || Fits(4) || !Fits(-1) {
		os.WriteFile("left.txt", nil, 0o600)
		t.Fail()
	}
}

func TestWarm(t *testing.T) {
	if !Warm(90) || Warm(-90) {
		t.Fail()
	}
}

func TestRest(t *testing.T) {
	if !Both(true, true) || Both(false, false) || Area(1, 1) != 1 || Count(4) != 10 || Note(new([]string)) != 7 {
		t.Fail()
	}
	if First([]int{0, 5, 6}) != 5 || Least(2, 3) != 2 || Wait() != 2*time.Second || len(Room()) != 0 {
		t.Fail()
	}
	if high, low := Beyond(); high < 0 || low > 0 {
		t.Fail()
	}
}
`
)

// wantSurvivors follow from the comments in shelf.
var wantSurvivors = []string{
	"t > 20 => t >= 20 in: if t > 20 {",
	"20 => 21 in: if t > 20 {",
	"a && b => a || b in: func Both(a, b bool) bool { return a && b }",
	"a * b => a / b in: func Area(a, b float64) float64 { return a * b }",
	`*log = append(*log, "noted") => (removed) in: *log = append(*log, "noted")`,
	"a + 1 => a - 1 in: func Never(a int) int { return a + 1 }  (no test gets there)",
	"1 => 2 in: func Never(a int) int { return a + 1 }  (no test gets there)",
	// At zero the loop adds nothing more, and so a step more changes no sum.
	"n > 0 => n >= 0 in: for n > 0 {",
}

// onShelf writes the package as a module and goes there.
func onShelf(t *testing.T) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{"go.mod": "module shelf\n\ngo 1.26\n", "shelf.go": shelf, "shelf_test.go": shelfTest} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
}

// mutated runs the command and returns its lines without positions, and its error.
func mutated(t *testing.T, args ...string) ([]string, error) {
	t.Helper()
	var out, log bytes.Buffer
	err := run(t.Context(), args, &out, &log)
	if said := strings.Contains(log.String(), "a mutant left left.txt: remove it"); said != (os.Remove("left.txt") == nil) {
		t.Errorf("what is left is said %v: %s", said, &log)
	}
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, "shelf.go:") {
			lines[i] = strings.SplitN(l, ": ", 2)[1]
		}
	}
	return lines, err
}

func TestSurvivors(t *testing.T) {
	onShelf(t)
	lines, err := mutated(t, ".")
	if err != nil {
		t.Fatal(err)
	}
	survivors, last := lines[:len(lines)-1], lines[len(lines)-1]
	for _, s := range survivors {
		if !slices.Contains(wantSurvivors, s) {
			t.Errorf("survives, and should be found: %s", s)
		}
	}
	for _, s := range wantSurvivors {
		if !slices.Contains(survivors, s) {
			t.Errorf("does not survive: %s", s)
		}
	}
	// Counted by hand: Fits 3, Warm 5, Both 3, Area 1, Count 7, Note 2, First 3, Least 1, Never 2,
	// Wait 2 (its factor, and the second doubled), Room none, Beyond 1.
	if want := "shelf: 22 of 30 found, 73.3 %"; !strings.HasPrefix(last, want) {
		t.Errorf("got %q, want it to begin with %q", last, want)
	}
}

// TestOfSomeTests: with TestFits alone the mutants of Fits are found, and those of Warm are
// not reached.
func TestOfSomeTests(t *testing.T) {
	onShelf(t)
	lines, err := mutated(t, "-run", "Fits|Nothing", "-only", "shelf.go:(12|16|17):", ".")
	if err != nil {
		t.Fatal(err)
	}
	// Fits has three mutants, the condition of Warm three and its first return one.
	if last := lines[len(lines)-1]; !strings.HasPrefix(last, "shelf: 3 of 7 found") || len(lines) != 5 || !strings.HasSuffix(lines[0], notReached) {
		t.Errorf("got %q", lines)
	}
}

// TestExplained: an explained mutant leaves the count; one that tests find, or that is not
// in the source, is an error.
func TestExplained(t *testing.T) {
	onShelf(t)
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile("explained", []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("# loops\nshelf.go: n > 0 => n >= 0 in: for n > 0 {\n\tAt zero nothing is added.\n")
	lines, err := mutated(t, "-explained", "explained", "-sample", "4", "-list", ".")
	if err != nil || len(lines) != 4 || slices.Contains(lines, "n > 0 => n >= 0 in: for n > 0 {") {
		t.Errorf("got %v, %q", err, lines)
	}
	if lines, err := mutated(t, "-only", "=> t >= 20", "-list", "."); err != nil || len(lines) != 1 || lines[0] != wantSurvivors[0] {
		t.Errorf("one alone: %v, %q", err, lines)
	}
	again, _ := mutated(t, "-explained", "explained", "-sample", "4", "-list", ".")
	if !slices.Equal(lines, again) {
		t.Errorf("the same seed chose %q, then %q", lines, again)
	}
	if lines, err := mutated(t, "-explained", "explained", "-check", "."); err != nil || lines[len(lines)-1] != "shelf: 1 explained, of which tests found 0" {
		t.Errorf("got %v, %q", err, lines)
	}
	write("shelf.go: n <= most => n < most in: func Fits(n int) bool { return n <= most }\n\tWrong.\n")
	if _, err := mutated(t, "-explained", "explained", "-check", "."); err == nil {
		t.Error("no error for an explained mutant that tests find")
	}
	for text, want := range map[string]string{
		"shelf.go: gone => there in: nowhere\n\tReason.\n": "explained: explains no mutant; the source has changed: shelf.go: gone => there in: nowhere",
		"shelf.go: n > 0 => n >= 0 in: for n > 0 {\n":      "explained: no reason for: shelf.go: n > 0 => n >= 0 in: for n > 0 {",
		"\treason\n": "explained:1: a reason without a mutant above it",
		"a: b => c in: d\n\treason\na: b => c in: d\n\tonce more\n": "explained:3: explained twice: a: b => c in: d",
	} {
		write(text)
		if _, err := mutated(t, "-explained", "explained", "-list", "."); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %s", text, err, want)
		}
	}
}

// TestLeast: a score below the one asked for is an error.
func TestLeast(t *testing.T) {
	onShelf(t)
	if _, err := mutated(t, "-least", "70", "-sample", "2", "-seed", "3", "."); err != nil && !strings.Contains(err.Error(), "below 70 %") {
		t.Error(err)
	}
	s := score{all: 10, found: 9}
	if s.short(90) || !s.short(90.1) {
		t.Error("nine of ten are 90 %")
	}
}

// TestInterval: 81 of 263, from R. G. Newcombe, Statistics in Medicine 17 (1998), table I
// (from memory): 0.2553 to 0.3662 by Wilson's score method; 0 of 20: 0 to 0.1611.
func TestInterval(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		found, all int
		low, high  float64
	}{{81, 263, 25.53, 36.62}, {0, 20, 0, 16.11}} {
		low, high := score{all: c.all, found: c.found}.interval()
		if math.Abs(low-c.low) > 0.006 || math.Abs(high-c.high) > 0.006 {
			t.Errorf("%d of %d: %.2f to %.2f, want %.2f to %.2f", c.found, c.all, low, high, c.low, c.high)
		}
	}
}

// TestFirstBatch: quick tests share a process, up to half a second; a slow one stands alone.
func TestFirstBatch(t *testing.T) {
	t.Parallel()
	one, other := &binary{}, &binary{}
	ms := func(b *binary, n int) *test { return &test{bin: b, took: time.Duration(n) * time.Millisecond} }
	for _, c := range []struct {
		name  string
		tests []*test
		want  int
	}{
		{"up to half a second", []*test{ms(one, 100), ms(one, 150), ms(one, 250), ms(one, 300)}, 3},
		{"slow ones by four", []*test{ms(one, 1000), ms(one, 1000), ms(one, 1000), ms(one, 1000), ms(one, 1000)}, 4},
		{"of one binary", []*test{ms(one, 1), ms(other, 1)}, 1},
		{"one at least", []*test{ms(one, 9000), ms(one, 90000)}, 1},
	} {
		if n, _ := firstBatch(c.tests); n != c.want {
			t.Errorf("%s: %d, want %d", c.name, n, c.want)
		}
	}
}
