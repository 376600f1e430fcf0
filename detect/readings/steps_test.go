package readings

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// TestLatched against a loop over the places of every history. It is not known
// to be latched at the beginning.
func TestLatched(t *testing.T) {
	t.Parallel()
	latched := func(set_, reset set) (out set) {
		on := false
		for i := 0; i < cells; i++ {
			on = (on || set_.has(i)) && !reset.has(i)
			if on {
				out |= 1 << i
			}
		}
		return out
	}
	rapid.Check(t, func(t *rapid.T) {
		leaves := []leaf{drawHeld(t, "set"), drawHeld(t, "reset")}
		if len(leaves[0].histories)*len(leaves[1].histories) > 200_000 {
			t.Skip("too many histories")
		}
		a, b := leaves[0], leaves[1]
		always, ever := bounds(leaves, func(h []set) set { return latched(h[0], h[1]) })
		readAs(t, a.text+" latched until "+b.text, Latched(a.condition, b.condition, window), always,
			latched(a.yes, every&^b.no), every&^latched(every&^a.no, b.yes), ever)
	})
}

// TestSteps: a step is seen at the first sample that shows it.
func TestSteps(t *testing.T) {
	t.Parallel()
	h := NewHeld(Sampling{Times: []float64{0, 1, 2, 3, 10, 11, 20}, Interval: 1, Gap: 3}, []int{5, 15, 15, 5, 20, 20, 20})
	for _, c := range []struct {
		direction Direction
		want      []Moment
	}{
		{Changes, []Moment{{1, 0, 1, true}, {3, 2, 3, true}, {10, 3, 10, true}}},
		{Increases, []Moment{{1, 0, 1, true}, {10, 3, 10, true}}},
		{Decreases, []Moment{{3, 2, 3, true}}},
	} {
		got, unknown := Steps(h, c.direction, Spans{{0, 21}})
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%v (-want +got):\n%s", c.direction, diff)
		}
		if diff := cmp.Diff(Spans{{3, 10}, {11, 20}}, unknown); diff != "" {
			t.Errorf("%v unknown (-want +got):\n%s", c.direction, diff)
		}
	}
	if got, _ := Steps(h, Changes, Spans{{2, 5}}); len(got) != 1 || got[0].Nominal != 3 {
		t.Errorf("within 2 to 5: %v", got)
	}
}

func TestEither(t *testing.T) {
	t.Parallel()
	a := []Moment{{1, 0, 1, true}, {math.NaN(), 4, 5, false}}
	b := []Moment{{3, 2, 3, true}, {6, 5, 6, true}}
	var got []float64
	for _, m := range Either(a, b) {
		got = append(got, m.Latest)
	}
	if diff := cmp.Diff([]float64{1, 3, 5, 6}, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestOften: moments known to within a second, three of them within five
// seconds. By hand: nominal from the third, at 4, until the first is five seconds
// past, at 6; in every history from 4 until 5, in some from 3 until 6.
func TestOften(t *testing.T) {
	t.Parallel()
	moments := []Moment{{1, 0, 1, true}, {2, 1, 2, true}, {4, 3, 4, true}}
	got := Often(moments, 3, 5, Spans{{0, 20}})
	want := Condition{Certain: Spans{{4, 5}}, True: Spans{{4, 6}}, False: Spans{{0, 4}, {6, 20}}, Possible: Spans{{3, 6}}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for _, count := range []int{0, -1, 4, 1 << 30} {
		if got := Often(moments, count, 5, Spans{{0, 20}}); len(got.Possible) > 0 {
			t.Errorf("%d of three: %v", count, got)
		}
	}
}

// TestLastBeforeIsCertain: of the moments at 1 and 5 s the one at 5 is the last before 8. It is
// certain, unless another may come at 6 to 7 s; one after 8 does not matter.
func TestLastBeforeIsCertain(t *testing.T) {
	t.Parallel()
	sure := func(at float64) Moment { return Moment{at, at, at, true} }
	perhaps := func(from, to float64) Moment { return Moment{math.NaN(), from, to, false} }
	for _, c := range []struct {
		name    string
		moments []Moment
		certain bool
	}{
		{"alone", []Moment{sure(1), sure(5)}, true},
		{"another before", []Moment{sure(1), perhaps(2, 3), sure(5)}, true},
		{"another between", []Moment{sure(1), sure(5), perhaps(6, 7)}, false},
		{"another after", []Moment{sure(1), sure(5), perhaps(8, 9)}, true},
	} {
		got := LastBefore(c.moments, []Moment{sure(8)})
		if len(got) != 1 || got[0].Nominal != 5 || got[0].Certain != c.certain {
			t.Errorf("%s: %v, want that at 5, certain %v", c.name, got, c.certain)
		}
	}
}
