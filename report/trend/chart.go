package trend

import (
	"html/template"
	"math"

	"downlock/report/svg"
	"downlock/report/trend/statistics"
)

// Measures of a chart, in the units of its view box.
const (
	chartWidth, chartHeight = 560.0, 162.0
	plotLeft, plotRight     = 46.0, 552.0
	plotTop, plotBottom     = 20.0, 138.0
)

// plot is a chart over the months, begun.
type plot struct {
	*svg.Canvas
	x, y svg.Scale
	over int // months that are over
}

// drawing is a chart with the values it shows.
type drawing struct {
	SVG    template.HTML
	Values chartValues
}

// newPlot draws the axes and shades the recent period.
func (t *Trend) newPlot(label, unit string, low, high float64) *plot {
	months := len(t.Tally.Months)
	p := &plot{svg.New(chartWidth, chartHeight, "chart", label),
		svg.Scale{Low: -0.5, High: float64(months) - 0.5, From: plotLeft, To: plotRight},
		svg.Scale{Low: low, High: high, From: plotBottom, To: plotTop}, t.over()}
	left, right := p.x.At(float64(t.Recent.First)-0.5), p.x.At(float64(t.Recent.Last)+0.5)
	p.Rect(left, plotTop, right-left, plotBottom-plotTop, "recent")
	if name := t.NotOver(); name != "" {
		p.Text(plotRight, 10, "value", "hollow: "+name+", not over")
	}
	p.yAxis(p.y, plotRight, unit)
	for m, month := range t.Tally.Months {
		p.monthTick(m, month.Name, months)
	}
	p.Line(plotLeft, plotBottom, plotRight, plotBottom, "axis")
	return p
}

// yAxis draws ticks with their lines, and their unit above them.
func (p *plot) yAxis(y svg.Scale, right float64, unit string) {
	step := svg.RoundStep((y.High - y.Low) / 4)
	for _, v := range svg.Ticks(y.Low, y.High, step) {
		p.Line(plotLeft, y.At(v), right, y.At(v), "grid")
		p.Text(plotLeft-4, y.At(v)+3, "value", onAxis(v, step))
	}
	p.Text(4, 10, "in-left", unit)
}

// Numbers of months up to which every one, and every third, is named.
const (
	mostNamed  = 12
	mostThirds = 36
)

// monthTick names a month below the axis: a January by its year, others by their
// number.
func (p *plot) monthTick(m int, name string, months int) {
	at, calendar := p.x.At(float64(m)), calendarMonth(name)
	switch {
	case calendar == 1:
		p.Line(p.x.At(float64(m)-0.5), plotTop, p.x.At(float64(m)-0.5), plotBottom+3, "grid")
		p.Text(at, plotBottom+13, "tick strong", name[:4])
	case m == 0:
		p.Text(max(at, plotLeft+16), plotBottom+13, "tick strong", name)
	case m == 1 && months > mostNamed: // beside the name of the first
	case months <= mostNamed, months <= mostThirds && calendar%3 == 1:
		p.Line(at, plotBottom, at, plotBottom+3, "axis")
		p.Text(at, plotBottom+13, "tick", name[5:])
	}
}

// line draws values over the months, broken where there is none.
func (p *plot) line(class string, at func(m int) float64, months int) {
	path := &svg.Path{}
	for m := range months {
		if v := at(m); !math.IsNaN(v) {
			path.LineTo(p.x.At(float64(m)), p.y.Clamped(v))
		} else {
			path.Lift()
		}
	}
	p.Path(path, class)
}

// band fills the area between two lines.
func (p *plot) band(class string, low, high func(m int) float64, months int) {
	path := &svg.Path{}
	for m := range months {
		if l, h := low(m), high(m); !math.IsNaN(l) && !math.IsNaN(h) {
			left, right := p.x.At(float64(m)-0.5), p.x.At(float64(m)+0.5)
			path.MoveTo(left, p.y.Clamped(l))
			path.LineTo(right, p.y.Clamped(l))
			path.LineTo(right, p.y.Clamped(h))
			path.LineTo(left, p.y.Clamped(h))
			path.LineTo(left, p.y.Clamped(l))
		}
	}
	p.Path(path, class)
}

// hollow draws over the dots of months, so that one that is not over is a ring.
func (p *plot) hollow(at func(m int) float64, months int) {
	rings := &svg.Path{}
	for m := p.over; m < months; m++ {
		if v := at(m); !math.IsNaN(v) {
			rings.Dot(p.x.At(float64(m)), p.y.Clamped(v))
		}
	}
	p.Path(rings, "hollow")
}

