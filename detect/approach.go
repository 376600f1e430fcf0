package detect

import (
	"sort"

	"downlock/detect/readings"
)

// The figures approaches are found by: common practice, since a recording does
// not hold the initial approach fix the taxonomy starts an approach at.
const (
	approachHeight    = 3000.0 // ft; an approach begins when the height falls through it
	goAroundHeight    = 1500.0 // ft; an approach given up above it is a manoeuvre, not a go-around
	goAroundDeviation = 400.0  // ft; a descent and a climb smaller than it are part of the same approach
)

// findApproaches finds go-arounds and the approaches that end in them, in a
// touch-and-go or in the landing.
func (f *Flight) findApproaches(air readings.Spans) {
	type ending struct {
		at      float64
		outcome string
	}
	var endings []ending
	for i, a := range air {
		times, heights := f.height.Samples(readings.Spans{a})
		for _, i := range turningPoints(heights) {
			f.GoArounds = append(f.GoArounds, lowestPoint(times, heights, i, f.height.Accuracy()))
			endings = append(endings, ending{times[i], "go-around"})
		}
		switch {
		case i < len(air)-1:
			endings = append(endings, ending{a.End, "touch-and-go"})
		case !f.EndsInAir:
			endings = append(endings, ending{a.End, "landing"})
		default:
			if h, ok := f.height.At(a.End); ok && h < approachHeight {
				endings = append(endings, ending{a.End, "recording ends"})
			}
		}
	}
	sort.Slice(endings, func(i, j int) bool { return endings[i].at < endings[j].at })
	falls := f.passes(readings.Below, approachHeight)
	from := air[0].Start
	for _, e := range endings {
		between := stretch(from, e.at)
		start, ok := lastIn(falls, between)
		if !ok {
			start = highestTime(f.height, between)
		}
		if start < e.at && (e.outcome != "recording ends" || f.descends(start, e.at)) {
			f.Approaches = append(f.Approaches, Approach{stretch(start, e.at), e.outcome})
		}
		from = e.at
	}
}

// descends reports whether the height is lower at the end than at the start.
func (f *Flight) descends(start, end float64) bool {
	from, _ := f.height.At(start)
	to, known := f.height.At(end)
	return known && to < from
}

// turningPoints lists the lowest points, below goAroundHeight, between a descent
// and a climb that are both larger than goAroundDeviation, as places in heights.
func turningPoints(heights []float64) []int {
	var out []int
	if len(heights) == 0 {
		return nil
	}
	top := heights[0]
	bottom, descending := 0, false
	for i, h := range heights {
		if descending && h < heights[bottom] {
			bottom = i
		}
		switch {
		case !descending && h > top:
			top = h
		case !descending && top-h > goAroundDeviation:
			descending, bottom = true, i
		case descending && h-heights[bottom] > goAroundDeviation:
			if heights[bottom] < goAroundHeight {
				out = append(out, bottom)
			}
			descending, top = false, h
		}
	}
	return out
}

// lowestPoint is the time of the lowest sample. With heights known to within the
// accuracy, the true one may be anywhere among the samples around it that are
// not higher by twice that, and before the next one either side.
func lowestPoint(times, heights []float64, lowest int, accuracy float64) Time {
	from, to := lowest, lowest
	for from > 0 && (from == lowest || heights[from] <= heights[lowest]+2*accuracy) {
		from--
	}
	for to < len(times)-1 && (to == lowest || heights[to] <= heights[lowest]+2*accuracy) {
		to++
	}
	return Time{times[lowest], times[from], times[to]}
}
