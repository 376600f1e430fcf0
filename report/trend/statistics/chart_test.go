package statistics

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1, counts control chart
// (from memory): 400 defects in 25 wafers, centre 16, limits 4 and 28; the 24th
// wafer is out.
func TestWaferChart(t *testing.T) {
	t.Parallel()
	var rates []Rate
	for _, n := range []int{16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13} {
		rates = append(rates, Rate{n, 1})
	}
	c := NewRateChart(rates, 0)
	near(t, "centre", c.Centre, 16, 1e-12)
	for i, p := range c.Points {
		near(t, "low", p.Low, 4, 1e-12)
		near(t, "high", p.High, 28, 1e-12)
		if out := slices.Contains(p.Signals, BeyondThree); out != (i == 23) {
			t.Errorf("wafer %d: %v", i+1, p.Signals)
		}
	}
}

// Centre 16 and sigma 4 again; what fires where is read off the definitions.
func TestRunRules(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		counts []int
		want   map[int][]string
	}{
		{"nothing", []int{16, 17, 15, 20, 12}, nil},
		{"beyond", []int{16, 29}, map[int][]string{1: {BeyondThree}}},
		{"on the limit is not beyond it", []int{16, 28}, nil},
		{"two of three", []int{25, 16, 25, 16}, map[int][]string{2: {TwoOfThree}}},
		{"two of three on different sides", []int{25, 16, 7}, nil},
		{"four of five", []int{21, 21, 15, 21, 21, 15}, map[int][]string{4: {FourOfFive}}},
		{"eight below", []int{15, 15, 15, 15, 15, 15, 15, 15, 15}, map[int][]string{7: {EightTogether}, 8: {EightTogether}}},
		{"a point on the centre ends a run", []int{15, 15, 15, 15, 16, 15, 15, 15, 15}, nil},
	} {
		chart := RateChart{Centre: 16}
		for _, n := range c.counts {
			chart.Points = append(chart.Points, ChartPoint{Rate: float64(n), Sigma: 4})
		}
		chart.runRules()
		for i, p := range chart.Points {
			if !slices.Equal(p.Signals, c.want[i]) {
				t.Errorf("%s, point %d: got %v, want %v", c.name, i, p.Signals, c.want[i])
			}
		}
	}
}

// Limits follow the flights: 20 events on 1000 flights are the centre, and a
// month of 400 flights has limits at 0.02 ± 3·sqrt(0.02/400), worked by hand.
func TestRateChartLimits(t *testing.T) {
	t.Parallel()
	c := NewRateChart([]Rate{{12, 600}, {8, 400}, {0, 0}, {30, 500}}, 2)
	near(t, "centre", c.Centre, 0.02, 1e-15)
	near(t, "high", c.Points[1].High, 0.0412132034, 1e-9)
	near(t, "low", c.Points[1].Low, 0, 0)
	if !math.IsNaN(c.Points[2].Rate) || c.Points[2].Signals != nil {
		t.Errorf("a month without flights: %+v", c.Points[2])
	}
	if !slices.Contains(c.Points[3].Signals, BeyondThree) {
		t.Errorf("0.06 where the limit is 0.039: %+v", c.Points[3])
	}
}

// Without any change, how many points until the first false signal, on average:
// 91.75 for the four run rules together (C. Champ and W. Woodall, Technometrics
// 29, 1987, from memory) and 500 for the moving average (Lucas and Saccucci, see
// AverageWeight; a little less, because our limits are narrower at first).
// Within four standard errors, and five percent for the moving average.
func TestFalseSignals(t *testing.T) {
	t.Parallel()
	source := rand.New(rand.NewPCG(14, 3))
	first := func(points int, signals func(RateChart) int) (lengths []float64) {
		for range 1500 {
			c := RateChart{Centre: 16, Points: make([]ChartPoint, points)}
			for i := range c.Points {
				c.Points[i] = ChartPoint{Rate: 16 + 4*source.NormFloat64(), Sigma: 4}
			}
			lengths = append(lengths, float64(signals(c)+1))
		}
		return lengths
	}
	rules, sd := stat.MeanStdDev(first(1000, func(c RateChart) int {
		c.runRules()
		return slices.IndexFunc(c.Points, func(p ChartPoint) bool { return p.Signals != nil })
	}), nil)
	near(t, "run rules", rules, 91.75, 4*sd/math.Sqrt(1500))
	averages, sd := stat.MeanStdDev(first(6000, func(c RateChart) int {
		return slices.IndexFunc(MovingAverage(c), func(p AveragePoint) bool { return p.Average < p.Low || p.Average > p.High })
	}), nil)
	near(t, "moving average", averages, 500, 4*sd/math.Sqrt(1500)+25)
	t.Logf("%.1f and %.1f points", rules, averages)
}

// By hand: centre 10, sigma 1; 0.2·13 + 0.8·10 = 10.6, then 0.2·13 + 0.8·10.6.
// The variance after two periods is 0.04 + 0.64·0.04.
func TestMovingAverageByHand(t *testing.T) {
	t.Parallel()
	c := RateChart{Centre: 10, Points: []ChartPoint{{Rate: 13, Sigma: 1}, {Rate: math.NaN(), Sigma: math.NaN()}, {Rate: 13, Sigma: 1}}}
	got := MovingAverage(c)
	near(t, "first", got[0].Average, 10.6, 1e-12)
	near(t, "kept", got[1].Average, 10.6, 1e-12)
	near(t, "third", got[2].Average, 11.08, 1e-12)
	near(t, "limit", got[2].High, 10+2.962*math.Sqrt(0.04+0.64*0.04), 1e-12)
}
