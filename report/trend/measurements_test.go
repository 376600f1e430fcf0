package trend

import (
	"slices"
	"strings"
	"testing"

	"downlock/report/trend/tally"
)

// Flights with several values: 9, 1 and 5 are of one, 2 and 8 of another, 7 of a
// third. Their medians are 5, 2 (the lower of two) and 7.
func TestOneValueAFlight(t *testing.T) {
	t.Parallel()
	s := newSample(tally.Sample{Values: []float64{9, 1, 5, 2, 8, 7}, Flights: []int32{0, 0, 0, 1, 1, 2}})
	if !slices.Equal(s.values, []float64{1, 2, 5, 7, 8, 9}) || !slices.Equal(s.flights, []float64{2, 5, 7}) {
		t.Errorf("%+v", s)
	}
	single := newSample(tally.Sample{Values: []float64{6, 3}})
	if !slices.Equal(single.values, []float64{3, 6}) || !slices.Equal(single.flights, []float64{3, 6}) {
		t.Errorf("%+v", single)
	}
	both := merge(s, single, sample{})
	if !slices.Equal(both.values, []float64{1, 2, 3, 5, 6, 7, 8, 9}) || !slices.Equal(both.flights, []float64{2, 3, 5, 6, 7}) {
		t.Errorf("%+v", both)
	}
	if sum := newSpread(both); sum.N != 8 || sum.Flights != 5 || sum.Median != 5 || !sum.Several() || sum.on() != "8 values of 5 flights" {
		t.Errorf("%+v on %s", sum, sum.on())
	}
	if sum := newSpread(merge(single, single)); sum.Several() || sum.on() != "4 flights" {
		t.Errorf("%+v on %s", sum, sum.on())
	}
}

// Ten flights of one value before, ten in the recent period of which each has three:
// the test is of ten against ten. By hand: every recent median (13 to 22) is above
// every value before (1 to 10), so the chance is 1; the quantiles are of 30 values.
func TestComparedByFlight(t *testing.T) {
	t.Parallel()
	before, recent := tally.Sample{}, tally.Sample{}
	for i := range 10 {
		before.Add(float64(i+1), false)
		for k, v := range []float64{float64(i) + 13, 0, 100} {
			recent.Add(v, k > 0)
		}
	}
	s := between(0, nil, newSample(recent), newSample(before))
	if s.Result.Above != 1 || s.First.N != 30 || s.First.Flights != 10 || s.Second.N != 10 || s.First.Lower != 0 || s.First.P95 != 100 || !s.tested() {
		t.Errorf("%+v", s)
	}
	// 20 of 30 values are above 10, the 95th percentile of those before.
	if s.Beyond != 20.0/30 {
		t.Errorf("%v beyond", s.Beyond)
	}
	s.First.Median = 0 // all values together lie lower, though each flight's median is higher
	if s.noteworthy() {
		t.Error("what points both ways is no finding")
	}
}

// The page says how many values and flights there are, and that some are from before
// each opportunity was measured.
func TestPageSaysValues(t *testing.T) {
	t.Parallel()
	f := smallFleet
	f.Circuits = 3
	counted, err := f.Tally()
	if err != nil {
		t.Fatal(err)
	}
	counted.Values, counted.OneAFlight = 90_000, 1_234
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	page, err := tr.Page()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1,234 of 90,000 values of measurements are of flights scanned before", "takes one value from each flight, its median"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	said := 0
	for i := range tr.shifts {
		if s := &tr.shifts[i]; s.Group == nil && s.First.Several() {
			said += strings.Count(string(page), "in "+tr.Name(tr.Recent)+", "+plural(s.First.N, "values"))
		}
	}
	if said != len(tr.Measured) {
		t.Errorf("%d measurements say how many values they have", said)
	}
}
