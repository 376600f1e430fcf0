package trend

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// Status is how an indicator stands. The alert levels are the mean of the
// preceding period's points and one, two and three of their standard deviations
// (of the whole population) beyond it, and an alert is one point beyond the third
// level, two in a row beyond the second or three in a row beyond the first, as
// ICAO Doc 9859 describes (from memory). A level that the user sets takes their
// place, and an alert is one point beyond it. An alert stands when the newest point
// completes one.
type Status struct {
	Indicator
	Points    []Point // the preceding ones, then the current ones
	NotOver   *Point  // the month that is not over, which counts for nothing; nil for none
	Before    int     // how many of them precede
	Mean, SD  float64
	Levels    [3]float64
	TargetAt  *float64
	CurrentAt float64  // mean of the current points
	Alert     string   // "" for none; else what triggers it
	Earlier   []string // current points that completed an alert, the newest left out
	Small     bool     // an alert would rest on too few events
	NotEnough string
	Unit      string
	TargetMet bool
}

// Point is an indicator in one of its periods.
type Point struct {
	Name   string
	Value  float64 // not a number where nothing could be counted
	Events int
	Able   float64 // flights able to show the event, or with the measurement
	Open   float64 // what a rate divides by: opportunities, or flights able; of a measurement its values
}

// fewestPoints is the number of preceding points below which a standard
// deviation says nothing.
const fewestPoints = 3

// Judge works out how every indicator stands.
func (t *Trend) Judge(in *Indicators) []Status {
	out := make([]Status, len(in.Indicators))
	for i := range in.Indicators {
		out[i] = t.judge(in.Indicators[i])
	}
	return out
}

func (t *Trend) judge(in Indicator) Status {
	s := Status{Indicator: in, Unit: in.unit(t)}
	all := t.pointsOf(&in)
	if last := len(t.Tally.Months) - 1; in.Period == aMonth && last >= t.over() {
		p := t.point(&in, Period{last, last})
		p.Name, s.NotOver = t.NotOver(), &p
	}
	current := min(in.Current, len(all))
	s.Before = min(in.Preceding, len(all)-current)
	s.Points = all[len(all)-current-s.Before:]
	var preceding []float64
	for _, p := range s.Points[:s.Before] {
		if !math.IsNaN(p.Value) {
			preceding = append(preceding, p.Value)
		}
	}
	if len(preceding) < fewestPoints {
		s.NotEnough = fmt.Sprintf("before the current points the archive has %d with a value; alert levels need %d", len(preceding), fewestPoints)
	} else {
		s.Mean, s.SD = stat.PopMeanStdDev(preceding, nil)
		for k := range s.Levels {
			s.Levels[k] = s.Mean + s.sign()*float64(k+1)*s.SD
		}
	}
	if s.Judged() {
		s.findAlerts()
	}
	s.setTarget()
	return s
}

// setTarget holds the mean of the current points against the target; one given as
// a change needs the mean before.
func (s *Status) setTarget() {
	s.CurrentAt, s.TargetAt = meanOf(s.Points[s.Before:]), s.Target
	if s.TargetChange != nil && s.NotEnough == "" {
		at := s.Mean * (1 + *s.TargetChange/100)
		s.TargetAt = &at
	}
	s.TargetMet = s.TargetAt != nil && s.sign()*s.CurrentAt <= s.sign()**s.TargetAt
}

// sign is 1 where higher is worse, -1 where lower is.
func (s *Status) sign() float64 {
	if s.Worse == worseLower {
		return -1
	}
	return 1
}

// Judged reports whether the indicator has levels: the computed ones, or one set.
func (s *Status) Judged() bool { return s.AlertLevel != nil || s.NotEnough == "" }

// AlertFrom is the level of which one point beyond is an alert.
func (s *Status) AlertFrom() float64 {
	if s.AlertLevel != nil {
		return *s.AlertLevel
	}
	return s.Levels[2]
}

