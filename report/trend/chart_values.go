package trend

import (
	"cmp"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/report/svg"
	"downlock/report/trend/tally"
)

// drawAudit draws how far a warning agrees with its criteria.
func (t *Trend) drawAudit(warning int) drawing {
	at := func(m int) float64 { return 100 * t.Tally.Months[m].Audits[warning].Agreement() }
	low := 100.0
	for m := range t.Tally.Months {
		if v := at(m); !math.IsNaN(v) {
			low = min(low, math.Floor(v/10)*10)
		}
	}
	p := t.newPlot("Agreement by month, percent: "+t.title(t.Warnings[warning]), "agreement, %", min(low, 90), 100)
	p.line("median", at, p.over)
	dots := &svg.Path{}
	for m := range t.Tally.Months {
		if v := at(m); !math.IsNaN(v) {
			dots.Dot(p.x.At(float64(m)), p.y.At(v))
		}
	}
	p.Path(dots, "rates")
	p.hollow(at, len(t.Tally.Months))
	return drawing{p.html(), t.auditValues(p, warning)}
}

// drawMeasurement draws quantiles by month; on few flights the median only.
func (t *Trend) drawMeasurement(n int) drawing {
	months := t.spreads[n]
	quantile := func(of func(spread) float64) func(int) float64 {
		return func(m int) float64 {
			if months[m].Flights < Fewest || m >= t.over() {
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
	case low == 0 && high == 0:
		high = 1
	case low == high:
		low, high = low-1, high+1
	}
	margin := (high - low) * 0.08
	p := t.newPlot("Quantiles by month: "+t.title(t.Measured[n].Name), strings.TrimPrefix(t.Measured[n].Unit, "1"), low-margin, high+margin)
	p.band("wide", p5, p95, len(months))
	p.band("quartiles", quantile(func(s spread) float64 { return s.Lower }), quantile(func(s spread) float64 { return s.Upper }), len(months))
	p.line("median", func(m int) float64 { return months[m].Median }, p.over)
	few := &svg.Path{}
	for m, s := range months {
		if s.N > 0 && (s.Flights < Fewest || m >= p.over) {
			few.Dot(p.x.At(float64(m)), p.y.At(s.Median))
		}
	}
	p.Path(few, "rates")
	p.hollow(func(m int) float64 { return months[m].Median }, len(months))
	return drawing{p.html(), t.measurementValues(p, n)}
}

// drawGroups draws the recent medians of the individual aircraft on one line,
// those that have a finding with their names.
func (t *Trend) drawGroups(n int) (d drawing) {
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
		return d
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
	d.Values.Head = []string{"aircraft", "median", "flights", "middle half", "remark"}
	for _, s := range of {
		at := x.At(s.First.Median)
		remark := ""
		if s.Outside && s.tested() && s.Corrected < t.Level && s.noteworthy() {
			remark = "stands out"
			diamond(far, at, 28)
			if at >= free {
				c.Text(at, 13, "tick strong", s.Group.Value)
				free = at + 70
			}
		} else {
			marks.Dot(at, 28)
		}
		d.Values.add(at, false, s.Group.Value, decimals(s.First.Median), grouped(float64(s.First.Flights)), fromTo(s.First.Lower, s.First.Upper), remark)
	}
	c.Path(marks, "aircraft")
	c.Path(far, "signals")
	d.SVG = template.HTML(c.Bytes())
	return d
}
