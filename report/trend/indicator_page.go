package trend

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/report"
	"downlock/report/svg"
)

// IndicatorsPage is the one-page status of the indicators.
const IndicatorsPage = "indicators.html"

// IndicatorRow is the status of one indicator in one of its periods.
type IndicatorRow struct {
	Indicator string   `parquet:"indicator,dict" json:"indicator"`
	Title     string   `parquet:"title,dict" json:"title"`
	Unit      string   `parquet:"unit,dict" json:"unit"`
	Period    string   `parquet:"period,dict" json:"period"`
	Current   bool     `parquet:"current" json:"current"` // else one of those the levels come from
	Value     *float64 `parquet:"value,optional" json:"value"`
	Events    int64    `parquet:"events" json:"events"`
	Able      float64  `parquet:"flights_able" json:"flights_able"`
	Mean      *float64 `parquet:"mean,optional" json:"mean"` // of the preceding points
	SD        *float64 `parquet:"standard_deviation,optional" json:"standard_deviation"`
	Target    *float64 `parquet:"target,optional" json:"target"`
	Status    string   `parquet:"status,dict" json:"status"` // of the indicator as a whole
	Alert     string   `parquet:"alert,dict" json:"alert"`   // what makes it one
}

// Word is the status in one or two words.
func (s Status) Word() string {
	switch {
	case s.NotEnough != "":
		return "not enough data"
	case s.Alert != "":
		return "alert"
	case s.Small:
		return "small number"
	}
	return "no alert"
}

// Latest is the newest point; there is at least one.
func (s Status) Latest() Point {
	if len(s.Points) == 0 {
		return Point{Name: "–", Value: math.NaN()}
	}
	return s.Points[len(s.Points)-1]
}

func indicatorRows(all []Status) (rows []IndicatorRow) {
	for _, s := range all {
		for i, p := range s.Points {
			row := IndicatorRow{Indicator: s.ID, Title: s.Title, Unit: s.Unit, Period: p.Name, Current: i >= s.Before, Value: finite(p.Value),
				Events: int64(p.Events), Able: p.Able, Target: s.TargetAt, Status: s.Word(), Alert: s.Alert}
			if s.NotEnough == "" {
				row.Mean, row.SD = finite(s.Mean), finite(s.SD)
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// WriteIndicators writes the status page and its table into dir.
func (t *Trend) WriteIndicators(dir string, in *Indicators, all []Status, sync, share bool) error {
	page := struct {
		*Indicators
		Version  string
		Statuses []indicatorView
		Alerts   int
		Counted  string
	}{Indicators: in, Version: t.Version, Counted: t.counted()}
	for _, s := range all {
		page.Statuses = append(page.Statuses, t.viewOf(s))
		if s.Alert != "" {
			page.Alerts++
		}
	}
	html, err := t.render("indicators", page)
	if err != nil {
		return err
	}
	files, err := tableFiles("indicators", indicatorRows(all))
	if err != nil {
		return err
	}
	return report.WriteFiles(dir, sync, share, append(files, report.File{Name: IndicatorsPage, Data: html})...)
}

// indicatorView is an indicator on the page.
type indicatorView struct {
	Status
	SVG  template.HTML
	Page string // of the flights behind the newest point; "" for none
	SQL  string
}

func (t *Trend) viewOf(s Status) indicatorView {
	v := indicatorView{Status: s, SVG: s.draw(), SQL: t.indicatorSQL(&s.Indicator)}
	names := t.pageNames()
	switch {
	case s.rule >= 0 && s.Period == "month" && len(s.Points) > 0:
		v.Page = names.rules[s.Rule] + "#" + s.Latest().Name
	case s.rule >= 0:
		v.Page = names.rules[s.Rule]
	case s.measured >= 0 && t.measured != nil:
		v.Page = names.measurements[s.Measurement]
	}
	return v
}

// Count is what the newest point rests on.
func (v indicatorView) Count() template.HTML {
	p := v.Latest()
	if v.Rule == "" {
		return flightNumber(v.Page, int(p.Able)) + template.HTML(" "+inPlural(int(p.Able), "flights"))
	}
	return flightNumber(v.Page, p.Events) + template.HTML(fmt.Sprintf(" on %s flights", grouped(math.Round(p.Able))))
}

// Words says what the numbers mean.
func (v indicatorView) Words() string {
	var parts []string
	switch {
	case v.NotEnough != "":
		parts = append(parts, v.NotEnough)
	case v.Alert != "":
		parts = append(parts, "Alert: "+v.Alert)
	case v.Small:
		parts = append(parts, fmt.Sprintf("beyond a level, on fewer than %d events: no alarm", Fewest))
	}
	if len(v.Earlier) > 0 {
		parts = append(parts, "earlier alerts: "+strings.Join(v.Earlier, ", "))
	}
	return strings.Join(parts, "; ")
}

// draw draws the points with mean, levels and target.
func (s Status) draw() template.HTML {
	if len(s.Points) == 0 {
		return ""
	}
	low, high := math.Inf(1), math.Inf(-1)
	include := func(v float64) {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	for _, p := range s.Points {
		include(p.Value)
	}
	if s.NotEnough == "" {
		include(s.Mean)
		include(s.Levels[2])
	}
	for _, extra := range []*float64{s.TargetAt, s.AlertLevel} {
		if extra != nil {
			include(*extra)
		}
	}
	if math.IsInf(low, 0) {
		return ""
	}
	if s.Rule != "" {
		low = 0
	}
	margin := (high-low)*0.08 + 1e-9
	c := svg.New(chartWidth, chartHeight, "chart", s.Title)
	x := svg.Scale{Low: -0.5, High: float64(len(s.Points)) - 0.5, From: plotLeft, To: plotRight - 60}
	y := svg.Scale{Low: low - margin, High: high + margin, From: plotBottom, To: plotTop}
	if s.Rule != "" {
		y.Low = 0
	}
	left := x.At(float64(s.Before) - 0.5)
	c.Rect(left, plotTop, x.To-left, plotBottom-plotTop, "recent")
	(&plot{Canvas: c}).yAxis(y, x.To, s.Unit)
	var names []levelName
	level := func(v float64, class, name string) {
		c.Line(plotLeft, y.At(v), x.To, y.At(v), class)
		names = append(names, levelName{y.At(v), name})
	}
	if s.NotEnough == "" {
		level(s.Mean, "centre", "mean")
		for k, v := range s.Levels {
			level(v, fmt.Sprintf("alert%d", k+1), fmt.Sprintf("%d SD", k+1))
		}
	}
	if s.TargetAt != nil {
		level(*s.TargetAt, "target", "target")
	}
	if s.AlertLevel != nil {
		level(*s.AlertLevel, "alert3", "set")
	}
	for _, n := range apart(names) {
		c.Text(x.To+4, n.y+3, "at", n.name)
	}
	s.drawPoints(c, x, y)
	c.Line(plotLeft, plotBottom, x.To, plotBottom, "axis")
	return template.HTML(c.Bytes())
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

// levelName is the name of a level, beside its line.
type levelName struct {
	y    float64
	name string
}

// apart moves names up, the lowest first, until none covers another.
func apart(names []levelName) []levelName {
	const height = 10.0
	slices.SortStableFunc(names, func(a, b levelName) int { return cmp.Compare(b.y, a.y) })
	for i := 1; i < len(names); i++ {
		names[i].y = min(names[i].y, names[i-1].y-height)
	}
	return names
}
