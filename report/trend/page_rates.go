package trend

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"downlock/report/trend/statistics"
)

// rateGroup is some of the charts of rates, under a heading.
type rateGroup struct {
	Name   string
	Charts []rateChart
}

// PerFlight is the rate of all months beside the one that is drawn.
func (c rateChart) PerFlight() float64 { return 1000 * float64(c.Events) / c.Able }

// rateChart is the chart of a rule, or its line where there is none.
type rateChart struct {
	Rule, Title, Anchor string
	Events              int
	Able, Open          float64
	Clumped             bool
	AtMost              float64 // per 1,000, where there is no event: the upper end of the interval
	drawing
}

// addRates draws the charts of the rules, those named on the lists first. On
// fewer events than a finding needs there is nothing to draw.
func (p *page) addRates() {
	named := map[string]bool{}
	for _, list := range [][]Finding{p.Trend.Findings, p.Improvements, p.Seasonal, p.Doubtful} {
		for _, f := range list {
			named[f.Subject] = true
		}
	}
	first, rest := rateGroup{Name: "Rules named above"}, rateGroup{Name: "All other rules"}
	for r, rule := range p.Rules {
		var all count
		for _, c := range p.monthly[r] {
			all.add(c)
		}
		c := rateChart{Rule: rule, Title: p.title(rule), Anchor: anchor("rule", r), Events: all.Events, Able: all.Able(), Open: all.Open, Clumped: all.unit() == ofFlights,
			AtMost: all.rate().Interval(Confidence).High}
		switch {
		case all.Able() == 0 && all.Events == 0 && all.NotEvaluable == 0:
			p.NoChance = append(p.NoChance, c)
		case all.Able() == 0 && all.Events == 0:
			p.Never = append(p.Never, c)
		case all.Events == 0:
			p.Silent = append(p.Silent, c)
		case all.Events < Fewest && !named[rule]:
			p.Few = append(p.Few, c)
		default:
			chart, averages := p.ruleCharts(r)
			c.drawing = p.drawRates(r, chart, averages)
			p.addSignals(r, c, chart, averages)
			if named[rule] {
				first.Charts = append(first.Charts, c)
			} else {
				rest.Charts = append(rest.Charts, c)
			}
		}
	}
	for _, g := range []rateGroup{first, rest} {
		if len(g.Charts) > 0 {
			p.RateGroups = append(p.RateGroups, g)
		}
	}
}

// signal is what run rules and moving average say of the last months of a rule.
type signal struct {
	rateChart
	Months       string
	What, Kinds  string  // in words, and separated by | for the filter
	Rate, Before float64 // events per 1,000 opportunities, or flights
	Higher       bool
}

// signalMonths are those looked at.
const signalMonths = 3

// addSignals notes what fires in the last months of a rule's chart.
func (p *page) addSignals(rule int, c rateChart, chart statistics.RateChart, averages []statistics.AveragePoint) {
	over := p.over()
	from := max(0, over-signalMonths)
	var last count
	var months, what []string
	for m := from; m < over; m++ {
		last.add(p.monthly[rule][m])
		names := slices.Clone(chart.Points[m].Signals)
		if a := averages[m]; a.Average > a.High || a.Average < a.Low {
			names = append(names, "moving average outside its limits")
		}
		for _, name := range names {
			if !slices.Contains(what, name) {
				what = append(what, name)
			}
		}
		if len(names) > 0 {
			months = append(months, p.Trend.Tally.Months[m].Name)
		}
	}
	if len(what) == 0 {
		return
	}
	s := signal{c, strings.Join(months, ", "), strings.Join(what, "; "), strings.Join(what, "|"), last.rate().Per1000(), 1000 * chart.Centre, false}
	s.Events = last.Events
	s.Higher = s.Rate > s.Before
	if !enough(last, chart.Centre) {
		p.FewSignals = append(p.FewSignals, s.rateChart)
		return
	}
	p.Signals = append(p.Signals, s)
}

// enough says whether a count, or the one to be expected in its place, is more
// than a small number.
func enough(c count, centre float64) bool {
	return c.Events >= Fewest || c.rate().Flights*centre >= Fewest
}

// beyond says whether a month is above or below its limits, on more than a small
// number.
func beyond(c count, chart statistics.RateChart, month int) (high, low bool) {
	point := chart.Points[month]
	return point.Rate > point.High && c.Events >= Fewest, point.Rate < point.Low && enough(c, chart.Centre)
}

// monthHead and monthRow are the table of rules by month.
type monthHead struct {
	Month, Short string
	New, NotOver bool // the recent period begins; it is not over
}

type monthRow struct {
	Rule, Title, Anchor, Group string
	Events                     int // in all months of the table
	Cells                      []monthCell
}

type monthCell struct {
	Month, Short, Title string
	NotOver             bool
	Events              int
	Able                float64
	High, Low, New      bool // beyond the limits; the recent period begins
}

const mostMonths = 24

func (p *page) addMonths() {
	months := p.Trend.Tally.Months
	from := max(0, len(months)-mostMonths)
	for m := from; m < len(months); m++ {
		p.Months = append(p.Months, monthHead{months[m].Name, months[m].Name[2:], m == p.Trend.Recent.First, m >= p.over()})
	}
	for r, rule := range p.Rules {
		chart, _ := p.ruleCharts(r)
		row := monthRow{Rule: rule, Title: p.title(rule), Anchor: anchor("rule", r), Group: cmp.Or(p.ruleGroups[rule], "Other")}
		for m := from; m < len(months); m++ {
			c := p.monthly[r][m]
			row.Events += c.Events
			high, low := beyond(c, chart, m)
			if m >= p.over() {
				high, low = false, false
			}
			row.Cells = append(row.Cells, monthCell{Month: months[m].Name, Short: months[m].Name[2:], NotOver: m >= p.over(), Title: p.rateInWords(c), Events: c.Events, Able: c.Able(),
				High: high, Low: low, New: m == p.Trend.Recent.First})
		}
		p.Rows = append(p.Rows, row)
	}
}

func (t *Trend) rateInWords(c count) string {
	i := c.rate().Interval(Confidence)
	s := fmt.Sprintf("%s on %s: %s per 1,000 (%s to %s)", plural(c.Events, t.Nouns()), evaluatedOn(c.Open, t.Per()), decimals(c.rate().Per1000()), decimals(i.Low), decimals(i.High))
	if t.PerOpportunity() {
		s += fmt.Sprintf("; %s per 1,000 flights", decimals(c.perFlight().Per1000()))
	}
	if c.Able() == 0 {
		s = "the rule was evaluated on no flight"
	}
	if c.NoOpportunity > 0 {
		s += fmt.Sprintf("; %s without an opportunity", plural(int(c.NoOpportunity), "flights"))
	}
	if c.Partly > 0 {
		s += fmt.Sprintf("; %s partly evaluated", plural(int(c.Partly), "flights"))
	}
	return s
}
