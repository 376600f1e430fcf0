package svg

import "math"

// Scale maps values from Low to High to canvas positions between From and To. Positions
// may run backwards, as heights do.
type Scale struct{ Low, High, From, To float64 }

// At returns the position of a value. A scale without extent puts every value midway.
func (s Scale) At(value float64) float64 {
	if s.High == s.Low {
		return (s.From + s.To) / 2
	}
	return s.From + (value-s.Low)/(s.High-s.Low)*(s.To-s.From)
}

// Clamped returns the position of a value, kept between From and To.
func (s Scale) Clamped(value float64) float64 {
	return s.At(min(max(value, s.Low), s.High))
}

// RoundStep returns the smallest step between ticks that is at least least and that
// people read easily: 1, 2 or 5 times a power of ten.
func RoundStep(least float64) float64 {
	if least <= 0 || math.IsInf(least, 0) || math.IsNaN(least) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= least*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// timeSteps are the steps between ticks of time, in seconds: parts and
// multiples of a minute and an hour.
var timeSteps = []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400}

// TimeStep returns the smallest step of time that is at least least, in seconds.
func TimeStep(least float64) float64 {
	for _, s := range timeSteps {
		if s >= least {
			return s
		}
	}
	return RoundStep(least)
}

// maxTicks bounds the ticks of one axis; more cannot be read.
const maxTicks = 100

// Ticks returns the multiples of step from low to high, at most maxTicks.
func Ticks(low, high, step float64) []float64 {
	if !(step > 0) || !(high >= low) || math.IsInf(high-low, 0) {
		return nil
	}
	first, last := math.Ceil(low/step-1e-9), math.Floor(high/step+1e-9)
	if last-first >= maxTicks {
		return nil
	}
	var ticks []float64
	for k := first; k <= last; k++ {
		ticks = append(ticks, k*step)
	}
	return ticks
}
