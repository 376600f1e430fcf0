package readings

import (
	"testing"

	"pgregory.net/rapid"
)

// formula is a condition on leaves: the reading by the code under test, its
// truth in a history, and its nominal reading by Kleene's tables.
type formula struct {
	text      string
	condition Condition
	holds     func(history []set) set
	yes, no   set
}

func drawFormula(t *rapid.T, leaves []leaf, once bool) formula {
	next := 0
	var draw func(depth int) formula
	draw = func(depth int) formula {
		operator := rapid.SampledFrom([]string{"leaf", "not", "and", "or"}).Draw(t, "operator")
		if operator == "leaf" || depth == 0 || once && next >= len(leaves)-1 && operator != "not" {
			i := next % len(leaves)
			if !once {
				i = rapid.IntRange(0, len(leaves)-1).Draw(t, "leaf")
			}
			next++
			l := leaves[i]
			return formula{l.text, l.condition, func(h []set) set { return h[i] }, l.yes, l.no}
		}
		a := draw(depth - 1)
		if operator == "not" {
			return formula{"not (" + a.text + ")", Not(a.condition, window), func(h []set) set { return every &^ a.holds(h) }, a.no, a.yes}
		}
		if once && next >= len(leaves) {
			return a
		}
		b := draw(depth - 1)
		if operator == "and" {
			return formula{"(" + a.text + " and " + b.text + ")", And(a.condition, b.condition),
				func(h []set) set { return a.holds(h) & b.holds(h) }, a.yes & b.yes, a.no | b.no}
		}
		return formula{"(" + a.text + " or " + b.text + ")", Or(a.condition, b.condition),
			func(h []set) set { return a.holds(h) | b.holds(h) }, a.yes | b.yes, a.no & b.no}
	}
	return draw(3)
}

// allHistories calls f with one history of each leaf, in every combination.
func allHistories(leaves []leaf, f func([]set)) {
	h := make([]set, len(leaves))
	var each func(i int)
	each = func(i int) {
		if i == len(leaves) {
			f(h)
			return
		}
		for _, x := range leaves[i].histories {
			h[i] = x
			each(i + 1)
		}
	}
	each(0)
}

func bounds(leaves []leaf, holds func([]set) set) (always, ever set) {
	always = every
	allHistories(leaves, func(h []set) {
		x := holds(h)
		always &= x
		ever |= x
	})
	return always, ever
}

// readAs fails unless the condition reads as wanted at every place.
func readAs(t *rapid.T, what string, c Condition, always, yes, no, ever set) {
	t.Helper()
	for _, s := range []struct {
		name  string
		spans Spans
	}{{"certain", c.Certain}, {"true", c.True}, {"false", c.False}, {"possible", c.Possible}} {
		orderly(t, s.name, s.spans)
	}
	if got := read(c.Certain); got != always {
		t.Fatalf("%s\ncertain %024b, want %024b: %v", what, got, always, c)
	}
	if got := read(c.Possible); got != ever {
		t.Fatalf("%s\npossible %024b, want %024b: %v", what, got, ever, c)
	}
	if read(c.True) != yes || read(c.False) != no {
		t.Fatalf("%s\ntrue %024b false %024b, want %024b %024b: %v", what, read(c.True), read(c.False), yes, no, c)
	}
}

func drawLeaves(t *rapid.T, n int) []leaf {
	leaves := make([]leaf, n)
	for i := range leaves {
		name := string(rune('a' + i))
		if rapid.Bool().Draw(t, name+" is a line") {
			leaves[i] = drawLine(t, name)
		} else {
			leaves[i] = drawHeld(t, name)
		}
		if len(leaves[i].histories) > 200 { // keeps three of them under a few million
			leaves[i] = drawLine(t, name+"'")
		}
	}
	return leaves
}

// TestReadingsOfOneParameter: every parameter alone, exactly.
func TestReadingsOfOneParameter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		for _, l := range []leaf{drawHeld(t, "held"), drawLine(t, "line")} {
			always, ever := bounds([]leaf{l}, func(h []set) set { return h[0] })
			readAs(t, l.text, l.condition, always, l.yes, l.no, ever)
		}
	})
}

