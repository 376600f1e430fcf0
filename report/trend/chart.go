package trend

import (
	"fmt"
	"html/template"
	"math"

	"downlock/report/svg"
	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// Measures of a chart, in the units of its view box.
const (
	chartWidth, chartHeight = 560.0, 150.0
	plotLeft, plotRight     = 46.0, 552.0
	plotTop, plotBottom     = 10.0, 128.0
)

// plot is a chart over the months, begun.
type plot struct {
	*svg.Canvas
	x, y svg.Scale
}

// newPlot draws the axes and shades the recent period.
func (t *Trend) newPlot(label string, low, high float64) *plot {
	months := len(t.Tally.Months)
	p := &plot{svg.New(chartWidth, chartHeight, "chart", label),
		svg.Scale{Low: -0.5, High: float64(months) - 0.5, From: plotLeft, To: plotRight},
		svg.Scale{Low: low, High: high, From: plotBottom, To: plotTop}}
	left := p.x.At(float64(t.Recent.First) - 0.5)
	p.Rect(left, plotTop, plotRight-left, plotBottom-plotTop, "recent")
	for _, v := range svg.Ticks(low, high, svg.RoundStep((high-low)/4)) {
		p.Line(plotLeft, p.y.At(v), plotRight, p.y.At(v), "grid")
		p.Text(plotLeft-4, p.y.At(v)+3, "value", decimals(v))
	}
	every := 1 + (months-1)/40
	for m, month := range t.Tally.Months {
		switch calendar := calendarMonth(month.Name); {
		case calendar == 1, m == 0 && calendar < 11:
			p.Line(p.x.At(float64(m)-0.5), plotTop, p.x.At(float64(m)-0.5), plotBottom+3, "grid")
			p.Text(p.x.At(float64(m))+8, plotBottom+13, "tick", month.Name[:4])
		case calendar%3 == 1 && every == 1:
			p.Line(p.x.At(float64(m)), plotBottom, p.x.At(float64(m)), plotBottom+3, "axis")
		}
	}
	p.Line(plotLeft, plotBottom, plotRight, plotBottom, "axis")
	return p
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
func (t *Trend) drawRates(rule int) template.HTML {
	chart, averages := t.ruleCharts(rule)
	months := len(chart.Points)
	intervals := make([]statistics.Interval, months)
	top := 0.0
	for m, c := range t.monthly[rule] {
		intervals[m] = c.rate().Interval(Confidence)
		if r := chart.Points[m]; !math.IsNaN(r.Rate) {
			top = max(top, 1000*r.Rate*1.1, 1000*r.High*1.05, min(intervals[m].High, 1600*r.High))
		}
	}
	if top == 0 {
		top = 1
	}
	p := t.newPlot("Events per 1,000 flights by month: "+t.title(t.Rules[rule]), 0, top)
	p.band("limits", func(m int) float64 { return chart.Points[m].Low * 1000 }, func(m int) float64 { return chart.Points[m].High * 1000 }, months)
	p.Line(plotLeft, p.y.At(1000*chart.Centre), plotRight, p.y.At(1000*chart.Centre), "centre")
	whiskers, dots, signals := &svg.Path{}, &svg.Path{}, &svg.Path{}
	for m, point := range chart.Points {
		if math.IsNaN(point.Rate) {
			continue
		}
		x := p.x.At(float64(m))
		whiskers.MoveTo(x, p.y.Clamped(intervals[m].Low))
		whiskers.LineTo(x, p.y.Clamped(intervals[m].High))
		if len(point.Signals) > 0 {
			signals.Dot(x, p.y.Clamped(1000*point.Rate))
		} else {
			dots.Dot(x, p.y.Clamped(1000*point.Rate))
		}
	}
	p.Path(whiskers, "whisker")
	p.line("average", func(m int) float64 { return 1000 * averages[m].Average }, months)
	p.Path(dots, "rates")
	p.Path(signals, "signals")
	return p.html()
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
	p := t.newPlot("Agreement by month, percent: "+t.Warnings[warning], min(low, 90), 100)
	p.line("median", at, len(t.Tally.Months))
	return p.html()
}

// drawMeasurement draws quantiles by month.
func (t *Trend) drawMeasurement(n int) template.HTML {
	months := t.spreads[n]
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range months {
		if s.N > 0 {
			low, high = min(low, s.P5), max(high, s.P95)
		}
	}
	if low >= high {
		low, high = low-1, low+1
	}
	if math.IsInf(low, 0) {
		low, high = 0, 1
	}
	margin := (high - low) * 0.08
	p := t.newPlot(fmt.Sprintf("Quantiles by month: %s", t.title(t.Measured[n].Name)), low-margin, high+margin)
	p.band("wide", func(m int) float64 { return months[m].P5 }, func(m int) float64 { return months[m].P95 }, len(months))
	p.band("quartiles", func(m int) float64 { return months[m].Lower }, func(m int) float64 { return months[m].Upper }, len(months))
	p.line("median", func(m int) float64 { return months[m].Median }, len(months))
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
	for _, v := range svg.Ticks(x.Low, x.High, svg.RoundStep((x.High-x.Low)/6)) {
		c.Line(x.At(v), 18, x.At(v), 36, "grid")
		c.Text(x.At(v), 48, "tick", decimals(v))
	}
	c.Line(plotLeft, 36, plotRight, 36, "axis")
	marks, far := &svg.Path{}, &svg.Path{}
	for _, s := range of {
		at := x.At(s.First.Median)
		if s.Outside && s.tested() && s.Corrected < t.Level && s.noteworthy() {
			far.Dot(at, 28)
			c.Text(at, 13, "tick strong", s.Group.Value)
		} else {
			marks.Dot(at, 28)
		}
	}
	c.Path(marks, "aircraft")
	c.Path(far, "signals")
	return template.HTML(c.Bytes())
}
