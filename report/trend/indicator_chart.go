package trend

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"

	"downlock/report/svg"
)

// draw draws the points with mean, levels and target.
func (s Status) draw() template.HTML {
	low, high, ok := s.extent()
	if !ok {
		return ""
	}
	c := svg.New(chartWidth, chartHeight, "chart", s.Title)
	x := svg.Scale{Low: -0.5, High: float64(len(s.Points)) - 0.5, From: plotLeft, To: plotRight - 60}
	y := svg.Scale{Low: low, High: high, From: plotBottom, To: plotTop}
	left := x.At(float64(s.Before) - 0.5)
	c.Rect(left, plotTop, x.To-left, plotBottom-plotTop, "recent")
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
	c.Line(plotLeft, plotBottom, x.To, plotBottom, "axis")
	return template.HTML(c.Bytes())
}

// extent is the range of values the chart shows, with a margin; false where there is none.
func (s Status) extent() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	include := func(v float64) {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	for _, p := range s.Points {
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
	margin := (high-low)*0.08 + 1e-9
	if s.Rule != "" {
		return 0, high + margin, true
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
	if s.NotEnough == "" && s.AlertLevel == nil {
		for k, v := range s.Levels {
			names = append(names, levelName{v, fmt.Sprintf("alert%d", k+1), fmt.Sprintf("%d SD", k+1)})
		}
	}
	if s.TargetAt != nil {
		names = append(names, levelName{*s.TargetAt, "target", "target"})
	}
	if s.AlertLevel != nil {
		names = append(names, levelName{*s.AlertLevel, "alert3", "set"})
	}
	return names
}

// drawPoints draws the points; a diamond is one that completed an alert.
func (s Status) drawPoints(c *svg.Canvas, x, y svg.Scale) {
	line, dots, alerts := &svg.Path{}, &svg.Path{}, &svg.Path{}
	every := 1 + (len(s.Points)-1)/8
	for i, p := range s.Points {
		at := x.At(float64(i))
		if i%every == 0 {
			c.Text(at, plotBottom+13, "tick", p.Name)
		}
		if math.IsNaN(p.Value) {
			line.Lift()
			continue
		}
		line.LineTo(at, y.At(p.Value))
		if i == len(s.Points)-1 && s.Alert != "" || i >= s.Before && slices.Contains(s.Earlier, p.Name) {
			diamond(alerts, at, y.At(p.Value))
		} else {
			dots.Dot(at, y.At(p.Value))
		}
	}
	c.Path(line, "median")
	c.Path(dots, "rates")
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
