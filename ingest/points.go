package ingest

import (
	"math"
	"sort"

	"downlock/ingest/accuracy"
	"downlock/schemas"
)

// alongPoints returns the value at x of straight lines through points that rise in
// their first numbers. The first and the last line go on beyond the ends.
func alongPoints(points [][2]float64, x float64) float64 {
	i := sort.Search(len(points)-2, func(i int) bool { return x < points[i+1][0] })
	a, b := points[i], points[i+1]
	switch x { // to the bit
	case a[0]:
		return a[1]
	case b[0]:
		return b[1]
	}
	part := (x - a[0]) / (b[0] - a[0])
	rise := float64(part * (b[1] - a[1])) // the conversion keeps every machine from fusing the two steps
	return a[1] + rise
}

// writtenStep returns the largest step in the parameter's unit that the step the numbers
// are written in can make, where points make several of it; else 0.
func writtenStep(numbers []float64, source *schemas.Source, parameter schemas.Parameter) float64 {
	if source.Points == nil {
		return 0
	}
	steepest := 0.0
	for i := 1; i < len(source.Points); i++ {
		a, b := source.Points[i-1], source.Points[i]
		steepest = max(steepest, math.Abs((b[1]-a[1])/(b[0]-a[0])))
	}
	return accuracy.Resolution(numbers) * steepest * unitFactor(source, parameter)
}
