package readings

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// near is far below half a second, the distance of two places, and far above
// the length given to a sample.
const near = 0.01

// beginnings lists the places at which a history starts to hold. The time of
// one just after an instant is that of the instant.
func beginnings(h set) (places []int) {
	for i := 1; i < cells; i++ {
		if h.has(i) && !h.has(i-1) {
			places = append(places, i)
		}
	}
	return places
}

func instantOf(place int) float64 { return float64(place / 2) }

func (m Moment) mayBe(t float64) bool { return m.Earliest-near <= t && t <= m.Latest+near }

// unsureEnds are the ends of a condition that may waver: the possible time after
// the last certain time, or without any when it is not false before.
func unsureEnds(c Condition) (ends Spans) {
	for _, p := range c.Possible {
		from := p.Start
		if sure := c.Certain.Within(p); len(sure) > 0 {
			from = sure[len(sure)-1].End
		} else if reaches(c.False, p.Start) {
			continue
		}
		ends = ends.add(Span{from, p.End + near})
	}
	return ends
}

func TestBeginsOfOneParameterWithoutGaps(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		l := drawHeld(t, "a")
		if l.hasGap || len(l.histories) > 5000 {
			t.Skip("gaps")
		}
		moments := Begins(l.condition)
		for _, h := range l.histories {
			for _, b := range beginnings(h) {
				if n := countMoments(moments, instantOf(b)); n == 0 {
					t.Fatalf("%s\nhistory %024b begins at %v: %v", l.text, h, instantOf(b), moments)
				}
			}
			for _, m := range moments {
				if m.Certain && !slices.ContainsFunc(beginnings(h), func(b int) bool { return m.mayBe(instantOf(b)) }) {
					t.Fatalf("%s\nhistory %024b has no beginning in %v", l.text, h, m)
				}
			}
		}
		// In the nominal reading each change to true between two samples is one
		// moment, and nothing else is.
		var want []float64
		for i := 1; i < cells; i++ {
			if l.yes.has(i) && l.no.has(i-1) {
				want = append(want, timeOf(i))
			}
		}
		var got []float64
		for _, m := range moments {
			if !m.InNominal() && m.Latest == seconds {
				continue // the first sample of the new value is past the end
			}
			if !m.InNominal() || !m.Certain {
				t.Fatalf("%s\n%v is not certain", l.text, m)
			}
			got = append(got, m.Nominal)
		}
		if !cmp.Equal(want, got, cmpopts.EquateEmpty()) {
			t.Fatalf("%s\nat %v, want %v", l.text, got, want)
		}
	})
}

func countMoments(moments []Moment, t float64) (n int) {
	for _, m := range moments {
		if m.mayBe(t) {
			n++
		}
	}
	return n
}

