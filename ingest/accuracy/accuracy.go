// Package accuracy estimates how far the truth may lie from the straight line through
// the samples of a continuous parameter. It works from the samples, for parameters
// without a stated accuracy.
//
// It estimates two quantities. The resolution is the step the values are written in;
// rounding alone may cause an error of half a step. The motion between samples shows
// in the distance of each sample from the line between its two neighbours. For a
// smooth curve the line from sample to sample is wrong by a quarter of that; in
// turbulence, or where a lever begins to move, by all of it. The package takes all of
// it, the largest of a few samples around. A level stretch therefore keeps the
// resolution, and a lever that is moved once makes only its own movement uncertain.
//
// Times are seconds; values and results are in the unit of the parameter. The package
// knows no parameters: the error of a sensor itself does not show in its samples.
package accuracy

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// Estimate sums up a parameter. Resolution is the step its values are written in.
// Motion is the distance of its moving samples from the line between their
// neighbours, exceeded by one in a hundred, without the part that rounding explains.
// Both are 0 where the samples do not tell.
type Estimate struct{ Resolution, Motion float64 }

// Accuracy returns the estimate as one figure, ±.
func (e Estimate) Accuracy() float64 { return e.Resolution/2 + e.Motion }

// String returns the accuracy with two significant digits.
func (e Estimate) String() string { return short(e.Accuracy()) }

// Evidence returns the source of the estimate in plain words; unit is that of the
// parameter, "" for none.
func (e Estimate) Evidence(unit string) string {
	if unit != "" {
		unit = " " + unit
	}
	out := "not written in steps"
	if e.Resolution > 0 {
		out = "written in steps of " + short(e.Resolution) + unit
	}
	if e.Motion > 0 {
		out += fmt.Sprintf("; up to %s%s off the line between the neighbouring samples", short(e.Motion), unit)
	}
	return out
}

