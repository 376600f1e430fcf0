package detect

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/detect/readings"
)

func moment(nominal, earliest, latest float64, certain bool) readings.Moment {
	return readings.Moment{Nominal: nominal, Earliest: earliest, Latest: latest, Certain: certain}
}

var nan = math.NaN()

// chosen is what is kept of some occurrences.
func chosen(take string, all ...occurrence) Measurement {
	m := Measurement{Rule: &MeasurementRule{Take: take}, Certainty: Certain}
	m.choose(all)
	return m
}

func kept(t *testing.T, name string, got, want Measurement) {
	t.Helper()
	want.Rule = got.Rule
	if diff := cmp.Diff(want, got, cmpopts.IgnoreFields(Measurement{}, "Rule"), cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

// Three values: 5 (4 to 6) surely at 10, 9 (8 to 9.5) at 20 perhaps, 2 (1 to 3) surely at 30.
func TestChooseByHand(t *testing.T) {
	t.Parallel()
	a := occurrence{order: sure(10), shown: sure(10), value: 5, low: 4, high: 6}
	b := occurrence{order: moment(20, 19, 21, false), shown: moment(20, 19, 21, false), value: 9, low: 8, high: 9.5}
	c := occurrence{order: sure(30), shown: sure(30), value: 2, low: 1, high: 3}
	at := func(x float64) *Time { return &Time{x, x, x} }
	kept(t, "first", chosen("first", a, b, c), Measurement{Outcome: Measured, Certainty: Certain, Value: 5, Lowest: 4, Highest: 6, At: at(10)})
	kept(t, "first, perhaps", chosen("first", b, c), Measurement{Outcome: Measured, Certainty: Certain, Value: 9, Lowest: 1, Highest: 9.5, At: &Time{20, 19, 21}})
	kept(t, "last", chosen("last", a, b, c), Measurement{Outcome: Measured, Certainty: Certain, Value: 2, Lowest: 1, Highest: 3, At: at(30)})
	kept(t, "last, perhaps", chosen("last", a, b), Measurement{Outcome: Measured, Certainty: Certain, Value: 9, Lowest: 4, Highest: 9.5, At: &Time{20, 19, 21}})
	// The largest is 9, or, where that does not happen, 5: at least 4.
	kept(t, "largest", chosen("largest", a, b, c), Measurement{Outcome: Measured, Certainty: Certain, Value: 9, Lowest: 4, Highest: 9.5, At: &Time{20, 19, 21}})
	kept(t, "largest, other order", chosen("largest", c, b, a), Measurement{Outcome: Measured, Certainty: Certain, Value: 9, Lowest: 4, Highest: 9.5, At: &Time{20, 19, 21}})
	kept(t, "smallest", chosen("smallest", a, b, c), Measurement{Outcome: Measured, Certainty: Certain, Value: 2, Lowest: 1, Highest: 3, At: at(30)})
	kept(t, "smallest, other order", chosen("smallest", c, b, a), Measurement{Outcome: Measured, Certainty: Certain, Value: 2, Lowest: 1, Highest: 3, At: at(30)})
	with := occurrence{order: sure(10), shown: sure(10), value: 7, low: 7, high: 7}
	for _, take := range []string{"first", "last"} {
		if m := chosen(take, a, with); m.Value != 5 || m.Lowest != 4 || m.Highest != 7 {
			t.Errorf("%s of two at one time: %+v, want that listed first, of either value", take, m)
		}
	}
	again := occurrence{order: sure(30), shown: sure(30), value: 5, low: 4, high: 6}
	for _, take := range []string{"largest", "smallest"} {
		if m := chosen(take, a, again); m.At.Nominal != 10 {
			t.Errorf("the %s of two as large is at %+v, want the first", take, m.At)
		}
	}
	kept(t, "perhaps alone", chosen("first", b), Measurement{Outcome: Measured, Certainty: Possible, Value: 9, Lowest: 8, Highest: 9.5, At: &Time{20, 19, 21}})
	never := occurrence{order: moment(nan, 5, 6, false), shown: moment(nan, 5, 6, false), value: nan, low: 0, high: 1}
	kept(t, "not in the nominal reading", chosen("first", never), Measurement{Outcome: DidNotHappen, Certainty: Possible})
	kept(t, "one before it, perhaps", chosen("first", never, a), Measurement{Outcome: Measured, Certainty: Certain, Value: 5, Lowest: 0, Highest: 6, At: at(10)})
	kept(t, "one after it does not matter", chosen("first", a, occurrence{order: moment(nan, 11, 12, false), value: nan, low: -9, high: 99}),
		Measurement{Outcome: Measured, Certainty: Certain, Value: 5, Lowest: 4, Highest: 6, At: at(10)})
	kept(t, "one at the very time does", chosen("first", a, occurrence{order: moment(nan, 10, 12, false), value: nan, low: -9, high: 99}),
		Measurement{Outcome: Measured, Certainty: Certain, Value: 5, Lowest: -9, Highest: 99, At: at(10)})
	kept(t, "none", chosen("first"), Measurement{Outcome: DidNotHappen, Certainty: Certain})
	unknown := occurrence{order: sure(10), shown: sure(10), value: nan, low: math.Inf(-1), high: math.Inf(1)}
	kept(t, "not recorded", chosen("first", unknown), Measurement{Outcome: NotRecorded, Certainty: Certain, Value: nan, Lowest: math.Inf(-1), Highest: math.Inf(1), At: at(10)})
	for _, take := range []string{"largest", "smallest"} {
		if m := chosen(take, unknown, a); m.Value != 5 {
			t.Errorf("%s: a value not recorded is kept: %+v", take, m)
		}
		if m := chosen(take, a, unknown); m.Value != 5 {
			t.Errorf("%s: a value not recorded is kept: %+v", take, m)
		}
	}
}

// From 10 and 30 to 15 and 40, all exact: 5 and 10 s. A second start before the end makes
// the first none.
func TestPairsByHand(t *testing.T) {
	t.Parallel()
	values := func(all []occurrence) (out []float64) {
		for _, o := range all {
			if !math.IsNaN(o.value) {
				out = append(out, o.value)
			}
		}
		return out
	}
	exact := func(times ...float64) (out []readings.Moment) {
		for _, x := range times {
			out = append(out, sure(x))
		}
		return out
	}
	for _, c := range []struct {
		name     string
		from, to []readings.Moment
		want     []float64
	}{
		{"two", exact(10, 30), exact(15, 40), []float64{5, 10}},
		{"started again", exact(10, 12), exact(15), []float64{3}},
		{"ended twice", exact(10), exact(15, 16), []float64{5}},
		{"ends before it starts", exact(10), exact(5), nil},
		{"at the same time", exact(10), exact(10), []float64{0}},
		{"never ends", exact(10), nil, nil},
		{"a start comes before an end at the same time", exact(10, 20), exact(20, 25), []float64{0}},
	} {
		alike(t, c.name, values(pairs(c.from, c.to)), c.want)
	}
	certain := func(from, to []readings.Moment) (out []bool) {
		for _, o := range pairs(from, to) {
			out = append(out, o.order.Certain)
		}
		return out
	}
	wide := func(a, b float64) readings.Moment { return moment((a+b)/2, a, b, true) }
	alike(t, "bounds", pairs([]readings.Moment{wide(8, 10)}, []readings.Moment{wide(15, 19)}), []occurrence{
		{order: wide(15, 19), shown: wide(8, 10), value: 8, low: 5, high: 11},
	})
	alike(t, "never less than no time", pairs([]readings.Moment{wide(8, 12)}, []readings.Moment{wide(11, 13)})[0].low, 0.0)
	alike(t, "in this order in every history", certain([]readings.Moment{wide(8, 10)}, []readings.Moment{wide(10, 19)}), []bool{true})
	alike(t, "at times that are known", certain(exact(10), exact(15)), []bool{true})
	alike(t, "and a third between", certain(exact(10), []readings.Moment{moment(12, 12, 12, false), sure(15)}), []bool{false, false})
	alike(t, "perhaps the other way round", certain([]readings.Moment{wide(8, 10)}, []readings.Moment{wide(9.5, 19)}), []bool{false})
	alike(t, "one need not happen", certain([]readings.Moment{moment(9, 8, 10, false)}, []readings.Moment{wide(15, 19)}), []bool{false})
	alike(t, "the other need not", certain([]readings.Moment{wide(8, 10)}, []readings.Moment{moment(16, 15, 19, false)}), []bool{false})
	alike(t, "a third may come between", certain([]readings.Moment{wide(8, 10), moment(nan, 11, 12, false)}, []readings.Moment{wide(15, 19)}), []bool{false, false})
	alike(t, "a third after", certain([]readings.Moment{wide(8, 10), moment(nan, 19, 22, false)}, []readings.Moment{wide(15, 19)}), []bool{true, false})
	alike(t, "a third before", certain([]readings.Moment{moment(nan, 1, 8, false), wide(8, 10)}, []readings.Moment{wide(15, 19)}), []bool{false, true})
	// Beyond a moment that has come by then in every history nothing is paired.
	alike(t, "past the next", len(pairs(exact(10), exact(15, 16))), 1)
	alike(t, "not past one that need not happen", len(pairs(exact(10), []readings.Moment{moment(15, 15, 15, false), sure(16)})), 2)
	alike(t, "not past the next, in whatever order they are listed", len(pairs(exact(10), []readings.Moment{moment(30, 30, 30, false), sure(16)})), 1)
	alike(t, "none that is over before, though one listed earlier is not", len(pairs(exact(10), []readings.Moment{moment(nan, 0, 20, false), moment(nan, 5, 6, false)})), 1)
	o := newOrder([]readings.Moment{wide(8, 20), wide(9, 12), moment(3, 3, 3, false)})
	for at, want := range map[float64]float64{7: 12, 8: 12, 8.5: 12, 9: math.Inf(1), 99: math.Inf(1)} {
		alike(t, "next certain", o.nextCertain(at), want)
	}
}

// A number that rises from 0 at 0 to 20 at 20, known to within 1: around a moment at 9 to 11
// its largest, within two seconds before and three after, is 13, surely 11, at most 15.
func TestExtremeAroundByHand(t *testing.T) {
	t.Parallel()
	curve := func(by float64) readings.Curve { return readings.Curve{{Start: 0, End: 20, From: by, To: 20 + by}} }
	n := readings.Number{Nominal: curve(0), Low: curve(-1), High: curve(1)}
	v, low, high := extremeAround(n, moment(10, 9, 11, true), [2]float64{-2, 3}, false)
	alike(t, "largest", []float64{v, low, high}, []float64{13, 11, 15})
	v, low, high = extremeAround(n, moment(10, 9, 11, true), [2]float64{-2, 3}, true)
	alike(t, "smallest", []float64{v, low, high}, []float64{8, 6, 10})
	v, low, high = extremeAround(n, moment(10, 7, 13, true), [2]float64{-2, 3}, false)
	alike(t, "nothing shared", []float64{v, low, high}, []float64{13, math.Inf(-1), 17})
	v, low, high = extremeAround(n, moment(nan, 9, 19, true), [2]float64{-2, 3}, false)
	alike(t, "beyond what is known", []float64{v, low, high}, []float64{nan, math.Inf(-1), math.Inf(1)})
	low, high = boundsOver(n, 4, 6)
	alike(t, "bounds", []float64{low, high}, []float64{3, 7})
	low, high = boundsOver(n, 19, 21)
	alike(t, "beyond", []float64{low, high}, []float64{math.Inf(-1), math.Inf(1)})
}

// Moments within three seconds of one another are one event, each alone with no gap allowed.
func TestGroupsByHand(t *testing.T) {
	t.Parallel()
	of := func(times ...float64) (out []candidate) {
		for _, x := range times {
			out = append(out, candidate{Moment: moment(x, x-1, x+1, true)})
		}
		return out
	}
	sizes := func(all [][]candidate) (out []int) {
		for _, g := range all {
			out = append(out, len(g))
		}
		return out
	}
	alike(t, "at their times", sizes(groups(of(0, 3, 6.5, 9), 3, candidate.at)), []int{2, 2})
	alike(t, "each near the one before", sizes(groups(of(0, 3, 6, 9.5), 3, candidate.at)), []int{3, 1})
	// From -1 to 9 s, 0 to 2 s, and 11 to 13 s: the first of them reaches furthest.
	long := []candidate{{Moment: moment(4, -1, 9, true)}, {Moment: moment(1, 0, 2, true)}, {Moment: moment(12, 11, 13, true)}}
	alike(t, "behind the longest", sizes(groups(long, 2, candidate.bounds)), []int{3})
	alike(t, "by their bounds", sizes(groups(of(0, 5, 10.5), 3, candidate.bounds)), []int{2, 1})
	alike(t, "at their farthest", sizes(groups(of(0, 1, 5), 3, candidate.farthest)), []int{2, 1})
	alike(t, "a gap of half a second", sizes(groups(of(0, 0.5, 1.1), 0.5, candidate.at)), []int{2, 1})
	alike(t, "no gap", sizes(groups(of(0, 0, 0), 0, candidate.at)), []int{1, 1, 1})
	var near []readings.Moment
	for _, at := range []float64{1000, 1500, 1595, 1596} {
		near = append(near, sure(at))
	}
	windows, rest := nextAround(newTracks(flightOf(2000), nil), near) // up to 600 s from five before the first
	alike(t, "looked at together", []any{windows, len(rest)}, []any{readings.Spans{{Start: 995, End: 1005}, {Start: 1495, End: 1505}, {Start: 1590, End: 1600}}, 1})
	alike(t, "middle of the bounds", middle(moment(nan, 3, 6, false)), 4.5)
	alike(t, "at its time", middle(moment(4, 3, 6, false)), 4.0)
	sureOf := func(nominal, certain bool, from, to float64) bool {
		c := candidate{Moment: moment(5, 4, 6, certain), nominal: nominal}
		c.condition.Certain = during(from, to)
		return c.sure()
	}
	alike(t, "sure", []bool{sureOf(true, true, 4, 6), sureOf(false, true, 4, 6), sureOf(true, false, 4, 6), sureOf(true, true, 4.1, 6), sureOf(true, true, 4, 5.9)}, []bool{true, false, false, false, false})
}

// Opportunities from 0 to 10 and 20 to 30 s: without samples from 5 to 8 the first is partly
// evaluable; without any from 18 to 31 the second not at all.
func TestChancesByHand(t *testing.T) {
	t.Parallel()
	open := []Opportunity{{Begins: exactly(0), Ends: exactly(10)}, {Begins: exactly(20), Ends: exactly(30)}}
	alike(t, "all", chances(open, nil), Chances{2, 2, 0, 0})
	alike(t, "partly", chances(open, during(5, 8)), Chances{2, 1, 1, 0})
	alike(t, "not", chances(open, during(5, 8, 18, 31)), Chances{2, 0, 1, 1})
	alike(t, "beside", chances(open, during(12, 18)), Chances{2, 2, 0, 0})
	wide := []Opportunity{{Begins: Time{5, 4, 6}, Ends: Time{10, 9, 11}}, {Begins: Time{11, 10, 12}, Ends: exactly(20)}}
	alike(t, "spans", spansOf(wide), during(4, 20))
	alike(t, "ten seconds later", Time{1, 0, 2}.later(10), Time{11, 10, 12})
	alike(t, "the earlier of two", earlier(Time{5, 1, 6}, Time{4, 3, 9}), Time{4, 1, 6})
	alike(t, "the later of two", later(Time{5, 1, 6}, Time{4, 3, 9}), Time{5, 3, 9})
	o := Opportunity{Begins: exactly(5), Ends: exactly(9), moment: 7}
	for at, want := range map[float64]bool{5: true, 7: true, 9: true, 6: false} {
		alike(t, "owns", o.owns(at), want)
	}
}
