package statistics

import "math"

// ChartPoint is one period of a chart of events per flight.
type ChartPoint struct {
	Rate      float64 // events per flight; not a number without flights
	Low, High float64 // three-sigma limits, the lower never below 0
	Sigma     float64
	Signals   []string // names of the run rules that fire here
}

// RateChart is a u-chart: events per flight around a centre line, with limits
// that follow the number of flights of each period.
type RateChart struct {
	Centre float64
	Points []ChartPoint
}

// NewRateChart charts the rates of periods. The centre is the rate of the first
// baseline periods together, of all when baseline is 0.
func NewRateChart(rates []Rate, baseline int) RateChart {
	if baseline <= 0 || baseline > len(rates) {
		baseline = len(rates)
	}
	var events, flights float64
	for _, r := range rates[:baseline] {
		events += float64(r.Events)
		flights += r.Flights
	}
	c := RateChart{Points: make([]ChartPoint, len(rates))}
	if flights > 0 {
		c.Centre = events / flights
	}
	for i, r := range rates {
		p := &c.Points[i]
		p.Rate, p.Sigma = math.NaN(), math.NaN()
		if r.Flights > 0 {
			p.Rate, p.Sigma = float64(r.Events)/r.Flights, math.Sqrt(c.Centre/r.Flights)
			p.Low, p.High = max(0, c.Centre-3*p.Sigma), c.Centre+3*p.Sigma
		}
	}
	c.runRules()
	return c
}

// Names of the run rules, the zone tests of the Western Electric handbook of
// 1956 (from memory), applied to both sides of the centre line.
const (
	BeyondThree   = "one point beyond three sigma"
	TwoOfThree    = "two of three points in a row beyond two sigma"
	FourOfFive    = "four of five points in a row beyond one sigma"
	EightTogether = "eight points in a row on one side"
)

var zoneTests = []struct {
	name     string
	need, of int
	distance float64 // sigma
}{
	{BeyondThree, 1, 1, 3}, {TwoOfThree, 2, 3, 2}, {FourOfFive, 4, 5, 1}, {EightTogether, 8, 8, 0},
}

// runRules notes at each point the rules that it completes. A point without
// flights interrupts a run.
func (c *RateChart) runRules() {
	for i := range c.Points {
		for _, test := range zoneTests {
			if c.completes(i, test.need, test.of, test.distance, 1) || c.completes(i, test.need, test.of, test.distance, -1) {
				c.Points[i].Signals = append(c.Points[i].Signals, test.name)
			}
		}
	}
}

func (c *RateChart) completes(last, need, of int, distance, side float64) bool {
	beyond := func(p ChartPoint) bool {
		off := side * (p.Rate - c.Centre)
		return p.Sigma > 0 && off > distance*p.Sigma
	}
	if !beyond(c.Points[last]) {
		return false
	}
	n := 0
	for i := last; i > last-of && i >= 0 && !math.IsNaN(c.Points[i].Rate); i-- {
		if beyond(c.Points[i]) {
			n++
		}
	}
	return n >= need
}

// AveragePoint is one period of a chart of the weighted moving average.
type AveragePoint struct{ Average, Low, High float64 }

// Weight of the newest period in MovingAverage, and the width of its limits in
// sigma. Together they leave on average 500 periods between false signals of one
// chart (J. Lucas and M. Saccucci, Technometrics 32, 1990, from memory).
const (
	AverageWeight = 0.2
	AverageWidth  = 2.962
)

// MovingAverage is the exponentially weighted moving average of a chart's rates,
// which shows a slow drift before any single period stands out. It starts at the
// centre line; a period without flights leaves it where it was.
func MovingAverage(c RateChart) []AveragePoint {
	points := make([]AveragePoint, len(c.Points))
	average, variance := c.Centre, 0.0
	for i, p := range c.Points {
		if !math.IsNaN(p.Rate) {
			average += AverageWeight * (p.Rate - average)
			variance = math.Pow(AverageWeight*p.Sigma, 2) + math.Pow(1-AverageWeight, 2)*variance
		}
		off := AverageWidth * math.Sqrt(variance)
		points[i] = AveragePoint{average, max(0, c.Centre-off), c.Centre + off}
	}
	return points
}
