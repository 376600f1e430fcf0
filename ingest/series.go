package ingest

import (
	"cmp"
	"math"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/schemas"
)

// gapIntervals is how many typical intervals may lie between samples before
// the time between is a gap: two samples in a row may be lost.
const gapIntervals = 3

// series makes the Series of a channel: samples by time, in the canonical unit,
// without the implausible ones. The channel's arrays become the Arrow buffers.
func (c *channel) series() (s *Series, t timing) {
	s = &Series{Parameter: c.parameter, Column: c.source.Name(), Accuracy: c.source.Accuracy, Dropped: Dropped{Token: c.tokens}}
	for _, one := range c.samples {
		s.Samples = append(s.Samples, one.column)
	}
	if c.spacing == nil {
		t = c.separate()
	}
	if c.hold.stride > 1 {
		c.thin()
	}
	s.setHold(c.hold, c.source)
	if c.meaning.computed != nil && c.meaning.computed.levels {
		s.undecided = c.settle()
	}
	if c.numeric {
		s.Step = writtenStep(c.numbers, c.source, c.parameter)
		c.numbers = convert(c.numbers, c.source, c.parameter, !c.borrowed)
		s.Dropped.Range = c.dropImplausible()
		s.Dropped.Spike = c.dropSpikes(max(t.width, c.width))
	}
	if c.spacing == nil {
		c.spacing = spacingOf(c.times)
	}
	s.Interval, s.Longest = c.spacing.typical, c.spacing.longest
	s.Gap = c.gap(s.Interval)
	s.setSamples(c)
	return s, t
}

// gap is the longest interval between samples that is not a gap, by the typical one.
func (c *channel) gap(typical float64) float64 {
	if c.source.AllowedGap > 0 {
		return c.source.AllowedGap
	}
	return max(gapIntervals*typical, c.parameter.LongestInterval)
}

// setSamples makes the channel's arrays the series' own.
func (s *Series) setSamples(c *channel) {
	s.Times = float64Array(c.times)
	if c.numeric {
		s.Values = float64Array(c.numbers)
	} else {
		s.Values = uint8Array(c.codes)
	}
}

func isRising(times []float64) bool {
	for i := 1; i < len(times); i++ {
		if times[i] <= times[i-1] {
			return false
		}
	}
	return true
}

// sortByTime sorts, keeping the order of the file among equal times, and returns the
// old places of the samples.
func (c *channel) sortByTime() (order []int) {
	order = make([]int, len(c.times))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(c.times[a], c.times[b]) })
	c.times = permuted(c.times, order)
	if c.numeric {
		c.numbers = permuted(c.numbers, order)
	} else {
		c.codes = permuted(c.codes, order)
	}
	return order
}

func permuted[T any](values []T, order []int) []T {
	out := make([]T, len(order))
	for i, from := range order {
		out[i] = values[from]
	}
	return out
}

// unitFactor is the factor from the source's unit to the parameter's: 1 for detents and
// for a source without a sample, whose unit is not known. newMapping has refused units
// without one.
func unitFactor(source *schemas.Source, parameter schemas.Parameter) float64 {
	if factor, err := schemas.UnitFactor(source.Unit, parameter.Unit); err == nil {
		return factor
	}
	return 1
}

// convert returns the numbers in the canonical unit: points, or scale and offset, then
// unit. It changes them in place or not at all.
func convert(numbers []float64, source *schemas.Source, parameter schemas.Parameter, inPlace bool) []float64 {
	factor := unitFactor(source, parameter)
	scale, offset := source.Scale, source.Offset
	if scale == 0 {
		scale = 1
	}
	if scale == 1 && offset == 0 && factor == 1 && source.Points == nil {
		return numbers
	}
	out := numbers
	if !inPlace {
		out = make([]float64, len(numbers))
	}
	if source.Points != nil {
		for i, v := range numbers {
			out[i] = tidy(alongPoints(source.Points, v) * factor)
		}
		return out
	}
	for i, v := range numbers {
		scaled := float64(v * scale) // the conversion keeps every machine from fusing the two steps
		out[i] = tidy((scaled + offset) * factor)
	}
	return out
}

// tidy rounds a converted number to a thousand-millionth: 762 m are 2500 ft, where the
// product is a little less, and a limit of 2500 ft is reached.
func tidy(v float64) float64 {
	if math.Abs(v) < 1e6 {
		return math.RoundToEven(v*1e9) / 1e9
	}
	return v
}

