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

// ending is where an approach ends, and how.
type ending struct {
	at      Time
	outcome ApproachOutcome
}

// findApproaches finds go-arounds and the approaches that end in them, in a
// touch-and-go or in the landing.
func (f *Flight) findApproaches(air []stay) {
	var endings []ending
	for i, a := range air {
		times, heights := f.height.Samples(readings.Spans{a.span()})
		for _, i := range turningPoints(heights) {
			lowest := extremeTime(times, i, a.span(), f.height.Accuracy(), func(i int) float64 { return heights[i] })
			f.GoArounds = append(f.GoArounds, lowest)
			endings = append(endings, ending{lowest, EndsInGoAround})
		}
		switch {
		case i < len(air)-1:
			endings = append(endings, ending{a.ends, EndsInTouchAndGo})
		case !f.EndsInAir:
			endings = append(endings, ending{a.ends, EndsInLanding})
		default:
			if h, ok := f.height.At(a.ends.Nominal); ok && h < approachHeight {
				endings = append(endings, ending{a.ends, EndsWithFlight})
			}
		}
	}
	sort.Slice(endings, func(i, j int) bool { return endings[i].at.Nominal < endings[j].at.Nominal })
	falls := f.crossings(readings.Below, approachHeight)
	from := air[0].begins.Nominal
	for _, e := range endings {
		between := stretch(from, e.at.Nominal)
		begins, ok := lastOf(falls, between)
		if !ok {
			begins = highestTime(f.height, between)
		}
		if begins.Nominal < e.at.Nominal && (e.outcome != EndsWithFlight || f.descends(begins.Nominal, e.at.Nominal)) {
			f.Approaches = append(f.Approaches, Approach{stretch(begins.Nominal, e.at.Nominal), begins, e.at, e.outcome})
		}
		from = e.at.Nominal
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