// short writes a number with two significant digits and no exponent.
func short(x float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 2, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// usual is the share of the moving samples whose deviation Motion covers.
const usual = 0.99

// TooSmall reports whether a stated accuracy is less than the samples allow: less than
// half a step, or less than a quarter of their distance from the line between their
// neighbours. Even for a smooth curve the line from sample to sample is wrong by that
// quarter. It returns the estimate only if it has to make one.
func TooSmall(stated float64, times, values []float64, gap float64) (Estimate, bool) {
	const part = 0.25
	far, moving := 0, 0
	for i := 1; i+1 < len(values); i++ {
		if values[i] == values[i-1] && values[i] == values[i+1] {
			continue
		}
		moving++
		if deviation(times, values, gap, i) > stated/part {
			far++
		}
	}
	if coarse := !finerThan(2*stated, values); !coarse && float64(far) < (1-usual)*float64(moving) {
		return Estimate{}, false
	}
	e := Of(times, values, gap)
	return e, e.Resolution/2 > stated || e.Motion*part > stated
}

// finerThan reports whether two samples in a row differ by no more than a step, or
// none differ at all.
func finerThan(step float64, values []float64) bool {
	moves := false
	for i := 1; i < len(values); i++ {
		d := math.Abs(values[i] - values[i-1])
		if d > 0 && d <= step {
			return true
		}
		moves = moves || d > 0
	}
	return !moves
}

// Sum sums up a parameter from its resolution and the distances of its moving samples
// from the line between their neighbours, in any order. It changes their order.
func Sum(resolution float64, deviations []float64) Estimate {
	e := Estimate{Resolution: resolution}
	if n := len(deviations); n > 0 {
		e.Motion = beyondRounding(selected(deviations, int(usual*float64(n-1))), resolution)
	}
	return e
}

// selected returns the value that would stand at a place if the values were sorted, and
// changes their order: it sorts the part with that place alone (quickselect).
func selected(values []float64, place int) float64 {
	from, to := 0, len(values)
	for to-from > 32 {
		a, b, c := values[from], values[from+(to-from)/2], values[to-1]
		pivot := max(min(a, b), min(max(a, b), c))
		i, k := from, to-1
		for i <= k {
			for values[i] < pivot {
				i++
			}
			for values[k] > pivot {
				k--
			}
			if i <= k {
				values[i], values[k] = values[k], values[i]
				i, k = i+1, k-1
			}
		}
		switch {
		case place <= k:
			to = k + 1
		case place >= i:
			from = i
		default:
			return values[place]
		}
	}
	slices.Sort(values[from:to])
	return values[place]
}

// Of sums up the samples of a parameter. Samples further apart than gap are
// unrelated.
func Of(times, values []float64, gap float64) Estimate {
	moving := make([]float64, 0, len(values))
	for i := 1; i+1 < len(values); i++ {
		if values[i] != values[i-1] || values[i] != values[i+1] {
			moving = append(moving, deviation(times, values, gap, i))
		}
	}
	return Sum(Resolution(values), moving)
}

// reach is the number of samples to either side that tell the motion at a sample.
// They are few, so the motion is that of the time, and enough that chance does not
// hide it.
const reach = 4

// Margins returns, for each sample, the distance by which the truth may lie off the
// line through the samples. Between two samples the margin runs straight.
func Margins(times, values []float64, gap float64) []float64 {
	margins := make([]float64, len(values))
	NewEstimator(times, values, gap).Fill(margins, 0, len(values))
	return margins
}

// Estimator returns the margins of some samples at a time. They depend on the samples up to
// reach + 1 to either side, and on the resolution of all.
type Estimator struct {
	times, values   []float64
	gap, resolution float64
}

// NewEstimator keeps the slices. Samples further apart than gap are unrelated.
func NewEstimator(times, values []float64, gap float64) *Estimator {
	return &Estimator{times, values, gap, Resolution(values)}
}

// AtMost returns the largest margin of a sample that differs, like those its margin depends
// on, by no more than the spread from any other of them.
func (e *Estimator) AtMost(spread float64) float64 { return e.resolution/2 + spread }

// Fill sets the margins of the samples from one up to but not including another.
func (e *Estimator) Fill(margins []float64, from, to int) {
	first, last := max(0, from-reach), min(len(e.values), to+reach)
	if from >= to {
		return
	}
	off := make([]float64, last-first)
	fillDeviations(off, e.times, e.values, e.gap, first)
	fillLargestAround(margins[from:to], off, reach, from-first)
	for i, d := range margins[from:to] {
		margins[from+i] = e.resolution / 2
		if d > 0 {
			margins[from+i] += beyondRounding(d, e.resolution)
		}
	}
	values, least := e.values, 1.5*e.resolution
	for i := max(1, from-1); i < to && i+2 < len(values); i++ { // a jump from i to the next
		j := math.Abs(values[i+1] - values[i])
		if j <= least || !isJump(values[i-1:i+3]) || e.times[i+1]-e.times[i] > e.gap {
			continue
		}
		if i >= from {
			margins[i] = max(margins[i], j)
		}
		if i+1 < to {
			margins[i+1] = max(margins[i+1], j)
		}
	}
}

// isJump reports whether the outer two of four values have almost no part in the
// distance between the middle two. The time of the jump between those two is then
// unknown. (A creeping value moves by one step too.)
func isJump(v []float64) bool {
	const part = 0.25
	by := math.Abs(v[2] - v[1])
	return math.Abs(v[1]-v[0]) <= part*by && math.Abs(v[3]-v[2]) <= part*by
}

// fillDeviations sets the deviations of as many samples as there is room for, from the
// first one on; the first and the last sample have none.
func fillDeviations(out, times, values []float64, gap float64, first int) {
	for k := range out {
		if i := first + k; i > 0 && i+1 < len(values) {
			out[k] = deviation(times, values, gap, i)
		}
	}
}

// deviation returns the distance of a sample from the line between its neighbours, 0 where
// one of them is further away than gap.
func deviation(times, values []float64, gap float64, i int) float64 {
	before, after := times[i]-times[i-1], times[i+1]-times[i]
	if before <= gap && after <= gap {
		return math.Abs(values[i] - values[i-1] - (values[i+1]-values[i-1])*before/(before+after))
	}
	return 0
}

// beyondRounding returns the part of a deviation that rounding does not explain.
// Three values, each wrong by up to half a step, lie off a line by 0.35 of a step as
// a root mean square and by 0.8 in one case of a hundred. Anything more is motion.
func beyondRounding(deviation, resolution float64) float64 {
	const explained = 0.8
	return math.Sqrt(max(0, deviation*deviation-explained*explained*resolution*resolution))
}

// largestAround returns, for each value, the largest of the values from so many
// before it to as many after it.
func largestAround(values []float64, reach int) []float64 {
	out := make([]float64, len(values))
	fillLargestAround(out, values, reach, 0)
	return out
}

// fillLargestAround sets the largest ones around as many values as there is room for, from
// the first one on.
func fillLargestAround(out, values []float64, reach, first int) {
	largest := -1 // its index
	for k := range out {
		i := first + k
		from, to := max(0, i-reach), min(len(values)-1, i+reach)
		switch {
		case largest < from:
			largest = from
			for k := from + 1; k <= to; k++ {
				if values[k] >= values[largest] {
					largest = k
				}
			}
		case values[to] >= values[largest]:
			largest = to
		}
		out[k] = values[largest]
	}
}

// Resolution returns the step the values are written in: the largest step of which
// all their differences are multiples. It is 0 where the values have no steps.
func Resolution(values []float64) float64 {
	largest, short := 0.0, true
	for _, v := range values {
		largest = max(largest, math.Abs(v))
		short = short && float64(float32(v)) == v
	}
	decimal := func(v float64) float64 { return v }
	if short {
		decimal = ofShort
	}
	least := largest * 0x1p-44 // rounding error of the machine, with a scale and a unit
	step, perUnit := 0.0, 0.0
	before := 0.0
	if len(values) > 0 {
		before = decimal(values[0])
	}
	for i := 1; i < len(values) && step >= 0; i++ {
		if values[i] == values[i-1] {
			continue
		}
		value := decimal(values[i])
		by := math.Abs(value - before)
		before = value
		if steps := by * perUnit; step > 0 && math.Abs(steps-math.Floor(steps+0.5))*step <= least {
			continue // nearly always: a multiple, by less of an error than commonStep allows
		}
		step = commonStep(step, by, least)
		perUnit = 1 / step
	}
	return max(0, step)
}

// ofShort returns the decimal number from which a 32-bit number was made.
func ofShort(v float64) float64 {
	if math.Trunc(v) == v {
		return v
	}
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', -1, 32), 64)
	return v
}

// commonStep returns the greatest step of which two numbers are multiples, apart from
// a rounding error of least. It returns -1 where the step would be too small to tell
// from that error.
func commonStep(step, by, least float64) float64 {
	const several, many = 8, 1000
	if by <= several*least {
		return step
	}
	if step == 0 {
		return by
	}
	for {
		rest := math.Abs(by - step*math.Round(by/step))
		switch {
		case rest <= several*least*max(1, by/step):
			return step
		case rest <= many*least:
			return -1
		}
		by, step = step, rest
	}
}
