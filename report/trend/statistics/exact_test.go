package statistics

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"
)

// Five events on 2,000 flights are 2.5 a thousand; Garwood's limits of five are 1.623 and
// 11.668 (from memory of the tables), so 0.8115 and 5.834 a thousand.
func TestRateByHand(t *testing.T) {
	t.Parallel()
	r := Rate{5, 2000}
	near(t, "rate", r.Per1000(), 2.5, 1e-15)
	near(t, "low", r.Interval(0.95).Low, 0.8115, 3e-4)
	near(t, "high", r.Interval(0.95).High, 5.834, 3e-4)
}

// Few events, worked by hand. One event in all is on either side with the chance of that
// side's share of the flights, and twice the smaller is p; with one on each side of equal
// flights nothing differs. A side without events has no bound on its side. Known
// parts of flights need not add up to a whole one.
func TestCompareFewEvents(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		first, second Rate
		ratio, p      float64
	}{
		{Rate{0, 1}, Rate{1, 3}, 0, 1}, // at most none of one: 3/4, at least none: 1
		{Rate{1, 1}, Rate{0, 3}, math.Inf(1), 0.5},
		{Rate{1, 50}, Rate{1, 50}, 1, 1},
		{Rate{7, 50}, Rate{7, 50}, 1, 1},
		{Rate{3, 0.5}, Rate{0, 0.5}, math.Inf(1), 0.25},
		{Rate{0, 0.5}, Rate{3, 0.5}, 0, 0.25},
		{Rate{3, 0.5}, Rate{0, 4.5}, math.Inf(1), 0.002},
	} {
		got := Compare(c.first, c.second, 0.95)
		if got.Ratio != c.ratio {
			t.Errorf("%v: ratio %v, want %v", c, got.Ratio, c.ratio)
		}
		near(t, "p", got.P, c.p, 1e-12)
		if none := c.first.Events == 0; (got.Interval.Low == 0) != none {
			t.Errorf("%v: %v", c, got.Interval)
		}
		if none := c.second.Events == 0; math.IsInf(got.Interval.High, 1) != none {
			t.Errorf("%v: %v", c, got.Interval)
		}
	}
	// Clopper and Pearson's limits of 1 of 2 are 0.01258 and 0.98742 (from memory of the
	// tables): as a ratio of equal flights 0.01274 and 78.5.
	i := Compare(Rate{1, 50}, Rate{1, 50}, 0.95).Interval
	near(t, "low", i.Low, 0.01258/0.98742, 1e-5)
	near(t, "high", i.High, 0.98742/0.01258, 0.05)
}

// Worked by hand. For 0.01, 0.02 and 0.021: times 3, 3/2 and 1, then none above the one
// after it. For Holm no value passes 1.
func TestCorrectionsByHand(t *testing.T) {
	t.Parallel()
	for i, want := range []float64{0.021, 0.021, 0.021} {
		near(t, "Benjamini and Hochberg", BenjaminiHochberg([]float64{0.01, 0.021, 0.02})[i], want, 1e-15)
	}
	for i, want := range []float64{0.02, 0.04, 0.04, 0.02} {
		near(t, "Benjamini and Hochberg", BenjaminiHochberg([]float64{0.01, 0.04, 0.03, 0.005})[i], want, 1e-15)
	}
	for i, want := range []float64{1, 1, 0.03} {
		near(t, "Holm", Holm([]float64{0.9, 0.8, 0.01})[i], want, 1e-15)
	}
}

