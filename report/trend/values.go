package trend

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/detect"
	"downlock/report/trend/statistics"
)

// chartValues are the numbers that a chart draws, a row for each point. The page has them
// folded away below the chart; at the cursor its script reads them out.
type chartValues struct {
	Head []string // of the first column: what the points are, such as month
	Rows []valuesRow
}

type valuesRow struct {
	X       float64 // place in the chart, in the units of its view box
	NotOver bool
	Cells   []template.HTML
}

// add adds a row. Its cells are escaped here unless they are HTML already.
func (v *chartValues) add(x float64, notOver bool, cells ...any) {
	row := valuesRow{X: x, NotOver: notOver}
	for _, c := range cells {
		text, ok := c.(template.HTML)
		if !ok {
			text = template.HTML(template.HTMLEscapeString(fmt.Sprint(c)))
		}
		row.Cells = append(row.Cells, text)
	}
	v.Rows = append(v.Rows, row)
}

// fromTo writes an interval: 3.26 to 46.1; nothing where it has no ends.
func fromTo(low, high float64) string {
	if math.IsNaN(low) || math.IsNaN(high) || math.IsInf(high, 0) {
		return ""
	}
	return decimals(low) + " to " + decimals(high)
}

// notOver is the note on a month that is not over.
const notOver = "not over, compared with nothing"

// remarks joins what there is to say of a point.
func (t *Trend) remarks(month int, said ...string) string {
	if month >= t.over() {
		said = append([]string{notOver}, said...)
	}
	return strings.Join(slices.DeleteFunc(said, func(s string) bool { return s == "" }), "; ")
}

// rateValues are those of the chart of a rule.
func (t *Trend) rateValues(p *plot, rule int, chart statistics.RateChart) chartValues {
	v := chartValues{Head: []string{"month", t.Nouns(), t.Per(), "per 1,000 " + t.Per(), "95 % interval", "three-sigma limits"}}
	if t.PerOpportunity() {
		v.Head = append(v.Head, "per 1,000 flights")
	}
	v.Head = append(v.Head, "remark")
	page := t.pageNames().rules[t.Rules[rule]]
	for m, c := range t.monthly[rule] {
		name, point := t.Tally.Months[m].Name, chart.Points[m]
		interval := c.rate().Interval(Confidence)
		cells := []any{name, flightNumber(page+"#"+name, c.Events), grouped(math.Round(c.Open))}
		remark := t.remarks(m)
		if enough(c, chart.Centre) {
			remark = t.remarks(m, point.Signals...)
		}
		if c.Open == 0 {
			cells, remark = append(cells, "–", "", ""), t.remarks(m, "no "+inPlural(1, t.Per())+" to show it")
		} else {
			cells = append(cells, decimals(c.rate().Per1000()), fromTo(interval.Low, interval.High), fromTo(1000*point.Low, 1000*point.High))
		}
		if t.PerOpportunity() {
			cells = append(cells, decimals(c.perFlight().Per1000()))
		}
		v.add(p.x.At(float64(m)), m >= t.over(), append(cells, remark)...)
	}
	return v
}

// auditValues are those of the chart of a warning.
func (t *Trend) auditValues(p *plot, warning int) chartValues {
	v := chartValues{Head: []string{"month", "flights", "agreement, %", string(detect.Missed), string(detect.Late), string(detect.Nuisance), string(detect.WronglySilenced), "remark"}}
	for m := range t.Tally.Months {
		a := t.Tally.Months[m].Audits[warning]
		v.add(p.x.At(float64(m)), m >= t.over(), t.Tally.Months[m].Name, grouped(float64(a.Flights)), decimals(100*a.Agreement()),
			a.Missed, a.Late, a.Nuisance, a.WronglySilenced, t.remarks(m))
	}
	return v
}

// measurementValues are those of the chart of a measurement.
func (t *Trend) measurementValues(p *plot, n int) chartValues {
	v := chartValues{Head: []string{"month", "flights", "values", "median", "middle half", "5 to 95 %", "remark"}}
	for m, s := range t.spreads[n] {
		few := ""
		if s.N > 0 && s.Flights < Fewest {
			few = "few flights"
		}
		v.add(p.x.At(float64(m)), m >= t.over(), t.Tally.Months[m].Name, grouped(float64(s.Flights)), grouped(float64(s.N)), decimals(s.Median),
			fromTo(s.Lower, s.Upper), fromTo(s.P5, s.P95), t.remarks(m, few))
	}
	return v
}