// findAlerts looks for alerts among the current points.
func (s *Status) findAlerts() {
	sign := s.sign()
	current := s.Points[s.Before:]
	for i := range current {
		trigger := s.trigger(current[:i+1], sign)
		small := s.Rule != "" && current[i].Events < Fewest && sign > 0
		switch last := i == len(current)-1; {
		case trigger == "":
		case last && small:
			s.Small = true
		case last:
			s.Alert = trigger
		case !small:
			s.Earlier = append(s.Earlier, current[i].Name)
		}
	}
}

// trigger says which condition the last of the points completes.
func (s *Status) trigger(points []Point, sign float64) string {
	inARow := func(n int, level float64) bool {
		if len(points) < n {
			return false
		}
		return !slices.ContainsFunc(points[len(points)-n:], func(p Point) bool { return !(sign*p.Value > sign*level) })
	}
	switch {
	case s.AlertLevel != nil && inARow(1, *s.AlertLevel):
		return "a point beyond the level set"
	case s.AlertLevel != nil:
		return ""
	case s.SD == 0 && inARow(1, s.Mean):
		return "a point beyond a mean that never varied"
	case s.SD == 0:
		return ""
	case inARow(1, s.Levels[2]):
		return "a point beyond the mean and three standard deviations"
	case inARow(2, s.Levels[1]):
		return "two points in a row beyond the mean and two standard deviations"
	case inARow(3, s.Levels[0]):
		return "three points in a row beyond the mean and one standard deviation"
	}
	return ""
}

func meanOf(points []Point) float64 {
	sum, n := 0.0, 0
	for _, p := range points {
		if !math.IsNaN(p.Value) {
			sum, n = sum+p.Value, n+1
		}
	}
	return sum / float64(n)
}

// pointsOf returns the whole periods of an indicator, in order: a quarter or year
// that the archive holds only part of is none.
func (t *Trend) pointsOf(in *Indicator) (out []Point) {
	length := periodsOf[in.Period].months
	for m := 0; m+length <= t.over(); {
		name := t.Tally.Months[m].Name
		calendar := calendarMonth(name)
		if calendar == 0 || (calendar-1)%length != 0 {
			m++
			continue
		}
		switch in.Period {
		case aQuarter:
			name = fmt.Sprintf("%s Q%d", name[:4], (calendar+2)/3)
		case aYear:
			name = name[:4]
		}
		p := t.point(in, Period{m, m + length - 1})
		p.Name = name
		out = append(out, p)
		m += length
	}
	return out
}

func (t *Trend) point(in *Indicator, p Period) Point {
	if in.Rule != "" {
		return t.ratePoint(in, p)
	}
	var all sample
	if in.measured >= 0 {
		var parts []sample
		for m := p.First; m <= p.Last; m++ {
			for _, s := range t.Tally.Months[m].Values[in.measured] {
				parts = append(parts, newSample(s))
			}
		}
		all = merge(parts...)
	}
	point := Point{Able: float64(len(all.flights)), Open: float64(len(all.values))}
	if in.Beyond != nil {
		point.Value = 100 * statistics.ShareBeyond(all.values, *in.Beyond)
	} else {
		point.Value = statistics.Quantile(all.values, *in.Quantile)
	}
	return point
}

func (t *Trend) ratePoint(in *Indicator, p Period) Point {
	point := Point{Value: math.NaN()}
	if in.rule < 0 {
		return point
	}
	for m := p.First; m <= p.Last; m++ {
		c := t.monthly[in.rule][m]
		point.Able += c.Able()
		if in.Per == byFlights {
			point.Open += c.Able()
		} else {
			point.Open += c.Open
		}
		for s, n := range c.Severity {
			if in.wants(tally.Severity(s)) {
				point.Events += n
			}
		}
	}
	if point.Open > 0 {
		point.Value = 1000 * float64(point.Events) / point.Open
	}
	return point
}