func (p *plot) html() template.HTML { return template.HTML(p.Bytes()) } // package svg escapes

// ruleCharts are the chart and the moving average of one rule.
func (t *Trend) ruleCharts(rule int) (statistics.RateChart, []statistics.AveragePoint) {
	rates := make([]statistics.Rate, len(t.Tally.Months))
	for m, c := range t.monthly[rule] {
		rates[m] = c.rate()
	}
	chart := statistics.NewRateChart(rates, t.Recent.First)
	for m := t.over(); m < len(chart.Points); m++ {
		chart.Points[m].Signals = nil
	}
	return chart, statistics.MovingAverage(chart)
}

// drawRates draws events per thousand opportunities with their intervals, the
// limits that follow their number, and the moving average.
func (t *Trend) drawRates(rule int, chart statistics.RateChart, averages []statistics.AveragePoint) drawing {
	months := len(chart.Points)
	intervals := make([]statistics.Interval, months)
	top := 0.0
	for m, c := range t.monthly[rule] {
		intervals[m] = c.rate().Interval(Confidence)
		if r := chart.Points[m]; !math.IsNaN(r.Rate) {
			top = max(top, 1000*r.Rate*1.1, 1000*r.High*1.05, min(intervals[m].High, 2000*r.High))
		}
	}
	if top == 0 {
		top = 1
	}
	p := t.newPlot(capital(t.Nouns())+" per 1,000 "+t.Per()+" by month: "+t.title(t.Rules[rule]), t.Nouns()+" per 1,000 "+t.Per(), 0, top)
	p.steps("limits", func(m int) float64 { return 1000 * chart.Points[m].High }, chart)
	p.steps("limits", func(m int) float64 { return 1000 * chart.Points[m].Low }, chart)
	p.Line(plotLeft, p.y.At(1000*chart.Centre), plotRight, p.y.At(1000*chart.Centre), "centre")
	p.line("average", func(m int) float64 { return 1000 * averages[m].Average }, p.over)
	p.points(t.monthly[rule], chart, intervals)
	p.hollow(func(m int) float64 { return 1000 * chart.Points[m].Rate }, months)
	return drawing{p.html(), t.rateValues(p, rule, chart)}
}

// steps draws a limit that holds for a month at a time.
func (p *plot) steps(class string, at func(m int) float64, chart statistics.RateChart) {
	path := &svg.Path{}
	for m, point := range chart.Points {
		if math.IsNaN(point.Rate) || at(m) <= 0 { // a limit at nothing is none
			path.Lift()
			continue
		}
		path.LineTo(p.x.At(float64(m)-0.5), p.y.Clamped(at(m)))
		path.LineTo(p.x.At(float64(m)+0.5), p.y.Clamped(at(m)))
	}
	p.Path(path, class)
}

// points draws the rates and their intervals, which end in a bar where the chart
// does not end before. A month with a signal is a diamond, unless its number is
// small.
func (p *plot) points(months []count, chart statistics.RateChart, intervals []statistics.Interval) {
	whiskers, dots, signals := &svg.Path{}, &svg.Path{}, &svg.Path{}
	for m, point := range chart.Points {
		if math.IsNaN(point.Rate) {
			continue
		}
		x, y := p.x.At(float64(m)), p.y.Clamped(1000*point.Rate)
		whiskers.MoveTo(x, p.y.Clamped(intervals[m].Low))
		whiskers.LineTo(x, p.y.Clamped(intervals[m].High))
		for _, end := range []float64{intervals[m].Low, intervals[m].High} {
			if end <= p.y.High {
				whiskers.MoveTo(x-2, p.y.At(end))
				whiskers.LineTo(x+2, p.y.At(end))
			}
		}
		if len(point.Signals) == 0 || !enough(months[m], chart.Centre) {
			dots.Dot(x, y)
			continue
		}
		diamond(signals, x, y)
	}
	p.Path(whiskers, "whisker")
	p.Path(dots, "rates")
	p.Path(signals, "signals")
}

// diamond marks points that stand out by its shape, so that colour is not needed.
func diamond(p *svg.Path, x, y float64) {
	const half = 4.0
	p.MoveTo(x, y-half)
	for _, corner := range [][2]float64{{half, 0}, {0, half}, {-half, 0}, {0, -half}} {
		p.LineTo(x+corner[0], y+corner[1])
	}
}
