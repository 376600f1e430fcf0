package desk

import (
	"html/template"
	"math"
	"strconv"
	"strings"

	"downlock/report/svg"
)

func plainWords(name string) string { return strings.NewReplacer("_", " ", "-", " ").Replace(name) }

// share words a part of a whole: 12 %, under 1 %, none.
func share(n, of int) string {
	switch percent := 100 * float64(n) / float64(of); {
	case n == 0:
		return "none"
	case n == of:
		return "all"
	case percent < 1:
		return "under 1 %"
	case percent > 99:
		return "over 99 %"
	default:
		return strconv.Itoa(int(math.Round(percent))) + " %"
	}
}

// quantile is the value below which a share of sorted values lies.
func quantile(sorted []float64, q float64) float64 {
	return sorted[int(math.Round(q*float64(len(sorted)-1)))]
}

// The drawing of a spread.
const (
	spreadWidth  = 320.0
	spreadHeight = 34.0
	spreadEdge   = 6.0
)

// drawSpread draws where values lie among sorted ones: a band from the 5th to the 95th of
// a hundred, a darker one of the middle half, the median, and a mark for each value.
func drawSpread(label string, here, sorted []float64) template.HTML {
	low, high := sorted[0], sorted[len(sorted)-1]
	for _, x := range here {
		low, high = min(low, x), max(high, x)
	}
	if high == low {
		high = low + 1
	}
	at := func(x float64) float64 { return spreadEdge + (x-low)/(high-low)*(spreadWidth-2*spreadEdge) }
	c := svg.New(spreadWidth, spreadHeight, "chart spread", label)
	c.Line(spreadEdge, 12, spreadWidth-spreadEdge, 12, "axis")
	band := func(from, to float64, class string) {
		a, b := at(quantile(sorted, from)), at(quantile(sorted, to))
		c.Rect(a, 6, b-a, 12, class)
	}
	band(0.05, 0.95, "wide")
	band(0.25, 0.75, "quartiles")
	c.Line(at(quantile(sorted, 0.5)), 4, at(quantile(sorted, 0.5)), 20, "median")
	for _, x := range here {
		c.Line(at(x), 1, at(x), 23, "here")
	}
	c.Text(spreadEdge, 32, "start", decimals(math.Round(low*100)/100))
	c.Text(spreadWidth-spreadEdge, 32, "end", decimals(math.Round(high*100)/100))
	return template.HTML(c.Bytes())
}
