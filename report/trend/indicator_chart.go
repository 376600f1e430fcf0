package trend

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"

	"downlock/report/svg"
	"downlock/report/trend/statistics"
)

// draw draws the points with mean, levels and target.
func (s Status) draw() (d drawing) {
	low, high, ok := s.extent()
	if !ok {
		return d
	}
	c := svg.New(chartWidth, chartHeight, "chart", s.Title)
	x := svg.Scale{Low: -0.5, High: float64(len(s.shown())) - 0.5, From: plotLeft, To: plotRight - 60}
	y := svg.Scale{Low: low, High: high, From: plotBottom, To: plotTop}
	left := x.At(float64(s.Before) - 0.5)
	c.Rect(left, plotTop, x.At(float64(len(s.Points))-0.5)-left, plotBottom-plotTop, "recent")
	(&plot{Canvas: c}).yAxis(y, x.To, s.Unit)
	names := s.levelNames()
	for i, n := range names {
		names[i].at = y.At(n.at)
		c.Line(plotLeft, names[i].at, x.To, names[i].at, n.class)
	}
	for _, n := range apart(names) {
		c.Text(x.To+4, n.at+3, "at", n.name)
	}
	s.drawPoints(c, x, y)
	if s.NotOver != nil {
		c.Text(plotRight, 10, "value", "hollow: "+s.NotOver.Name+", not over")
	}
	c.Line(plotLeft, plotBottom, x.To, plotBottom, "axis")
	return drawing{template.HTML(c.Bytes()), s.values(x)}
}

// shown are the points of the chart: those that count, then the one that is not over.
func (s Status) shown() []Point {
	if s.NotOver == nil {
		return s.Points
	}
	return append(slices.Clone(s.Points), *s.NotOver)
}

// values are the numbers of the chart.
func (s Status) values(x svg.Scale) chartValues {
	v := chartValues{Head: []string{"period", "value", "values", "flights"}}
	if s.Rule != "" {
		v.Head = []string{"period", "events", "on", "value", "95 % interval"}
	}
	v.Head = append(v.Head, "remark")
	for i, p := range s.shown() {
		remark := ""
		switch {
		case i >= len(s.Points):
			remark = notOver
		case s.alertAt(i):
			remark = "completes an alert"
		case i < s.Before:
			remark = "before"
		}
		if s.Rule != "" {
			r := statistics.Rate{Events: p.Events, Flights: p.Open}
			interval := r.Interval(Confidence)
			v.add(x.At(float64(i)), i >= len(s.Points), p.Name, p.Events, grouped(math.Round(p.Open)), decimals(p.Value), fromTo(interval.Low, interval.High), remark)
		} else {
			v.add(x.At(float64(i)), i >= len(s.Points), p.Name, decimals(p.Value), grouped(p.Open), grouped(p.Able), remark)
		}
	}
	return v
}

// alertAt says whether a point completed an alert.
func (s Status) alertAt(i int) bool {
	return i == len(s.Points)-1 && s.Alert != "" || i >= s.Before && slices.Contains(s.Earlier, s.Points[i].Name)
}

// atMost is the upper end of the interval of a series in which nothing was counted, in the
// unit of the chart, with the number it rests on; false where something was counted, or
// could not be.
func (s Status) atMost() (high, on float64, none bool) {
	if s.Rule == "" && s.Beyond == nil {
		return 0, 0, false
	}
	for _, p := range s.shown() {
		if p.Value > 0 {
			return 0, 0, false
		}
		on += p.Open
	}
	if on == 0 {
		return 0, 0, false
	}
	high = statistics.Rate{Flights: on}.Interval(Confidence).High
	if s.Rule == "" {
		high /= 10 // per 1,000 as a percentage
	}
	return high, on, true
}

// extent is the range of values the chart shows, with a margin; false where there is none.
func (s Status) extent() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	include := func(v float64) {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	for _, p := range s.shown() {
		include(p.Value)
	}
	if math.IsInf(low, 0) {
		return 0, 0, false
	}
	for _, n := range s.levelNames() {
		include(n.at)
	}
	if s.Rule != "" {
		low = 0
	}
	if low == high { // a series that never varies; of measurements any value
		low, high = low-1, high+1
	}
	margin := (high - low) * 0.08
	if s.Rule != "" || s.Beyond != nil {
		return 0, high + margin, true // neither rates nor shares are below nothing
	}
	return low - margin, high + margin, true
}

// levelName is a level with its name; at is its value, and its place once drawn.
type levelName struct {
	at          float64
	class, name string
}

// levelNames lists the levels drawn across the chart.
func (s Status) levelNames() (names []levelName) {
	if s.NotEnough == "" {
		names = append(names, levelName{s.Mean, "centre", "mean"})
	}
	if s.NotEnough == "" && s.AlertLevel == nil && s.SD > 0 {
		for k, v := range s.Levels {
			names = append(names, levelName{v, fmt.Sprintf("alert%d", k+1), fmt.Sprintf("%d SD", k+1)})
		}
	}
	if s.TargetAt != nil {
		names = append(names, levelName{*s.TargetAt, "target", "target"})
	}
	if high, _, none := s.atMost(); none {
		names = append(names, levelName{high, "limits", "at most"})
	}
	if s.AlertLevel != nil {
		names = append(names, levelName{*s.AlertLevel, "alert3", "set"})
	}
	return names
}

// drawPoints draws the points; a diamond is one that completed an alert.
func (s Status) drawPoints(c *svg.Canvas, x, y svg.Scale) {
	line, dots, alerts, ring := &svg.Path{}, &svg.Path{}, &svg.Path{}, &svg.Path{}
	points := s.shown()
	every := 1 + (len(points)-1)/8
	for i, p := range points {
		at := x.At(float64(i))
		if i%every == 0 {
			c.Text(at, plotBottom+13, "tick", p.Name)
		}
		if math.IsNaN(p.Value) {
			line.Lift()
			continue
		}
		if i >= len(s.Points) {
			dots.Dot(at, y.At(p.Value))
			ring.Dot(at, y.At(p.Value))
			continue
		}
		line.LineTo(at, y.At(p.Value))
		if s.alertAt(i) {
			diamond(alerts, at, y.At(p.Value))
		} else {
			dots.Dot(at, y.At(p.Value))
		}
	}
	c.Path(line, "median")
	c.Path(dots, "rates")
	c.Path(ring, "hollow")
	c.Path(alerts, "signals")
}

// apart moves names up, the lowest first, until none covers another.
func apart(names []levelName) []levelName {
	const height = 10.0
	slices.SortStableFunc(names, func(a, b levelName) int { return cmp.Compare(b.at, a.at) })
	for i := 1; i < len(names); i++ {
		names[i].at = min(names[i].at, names[i-1].at-height)
	}
	return names
}