// The baseline is the first period alone when it is 1; a chart without flights has its
// centre at 0 and no limits; where no event was expected no rule can fire.
func TestRateChartEdges(t *testing.T) {
	t.Parallel()
	c := NewRateChart([]Rate{{10, 100}, {50, 100}}, 1)
	near(t, "centre of the first", c.Centre, 0.1, 1e-15)
	near(t, "rate of the second", c.Points[1].Rate, 0.5, 1e-15)
	near(t, "parts of a flight", NewRateChart([]Rate{{1, 0.25}, {0, 0.25}}, 0).Centre, 2, 1e-15)
	near(t, "longer baseline than chart", NewRateChart([]Rate{{1, 10}, {3, 10}}, 3).Centre, 0.2, 1e-15)
	none := NewRateChart([]Rate{{0, 0}, {0, 0}}, 0)
	if p := none.Points[0]; none.Centre != 0 || !math.IsNaN(p.Rate) || !math.IsNaN(p.Sigma) || p.Low != 0 || p.High != 0 {
		t.Errorf("without flights: %+v", none)
	}
	quiet := NewRateChart([]Rate{{0, 100}, {0, 100}, {2, 100}}, 2)
	if quiet.Points[2].Signals != nil || quiet.Points[2].Sigma != 0 {
		t.Errorf("after a baseline without events: %+v", quiet.Points[2])
	}
	four := RateChart{Centre: 16}
	for _, n := range []float64{25, 16, 16, 25} { // two of four, which is no rule
		four.Points = append(four.Points, ChartPoint{Rate: n, Sigma: 4})
	}
	four.runRules()
	if four.Points[3].Signals != nil {
		t.Errorf("two of four: %v", four.Points[3].Signals)
	}
	// The lower limit of the average: 10 - 2.962·0.2, and none below 0.
	low := MovingAverage(RateChart{Centre: 10, Points: []ChartPoint{{Rate: 10, Sigma: 1}, {Rate: 10, Sigma: 1000}}})
	near(t, "lower limit", low[0].Low, 10-0.5924, 1e-12)
	near(t, "lower limit, wide", low[1].Low, 0, 0)
}

// exactWave returns counts so large that rounding them hides nothing.
func exactWave(months, first int, peak, perYear, swing, level float64) []Rate {
	rates := make([]Rate, months)
	for i := range rates {
		wave := math.Cos(2 * math.Pi * (float64(first+i) - peak) / 12)
		rates[i] = Rate{int(math.Round(level * math.Pow(perYear, float64(i)/12) * math.Pow(swing, wave))), 1000}
	}
	return rates
}

// A wave without noise comes out as it went in, whichever month it begins and peaks in. The
// interval of the drift is that of the inverse of the information, the sum over the months
// of count times row times row transposed, with 1.96 normal deviations.
func TestSeasonExact(t *testing.T) {
	t.Parallel()
	for first := 1; first <= 12; first++ {
		for peak := 1; peak <= 12; peak++ {
			rates := exactWave(40, first, float64(peak), 1.1, 1.3, 1e8)
			s, ok := FitSeason(rates, first)
			if !ok || s.Peak != peak {
				t.Fatalf("began in %d, peaks in %d: %+v %v", first, peak, s, ok)
			}
			near(t, "drift", s.DriftPerYear, 1.1, 1e-6)
			near(t, "swing", s.Swing, 1.3, 1e-6)
			information := mat.NewDense(4, 4, nil)
			for i, r := range rates {
				angle := 2 * math.Pi * float64(first-1+i) / 12
				row := []float64{1, float64(i) / 12, math.Cos(angle), math.Sin(angle)}
				for a, x := range row {
					for b, y := range row {
						information.Set(a, b, information.At(a, b)+float64(r.Events)*x*y)
					}
				}
			}
			var inverse mat.Dense
			if err := inverse.Inverse(information); err != nil {
				t.Fatal(err)
			}
			factor := math.Exp(1.96 * math.Sqrt(inverse.At(1, 1)))
			near(t, "low", s.DriftPerYear/s.Drift.Low-1, factor-1, 1e-3*(factor-1))
			near(t, "high", s.Drift.High/s.DriftPerYear-1, factor-1, 1e-3*(factor-1))
		}
	}
}

