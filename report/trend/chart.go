package trend

import (
	"cmp"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/report/svg"
	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
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
}

// newPlot draws the axes and shades the recent period.
func (t *Trend) newPlot(label, unit string, low, high float64) *plot {
	months := len(t.Tally.Months)
	p := &plot{svg.New(chartWidth, chartHeight, "chart", label),
		svg.Scale{Low: -0.5, High: float64(months) - 0.5, From: plotLeft, To: plotRight},
		svg.Scale{Low: low, High: high, From: plotBottom, To: plotTop}}
	left := p.x.At(float64(t.Recent.First) - 0.5)
	p.Rect(left, plotTop, plotRight-left, plotBottom-plotTop, "recent")
	p.yAxis(p.y, plotRight, unit)
	for m, month := range t.Tally.Months {
		p.monthTick(m, month.Name, months)
	}
	p.Line(plotLeft, plotBottom, plotRight, plotBottom, "axis")
	return p
}

// yAxis draws ticks with their lines, and says above them what they are in.
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

// band fills what lies between two lines.
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

func (p *plot) html() template.HTML { return template.HTML(p.Bytes()) } // package svg escapes

// ruleCharts are the chart and the moving average of one rule.
func (t *Trend) ruleCharts(rule int) (statistics.RateChart, []statistics.AveragePoint) {
	rates := make([]statistics.Rate, len(t.Tally.Months))
	for m, c := range t.monthly[rule] {
		rates[m] = c.rate()
	}
	chart := statistics.NewRateChart(rates, t.Recent.First)
	return chart, statistics.MovingAverage(chart)
}

// drawRates draws events per thousand flights with their intervals, the limits
// that follow the flights, and the moving average.
func (t *Trend) drawRates(rule int, chart statistics.RateChart, averages []statistics.AveragePoint) template.HTML {
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
	p := t.newPlot("Events per 1,000 flights by month: "+t.title(t.Rules[rule]), "events per 1,000 flights", 0, top)
	p.steps("limits", func(m int) float64 { return 1000 * chart.Points[m].High }, chart)
	p.steps("limits", func(m int) float64 { return 1000 * chart.Points[m].Low }, chart)
	p.Line(plotLeft, p.y.At(1000*chart.Centre), plotRight, p.y.At(1000*chart.Centre), "centre")
	p.line("average", func(m int) float64 { return 1000 * averages[m].Average }, months)
	p.points(t.monthly[rule], chart, intervals)
	return p.html()
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

// diamond marks what stands out by its shape, so that colour is not needed.
func diamond(p *svg.Path, x, y float64) {
	const half = 4.0
	p.MoveTo(x, y-half)
	for _, corner := range [][2]float64{{half, 0}, {0, half}, {-half, 0}, {0, -half}} {
		p.LineTo(x+corner[0], y+corner[1])
	}
}

// drawAudit draws how far a warning agrees with its criteria.
func (t *Trend) drawAudit(warning int) template.HTML {
	at := func(m int) float64 { return 100 * t.Tally.Months[m].Audits[warning].Agreement() }
	low := 100.0
	for m := range t.Tally.Months {
		if v := at(m); !math.IsNaN(v) {
			low = min(low, math.Floor(v/10)*10)
		}
	}
	p := t.newPlot("Agreement by month, percent: "+t.title(t.Warnings[warning]), "agreement, %", min(low, 90), 100)
	p.line("median", at, len(t.Tally.Months))
	dots := &svg.Path{}
	for m := range t.Tally.Months {
		if v := at(m); !math.IsNaN(v) {
			dots.Dot(p.x.At(float64(m)), p.y.At(v))
		}
	}
	p.Path(dots, "rates")
	return p.html()
}

// drawMeasurement draws quantiles by month; on few flights the median only.
func (t *Trend) drawMeasurement(n int) template.HTML {
	months := t.spreads[n]
	quantile := func(of func(spread) float64) func(int) float64 {
		return func(m int) float64 {
			if months[m].N < Fewest {
				return math.NaN()
			}
			return of(months[m])
		}
	}
	p5, p95 := quantile(func(s spread) float64 { return s.P5 }), quantile(func(s spread) float64 { return s.P95 })
	low, high := math.Inf(1), math.Inf(-1)
	for m, s := range months {
		for _, v := range []float64{p5(m), s.Median, p95(m)} {
			if s.N > 0 && !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	switch {
	case math.IsInf(low, 0):
		low, high = 0, 1
	case low == high:
		low, high = low-1, high+1
	}
	margin := (high - low) * 0.08
	p := t.newPlot("Quantiles by month: "+t.title(t.Measured[n].Name), strings.TrimPrefix(t.Measured[n].Unit, "1"), low-margin, high+margin)
	p.band("wide", p5, p95, len(months))
	p.band("quartiles", quantile(func(s spread) float64 { return s.Lower }), quantile(func(s spread) float64 { return s.Upper }), len(months))
	p.line("median", func(m int) float64 { return months[m].Median }, len(months))
	few := &svg.Path{}
	for m, s := range months {
		if s.N > 0 && s.N < Fewest {
			few.Dot(p.x.At(float64(m)), p.y.At(s.Median))
		}
	}
	p.Path(few, "rates")
	return p.html()
}

// drawGroups draws the recent medians of the individual aircraft on one line,
// those that have a finding with their names.
func (t *Trend) drawGroups(n int) template.HTML {
	var of []*shift
	low, high := math.Inf(1), math.Inf(-1)
	for i := range t.shifts {
		s := &t.shifts[i]
		if s.Measurement == n && s.Group != nil && !s.Periods && s.First.N > 0 && s.Group.Column == tally.RegistrationColumn {
			of = append(of, s)
			low, high = min(low, s.First.Median), max(high, s.First.Median)
		}
	}
	if len(of) < 2 {
		return ""
	}
	if low == high {
		low, high = low-1, high+1
	}
	c := svg.New(chartWidth, 54, "chart", "Medians of the aircraft: "+t.title(t.Measured[n].Name))
	x := svg.Scale{Low: low - (high-low)*0.08, High: high + (high-low)*0.12, From: plotLeft, To: plotRight}
	step := svg.RoundStep((x.High - x.Low) / 6)
	for _, v := range svg.Ticks(x.Low, x.High, step) {
		c.Line(x.At(v), 18, x.At(v), 36, "grid")
		c.Text(x.At(v), 48, "tick", onAxis(v, step))
	}
	c.Line(plotLeft, 36, plotRight, 36, "axis")
	slices.SortStableFunc(of, func(a, b *shift) int { return cmp.Compare(a.First.Median, b.First.Median) })
	marks, far := &svg.Path{}, &svg.Path{}
	free := 0.0 // where the next name has room
	for _, s := range of {
		at := x.At(s.First.Median)
		if s.Outside && s.tested() && s.Corrected < t.Level && s.noteworthy() {
			diamond(far, at, 28)
			if at >= free {
				c.Text(at, 13, "tick strong", s.Group.Value)
				free = at + 70
			}
		} else {
			marks.Dot(at, 28)
		}
	}
	c.Path(marks, "aircraft")
	c.Path(far, "signals")
	return template.HTML(c.Bytes())
}