func (c *channel) dropImplausible() int {
	low, high := c.parameter.Range[0], c.parameter.Range[1]
	if c.source.Range != nil {
		low, high = c.source.Range[0], c.source.Range[1]
	}
	for _, v := range c.numbers {
		if v < low || v > high {
			return c.filter(func(i int) bool { return low <= c.numbers[i] && c.numbers[i] <= high })
		}
	}
	return 0
}

// dropSpikes drops single samples that leave and return faster than the
// parameter can change, while the samples on both sides agree with each other.
// The one before is the last one kept, so that a chattering sensor is held to
// its first level. Two samples may lie further apart by loose, in s, where their times
// are spread: a rate over such a time shows nothing.
func (c *channel) dropSpikes(loose float64) int {
	rate := c.parameter.MaxRate
	if rate == 0 || !c.jumps(rate) {
		return 0
	}
	var before int // the last one kept
	return c.filter(func(i int) bool {
		if i == 0 || i+1 == len(c.times) || !c.isSpike(before, i, i+1, rate, loose) {
			before = i
			return true
		}
		return false
	})
}

// jumps reports whether any two samples in a row change faster than rate.
func (c *channel) jumps(rate float64) bool {
	for i := 1; i < len(c.times); i++ {
		if math.Abs(c.numbers[i]-c.numbers[i-1]) > rate*(c.times[i]-c.times[i-1]) {
			return true
		}
	}
	return false
}

// isSpike needs no look at directions: neighbours of two fast steps in one direction do not agree.
func (c *channel) isSpike(before, i, after int, rate, loose float64) bool {
	out, back := c.numbers[i]-c.numbers[before], c.numbers[after]-c.numbers[i]
	return math.Abs(out) > rate*(c.times[i]-c.times[before]+loose) &&
		math.Abs(back) > rate*(c.times[after]-c.times[i]+loose) &&
		math.Abs(c.numbers[after]-c.numbers[before]) <= rate*(c.times[after]-c.times[before])
}

// filter keeps the samples keep says, in place, and counts the others.
func (c *channel) filter(keep func(i int) bool) (dropped int) {
	n := len(c.times)
	c.chosen = slices.Grow(c.chosen[:0], n)[:n] // decided first: keep looks at samples in their old places
	chosen := c.chosen
	for i := range chosen {
		chosen[i] = keep(i)
	}
	if !slices.Contains(chosen, false) {
		return 0
	}
	c.own()
	c.spacing = nil
	kept := 0
	for i := range chosen {
		if !chosen[i] {
			continue
		}
		c.times[kept] = c.times[i]
		if c.numeric {
			c.numbers[kept] = c.numbers[i]
		} else {
			c.codes[kept] = c.codes[i]
		}
		kept++
	}
	c.truncate(kept)
	return n - kept
}

// spacing is the median, to a microsecond, and the longest interval between samples, in
// seconds; both 0 with fewer than two samples.
type spacing struct{ typical, longest float64 }

func spacingOf(times []float64) *spacing {
	if len(times) < 2 {
		return &spacing{}
	}
	interval := func(i int) int64 { return int64(min((times[i+1]-times[i])*1e6+0.5, 1e18)) }
	// Nearly always the first interval is that of the majority, so the median.
	first, same, longest := interval(0), 0, 0.0
	from, to := max(1, float64(first)), float64(first)+1 // before the fraction is cut off
	for i := range len(times) - 1 {
		step := times[i+1] - times[i]
		if step > longest {
			longest = step
		}
		if micros := step*1e6 + 0.5; from <= micros && micros < to {
			same++
		}
	}
	if 2*same > len(times)-1 {
		return &spacing{float64(first) / 1e6, longest}
	}
	all := make([]int64, len(times)-1)
	for i := range all {
		all[i] = interval(i)
	}
	slices.Sort(all)
	return &spacing{float64(all[len(all)/2]) / 1e6, longest}
}

// float64Array hands the slice to Arrow without a copy.
func float64Array(values []float64) *array.Float64 {
	buffer := memory.NewBufferBytes(arrow.Float64Traits.CastToBytes(values))
	return array.NewFloat64Data(array.NewData(arrow.PrimitiveTypes.Float64, len(values), []*memory.Buffer{nil, buffer}, nil, 0, 0))
}

func uint8Array(values []uint8) *array.Uint8 {
	return array.NewUint8Data(array.NewData(arrow.PrimitiveTypes.Uint8, len(values), []*memory.Buffer{nil, memory.NewBufferBytes(values)}, nil, 0, 0))
}