// A series that reads the same backwards has no drift, with or without the wave, so the fit
// without it is the mean of all months, and the likelihood ratio the deviance from it:
// 2·sum(count·log(count/mean)), chi-square with two degrees of freedom, whose tail is
// exp(-x/2).
func TestSeasonChance(t *testing.T) {
	t.Parallel()
	rates := exactWave(36, 1, 1, 1, 1.003, 1e5)
	for i := range rates { // peaks between the middle months, June and July
		rates[i].Events = int(math.Round(1e5 * math.Pow(1.003, math.Cos(2*math.Pi*(float64(i)-17.5)/12))))
	}
	mean, deviance := 0.0, 0.0
	for _, r := range rates {
		mean += float64(r.Events) / 36
	}
	for _, r := range rates {
		deviance += 2 * float64(r.Events) * math.Log(float64(r.Events)/mean)
	}
	s, ok := FitSeason(rates, 1)
	if !ok {
		t.Fatal("no fit")
	}
	near(t, "drift", s.DriftPerYear, 1, 1e-9)
	near(t, "p", s.P, math.Exp(-deviance/2), 1e-3*math.Exp(-deviance/2))
	flat, ok := FitSeason(exactWave(36, 1, 1, 1, 1, 100), 1)
	if !ok {
		t.Fatal("no fit")
	}
	near(t, "p of none", flat.P, 1, 1e-9)
}

// Bounds: 24 months with flights and 50 events are enough, one less of either is not. A
// month without flights says nothing, and does not move the others.
func TestSeasonBounds(t *testing.T) {
	t.Parallel()
	events := func(months, n int) []Rate {
		rates := make([]Rate, months)
		for i := range rates {
			rates[i].Flights = 0.75 // known parts of flights add up to this
		}
		for i := range n {
			rates[i%months].Events++
		}
		return rates
	}
	for _, c := range []struct {
		months, n int
		want      bool
	}{{24, 50, true}, {23, 60, false}, {24, 49, false}} {
		if _, ok := FitSeason(events(c.months, c.n), 1); ok != c.want {
			t.Errorf("%d months, %d events: %v", c.months, c.n, ok)
		}
	}
	for gap := range 36 {
		rates := exactWave(36, 1, 4, 1.05, 1.2, 1e8)
		rates[gap] = Rate{}
		s, ok := FitSeason(rates, 1)
		if !ok || s.Peak != int(time.April) {
			t.Errorf("month %d without flights: %+v %v", gap, s, ok)
		}
		near(t, "drift", s.DriftPerYear, 1.05, 1e-6)
		near(t, "p", s.P, 0, 1e-12)
	}
}

// A peak between two months is that of the nearer one.
func TestSeasonBetweenMonths(t *testing.T) {
	t.Parallel()
	for peak, want := range map[float64]int{6.4: 6, 6.6: 7, 7.4: 7, 0.6: 1, 12.4: 12, 12.6: 1, 8.4: 8, 8.6: 9} {
		if s, ok := FitSeason(exactWave(36, 1, peak, 1, 1.3, 1e8), 1); !ok || s.Peak != want {
			t.Errorf("peak at %v: %+v, want %d", peak, s, want)
		}
	}
}

// No fit: January and July alone cannot tell how high the months between them are; a peak
// without a bound, when all events are in January, is never reached.
func TestSeasonWithoutFit(t *testing.T) {
	t.Parallel()
	two := make([]Rate, 144)
	one := make([]Rate, 48)
	for i := range two {
		if i%6 == 0 {
			two[i] = Rate{100 + i, 1000}
		}
	}
	for i := range one {
		one[i].Flights = 1000
		if i%12 == 0 {
			one[i].Events = 100
		}
	}
	for name, rates := range map[string][]Rate{"two months": two, "all in one month": one} {
		if s, ok := FitSeason(rates, 1); ok {
			t.Errorf("%s: %+v", name, s)
		}
	}
}
