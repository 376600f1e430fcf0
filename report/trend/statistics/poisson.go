// Package statistics holds the methods fleet trends rest on: exact intervals and
// comparisons of Poisson rates, corrections for many comparisons, charts of
// counts with limits and run rules, weighted moving averages, the seasonal
// regression, and quantiles and rank sums of measurements.
//
// In go counts, exposures (numbers of flights, which need not be whole) and
// values; nothing here knows of rules, aircraft or files. Distribution functions
// are gonum's.
package statistics

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a confidence interval. High may be infinite.
type Interval struct{ Low, High float64 }

// PoissonInterval is the exact two-sided confidence interval of the mean of a
// Poisson distribution that gave so many events (F. Garwood, Biometrika 28,
// 1936): quantiles of the chi-square distribution.
func PoissonInterval(events int, confidence float64) Interval {
	tail := (1 - confidence) / 2
	var i Interval
	if events > 0 {
		i.Low = distuv.ChiSquared{K: 2 * float64(events)}.Quantile(tail) / 2
	}
	i.High = distuv.ChiSquared{K: 2*float64(events) + 2}.Quantile(1-tail) / 2
	return i
}

// Rate is so many events on so many flights, or opportunities of other kinds.
type Rate struct {
	Events  int
	Flights float64
}

// Per1000 is the rate per thousand flights; not a number without flights.
func (r Rate) Per1000() float64 { return 1000 * float64(r.Events) / r.Flights }

// Interval is the exact interval of the rate per thousand flights.
func (r Rate) Interval(confidence float64) Interval {
	i := PoissonInterval(r.Events, confidence)
	return Interval{1000 * i.Low / r.Flights, 1000 * i.High / r.Flights}
}

// Comparison is one rate held against another.
type Comparison struct {
	Ratio    float64  // first rate to second; infinite when the second has no event
	Interval Interval // of the ratio
	P        float64  // two-sided
}

// Compare tests whether two Poisson rates are the same: given the sum of both
// counts, the first is binomial (J. Przyborowski and H. Wilenski, Biometrika 31,
// 1940). P is twice the smaller tail, at most 1, so that it is below 1 minus the
// confidence exactly when the interval (Clopper and Pearson's, turned into a
// ratio) leaves out 1. Without events or flights P is 1.
func Compare(first, second Rate, confidence float64) Comparison {
	a, b := float64(first.Events), float64(second.Events)
	if a+b == 0 || first.Flights <= 0 || second.Flights <= 0 {
		return Comparison{Ratio: math.NaN(), Interval: Interval{0, math.Inf(1)}, P: 1}
	}
	share := first.Flights / (first.Flights + second.Flights)
	tail := (1 - confidence) / 2
	toRatio := func(p float64) float64 { return p / (1 - p) * second.Flights / first.Flights }
	c := Comparison{Ratio: (a / first.Flights) / (b / second.Flights), Interval: Interval{0, math.Inf(1)}}
	lower, upper := 1.0, 1.0 // P(X <= a) and P(X >= a)
	if b > 0 {
		c.Interval.High = toRatio(distuv.Beta{Alpha: a + 1, Beta: b}.Quantile(1 - tail))
		lower = distuv.Beta{Alpha: a + 1, Beta: b}.Survival(share)
	}
	if a > 0 {
		c.Interval.Low = toRatio(distuv.Beta{Alpha: a, Beta: b + 1}.Quantile(tail))
		upper = distuv.Beta{Alpha: a, Beta: b + 1}.CDF(share)
	}
	c.P = min(1, 2*min(lower, upper))
	return c
}
