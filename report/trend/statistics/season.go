package statistics

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Season is the result of a Poisson regression of monthly counts on a steady drift and
// one wave a year.
type Season struct {
	DriftPerYear float64  // factor the rate changes by in a year, the season taken out
	Drift        Interval // of that factor, 95 %
	Swing        float64  // rate at the peak over the rate without a season
	Peak         int      // calendar month of the peak, 1 to 12
	P            float64  // of the season, by the likelihood ratio, drift allowed for
}

// fewestForSeason is the number of events below which the chi-square
// approximation of the likelihood ratio is not to be trusted.
const fewestForSeason = 50

// The terms of the regression of a season, in the order of its coefficients.
const (
	level = iota
	slope
	cosine
	sine
)

// FitSeason fits log(rate) = a + b·month + c·cos + d·sin over months in a row,
// the first of which is the calendar month first (1 to 12). ok is false with
// fewer than 24 months with flights, too few events, or where it does not
// converge.
func FitSeason(rates []Rate, first int) (s Season, ok bool) {
	var counts, offsets, times []float64
	var angles []float64
	total := 0
	for i, r := range rates {
		if r.Flights <= 0 {
			continue
		}
		angle := 2 * math.Pi * float64((first-1+i)%12) / 12
		total += r.Events
		counts, offsets = append(counts, float64(r.Events)), append(offsets, math.Log(r.Flights))
		times, angles = append(times, (float64(i)-float64(len(rates))/2)/12), append(angles, angle)
	}
	if len(counts) < 24 || total < fewestForSeason {
		return s, false
	}
	steady := make([][]float64, len(counts))
	waving := make([][]float64, len(counts))
	for i := range counts {
		steady[i] = []float64{level: 1, slope: times[i]}
		waving[i] = []float64{level: 1, slope: times[i], cosine: math.Cos(angles[i]), sine: math.Sin(angles[i])}
	}
	_, _, without, ok1 := poissonRegression(counts, offsets, steady)
	b, sd, with, ok2 := poissonRegression(counts, offsets, waving)
	if !ok1 || !ok2 {
		return s, false
	}
	s.DriftPerYear = math.Exp(b[slope])
	s.Drift = Interval{math.Exp(b[slope] - 1.96*sd[slope]), math.Exp(b[slope] + 1.96*sd[slope])}
	s.Swing = math.Exp(math.Hypot(b[cosine], b[sine]))
	peak := math.Atan2(b[sine], b[cosine]) / (2 * math.Pi) * 12
	s.Peak = (int(math.Round(peak))+12)%12 + 1
	s.P = distuv.ChiSquared{K: 2}.Survival(max(0, 2*(with-without)))
	return s, true
}

// poissonRegression finds the coefficients that make the counts most likely, by
// Newton's method, with their standard deviations and the log-likelihood (less
// what does not depend on them).
func poissonRegression(counts, offsets []float64, rows [][]float64) (b, sd []float64, likelihood float64, ok bool) {
	k := len(rows[0])
	b = make([]float64, k)
	var events, flights float64
	for i := range counts {
		events += counts[i]
		flights += math.Exp(offsets[i])
	}
	b[level] = math.Log(events / flights)
	for range 50 {
		gradient, information := mat.NewVecDense(k, nil), mat.NewSymDense(k, nil)
		likelihood = 0
		for i, row := range rows {
			log := offsets[i]
			for j, x := range row {
				log += b[j] * x
			}
			mean := math.Exp(log)
			likelihood += counts[i]*log - mean
			for j, x := range row {
				gradient.SetVec(j, gradient.AtVec(j)+(counts[i]-mean)*x)
				for l := j; l < k; l++ {
					information.SetSym(j, l, information.At(j, l)+mean*x*row[l])
				}
			}
		}
		var factor mat.Cholesky
		if !factor.Factorize(information) {
			return nil, nil, 0, false
		}
		var step mat.VecDense
		if factor.SolveVecTo(&step, gradient) != nil {
			return nil, nil, 0, false
		}
		for j := range b {
			b[j] += step.AtVec(j)
		}
		if mat.Norm(&step, 2) < 1e-9 {
			var inverse mat.SymDense
			if factor.InverseTo(&inverse) != nil {
				return nil, nil, 0, false
			}
			for j := range b {
				sd = append(sd, math.Sqrt(inverse.At(j, j)))
			}
			return b, sd, likelihood, true
		}
	}
	return nil, nil, 0, false
}