func TestBeginsOfAnything(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		leaves := []leaf{drawHeld(t, "a"), drawHeld(t, "b")}
		if len(leaves[0].histories)*len(leaves[1].histories) > 100_000 {
			t.Skip("too many histories")
		}
		f := drawFormula(t, leaves, true)
		moments, ends := Begins(f.condition), unsureEnds(f.condition)
		n := rapid.IntRange(1, 4).Draw(t, "seconds")
		after, before, about := Around(moments, 0, float64(n), window), Around(moments, float64(n), 0, window), Around(moments, float64(n), float64(n), window)
		allHistories(leaves, func(hs []set) {
			h := f.holds(hs)
			starts := beginnings(h)
			var isAfter, isBefore set
			for _, b := range starts {
				if countMoments(moments, instantOf(b)) == 0 && !ends.Contains(instantOf(b)) {
					t.Fatalf("%s\nhistory %024b begins at %v: %v", f.text, h, instantOf(b), moments)
				}
			}
			for i := 0; i < cells; i++ {
				for _, b := range starts {
					if b <= i && i-b < 2*n {
						isAfter |= 1 << i
					}
					if i < b && b-i <= 2*n {
						isBefore |= 1 << i
					}
				}
			}
			if wrong := read(after.Certain) &^ isAfter; wrong != 0 {
				t.Fatalf("%s\nhistory %024b is not after %v at %024b", f.text, h, moments, wrong)
			}
			if wrong := read(before.Certain) &^ isBefore; wrong != 0 {
				t.Fatalf("%s\nhistory %024b is not before %v at %024b", f.text, h, moments, wrong)
			}
			if wrong := read(about.Certain) &^ (isBefore | isAfter); wrong != 0 {
				t.Fatalf("%s\nhistory %024b is not about %v at %024b", f.text, h, moments, wrong)
			}
			for _, m := range moments {
				if m.Certain && !slices.ContainsFunc(starts, func(b int) bool { return m.mayBe(instantOf(b)) }) {
					t.Fatalf("%s\nhistory %024b has no beginning in %v", f.text, h, m)
				}
			}
			if len(ends) > 0 {
				return // a wavering end may add to what is possible
			}
			if wrong := isAfter&^read(after.Possible) | isBefore&^read(before.Possible); wrong != 0 {
				t.Fatalf("%s\nhistory %024b: not possible at %024b: %v", f.text, h, wrong, moments)
			}
		})
		for _, m := range moments {
			if m.Earliest > m.Latest || m.InNominal() && (m.Nominal < m.Earliest || m.Nominal > m.Latest) {
				t.Fatalf("%s\n%v is out of its bounds", f.text, m)
			}
		}
		for _, c := range []Condition{after, before} {
			if len(Intersect(c.Certain, c.True.Complement(window))) > 0 || len(Intersect(c.True, c.Possible.Complement(window))) > 0 {
				t.Fatalf("%s\nout of order: %v", f.text, c)
			}
		}
	})
}

// TestBeginsByHand: samples at whole seconds, three seconds without a sample are
// no gap. (-: no sample.)
func TestBeginsByHand(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	for _, c := range []struct {
		name, samples string
		want          []Moment
	}{
		{"one change", "0011", []Moment{{2, 1, 2, true}}},
		{"true from the start", "1111", nil},
		{"one sample", "00100", []Moment{{2, 1, 2, true}}},
		{"twice", "010100", []Moment{{1, 0, 1, true}, {3, 2, 3, true}}},
		{"ends only", "1100", nil},
		{"two samples missing", "00--11", []Moment{{4, 1, 4, true}}},
		{"a gap between false and true", "00---11", []Moment{{5, 1, 5, true}}},
		{"a gap between true and true", "011---11", []Moment{{1, 0, 1, true}, {nan, 2, 6, false}}},
		{"a gap between false and false", "00---00", []Moment{{nan, 1, 5, false}}},
		{"a gap between true and false", "011---00", []Moment{{1, 0, 1, true}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Begins(samplesAt(c.samples).Condition(func(v bool) bool { return v }, Spans{{0, float64(len(c.samples))}}))
			if diff := cmp.Diff(c.want, got, cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-5)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// samplesAt reads one sample a second.
func samplesAt(text string) *Held[bool] {
	s := Sampling{Interval: 1, Gap: 3}
	var values []bool
	for i, c := range text {
		if c != '-' {
			s.Times, values = append(s.Times, float64(i)), append(values, c == '1')
		}
	}
	return NewHeld(s, values)
}

func TestLastBefore(t *testing.T) {
	t.Parallel()
	moments := func(times ...float64) (out []Moment) {
		for _, t := range times {
			out = append(out, Moment{t, t - 1, t, true})
		}
		return out
	}
	for _, c := range []struct {
		name      string
		of, later []Moment
		want      []Moment
	}{
		{"the last of three", moments(1, 2, 3), moments(4), moments(3)},
		{"one for each", moments(1, 2, 5), moments(4, 6), moments(2, 5)},
		{"none between two later ones", moments(1), moments(4, 6), moments(1)},
		{"none before", moments(5), moments(4), nil},
		{"at the same time", moments(4), moments(4), moments(4)},
		// In a history in which the second comes it is the last, so the first is not for certain.
		{"not in the nominal reading", []Moment{{2, 1, 2, true}, {math.NaN(), 2, 3, false}}, moments(4), []Moment{{2, 1, 2, false}}},
		{"later one not in the nominal reading", moments(2), []Moment{{math.NaN(), 3, 4, false}}, nil},
		{"none", nil, moments(4), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, LastBefore(c.of, c.later)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}
