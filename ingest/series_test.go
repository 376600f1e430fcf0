package ingest

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// seriesOf makes the series of a numeric parameter from its samples.
func seriesOf(t *testing.T, parameter string, source schemas.Source, list ...[2]float64) (*Series, timing) {
	t.Helper()
	p, ok := schemas.LookupParameter(parameter)
	if !ok {
		t.Fatalf("no parameter %s", parameter)
	}
	source.Unit = p.Unit
	c := newChannel(p, &source, nil)
	for _, s := range list {
		c.addNumber(s[0], s[1])
	}
	return c.series()
}

// pressure_altitude: -2000 to 60000 ft, at most 400 ft/s; computed_airspeed:
// Samples of equal time that follow each other are all kept and spread over the
// smallest time between samples; those that stand twice are taken once; what says
// different things in two places is a conflict. Decided by hand.
func TestEqualTimes(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name     string
		in, want [][2]float64
		timing   timing
	}{
		{name: "sorted", in: [][2]float64{{2, 120}, {0, 100}, {1, 111}}, want: [][2]float64{{0, 100}, {1, 111}, {2, 120}}},
		{name: "two and four of a time", in: [][2]float64{{0, 100}, {0, 101}, {1, 102}, {1, 103}, {1, 104}, {1, 105}, {3, 106}},
			want:   [][2]float64{{0, 100}, {0.5, 101}, {1, 102}, {1.25, 103}, {1.5, 104}, {1.75, 105}, {3, 106}},
			timing: timing{spread: 4, width: 1}},
		{name: "the last time", in: [][2]float64{{0, 100}, {2, 101}, {2, 102}}, want: [][2]float64{{0, 100}, {2, 101}, {3, 102}}, timing: timing{spread: 1, width: 2}},
		{name: "a block twice", in: [][2]float64{{0, 100}, {1, 101}, {2, 102}, {1, 101}, {2, 102}, {3, 103}},
			want: [][2]float64{{0, 100}, {1, 101}, {2, 102}, {3, 103}}, timing: timing{same: 2}},
		{name: "a block of others", in: [][2]float64{{0, 100}, {1, 101}, {2, 102}, {1, 105}, {2, 102}, {3, 103}}, timing: timing{conflict: true, at: 1}},
		{name: "all of one time", in: [][2]float64{{7, 100}, {7, 101}}, timing: timing{conflict: true, at: 7}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, got := seriesOf(t, "computed_airspeed", schemas.Source{}, tt.in...)
			if got != tt.timing {
				t.Errorf("%+v, want %+v", got, tt.timing)
			}
			if got.conflict {
				return
			}
			want := samples{"computed_airspeed": tt.want}
			if d := cmp.Diff(want, samplesOf(&Recording{Series: []*Series{s}})); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

func TestManyOutOfRangeIsNoted(t *testing.T) {
	t.Parallel()
	r := read(t, "time,ALT\n0,5\n1,99999\n2,99999\n", profileOf(t, "column: time", testColumns))
	want := []string{`2 of 3 samples of pressure_altitude are outside its plausible range: check the unit and scale of column "ALT" in the profile`}
	if diff := cmp.Diff(want, r.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
}

// The median interval and the longest: at once where most are like the first, else by sorting; of
// an even number the longer of the two in the middle.
func TestSpacingByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ times, want []float64 }{
		{nil, []float64{0, 0}}, {[]float64{5}, []float64{0, 0}}, {[]float64{5, 7}, []float64{2, 2}}, {[]float64{0, 1, 2, 4, 6, 8}, []float64{2, 2}}, {[]float64{0, 1, 2, 3, 5, 7}, []float64{1, 2}},
		{[]float64{0, 1, 2, 4, 6}, []float64{2, 2}}, {[]float64{0, 1, 3, 3.5, 10}, []float64{2, 7 - 0.5}}, {[]float64{0, 0.125, 0.25, 0.375}, []float64{0.125, 0.125}}, {[]float64{0, 0.3333334, 0.6666667, 1}, []float64{0.333333, 0.3333334}},
	} {
		if got := spacingOf(c.times); got.typical != c.want[0] || math.Abs(got.longest-c.want[1]) > 1e-12 {
			t.Errorf("%v: %+v, want %v", c.times, *got, c.want)
		}
	}
}