// TestExactWhereEachParameterOccursOnce is the promise of the package comment.
func TestExactWhereEachParameterOccursOnce(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		leaves := drawLeaves(t, rapid.IntRange(1, 3).Draw(t, "parameters"))
		f := drawFormula(t, leaves, true)
		always, ever := bounds(leaves, f.holds)
		readAs(t, f.text, f.condition, always, f.yes, f.no, ever)
	})
}

// TestNeverTooSure: where a parameter occurs twice, certain may be smaller than
// the truth and possible larger, never the other way round, and the nominal
// reading lies between.
func TestNeverTooSure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		leaves := drawLeaves(t, rapid.IntRange(1, 2).Draw(t, "parameters"))
		f := drawFormula(t, leaves, false)
		always, ever := bounds(leaves, f.holds)
		c := f.condition
		if read(c.Certain)&^always != 0 || ever&^read(c.Possible) != 0 {
			t.Fatalf("%s\nalways %024b ever %024b: %v", f.text, always, ever, c)
		}
		if read(c.True) != f.yes || read(c.False) != f.no {
			t.Fatalf("%s\ntrue %024b false %024b: %v", f.text, f.yes, f.no, c)
		}
		for what, wrong := range map[string]Spans{
			"certain outside true":         Intersect(c.Certain, c.True.Complement(window)),
			"true outside possible":        Intersect(c.True, c.Possible.Complement(window)),
			"false and certain":            Intersect(c.False, c.Certain),
			"true and false":               Intersect(c.False, c.True),
			"neither possible nor false":   Intersect(c.Possible.Complement(window), c.False.Complement(window)),
			"missing and yet not possible": Intersect(c.Missing(window), c.Possible.Complement(window)),
		} {
			if len(wrong) > 0 {
				t.Fatalf("%s\n%s: %v in %v", f.text, what, wrong, c)
			}
		}
	})
}

// shifted is a set seen n places later; beyond fills the new places.
func shifted(s set, n int, beyond bool) set {
	out := s << n
	if beyond {
		out |= 1<<n - 1
	}
	return out & every
}

// TestHeldForAndLasting against loops over the places, with everything that may
// have been before and after the window.
func TestHeldForAndLasting(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		leaves := []leaf{drawHeld(t, "a")}
		if rapid.Bool().Draw(t, "two parameters") {
			leaves = append(leaves, drawHeld(t, "b"))
		}
		for _, l := range leaves {
			if len(l.histories) > 500 {
				t.Skip("too many histories")
			}
		}
		f := drawFormula(t, leaves, true)
		n := rapid.IntRange(1, 5).Draw(t, "seconds")

		// Held at a place: at all places of n seconds up to it.
		held := func(s set, before bool) set {
			out := s
			for k := 1; k <= 2*n; k++ {
				out &= shifted(s, k, before)
			}
			return out
		}
		always, _ := bounds(leaves, func(h []set) set { return held(f.holds(h), false) })
		_, ever := bounds(leaves, func(h []set) set { return held(f.holds(h), true) })
		readAs(t, f.text+" held", HeldFor(f.condition, float64(n), window),
			always, held(f.yes, false), every&^held(every&^f.no, true), ever)

		// From one instant to another there are whole seconds, so lasting n seconds
		// is lasting n - 0.5, with which it does not matter which ends belong.
		lasting := func(s set, around bool) set {
			var out set
			for i := 0; i < cells; i++ {
				from, to := i, i
				for from > 0 && s.has(from-1) {
					from--
				}
				for to < cells && s.has(to) {
					to++
				}
				if s.has(i) && (to/2-from/2 >= n || around && (from == 0 || to == cells)) {
					out |= 1 << i
				}
			}
			return out
		}
		always, _ = bounds(leaves, func(h []set) set { return lasting(f.holds(h), false) })
		_, ever = bounds(leaves, func(h []set) set { return lasting(f.holds(h), true) })
		readAs(t, f.text+" lasting", Lasting(f.condition, float64(n)-0.5, window),
			always, lasting(f.yes, false), every&^lasting(every&^f.no, true), ever)
	})
}
