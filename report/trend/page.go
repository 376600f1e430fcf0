package trend

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/report"
	"downlock/report/trend/tally"
)

//go:embed templates
var templateFiles embed.FS

// page is what trend.html is filled with.
type page struct {
	*Trend
	Span, Recent, Before, Columns, Counted string
	Flights, Events, Expected              float64
	EventNote, LevelPercent, Sureness      string
	SignalNote                             string
	Fewest                                 int
	Notes, Method                          []string
	Signals                                []signal
	RateGroups                             []rateGroup
	Silent, Never                          []rateChart
	Audits                                 []figure
	Measurements                           []figure
	Airframes                              bool
	Months                                 []monthHead
	Rows                                   []monthRow
}

// signal is a run rule or moving average that fires at the end of a chart.
type signal struct {
	Title, Anchor, Month, Signal string
	Events, Rate                 float64
}

type rateGroup struct {
	Name   string
	Charts []rateChart
}

type rateChart struct {
	Rule, Title, Anchor string
	Events              int
	Able                float64
	Clumped             bool
	SVG                 template.HTML
}

type figure struct {
	Title, Unit, Note, Anchor string
	SVG, Groups               template.HTML
}

func (t *Trend) templates() (*template.Template, error) {
	style, err := report.Style()
	if err != nil {
		return nil, err
	}
	own, err := templateFiles.ReadFile("templates/trend.css")
	if err != nil {
		return nil, err
	}
	pages := t.flightPages()
	return template.New("").Funcs(template.FuncMap{
		"style":       func() template.CSS { return style + template.CSS(own) },
		"plural":      func(n any, nouns string) string { return plural(int(number(n)), nouns) },
		"whole":       func(n any) string { return grouped(number(n)) },
		"sum":         func(a, b int) int { return a + b },
		"decimals":    func(x any) string { return decimals(number(x)) },
		"flightsPage": func(rule string) string { return pages[rule] },
	}).ParseFS(templateFiles, "templates/*.html")
}

func number(n any) float64 {
	switch n := n.(type) {
	case int:
		return float64(n)
	case float64:
		return n
	case *float64:
		return *n
	}
	return 0
}

// Page renders trend.html.
func (t *Trend) Page() ([]byte, error) { return t.render("trend", t.newPage()) }

func (t *Trend) render(name string, data any) ([]byte, error) {
	templates, err := t.templates()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = templates.ExecuteTemplate(&b, name, data)
	return b.Bytes(), err
}

func (t *Trend) newPage() *page {
	p := &page{Trend: t, Span: t.Name(Period{0, len(t.Tally.Months) - 1}), Recent: t.Name(t.Recent), Before: t.Name(t.Before), Fewest: Fewest}
	severities := [tally.Severities]int{}
	for m := range t.Tally.Months {
		for _, n := range t.Tally.Months[m].Flights {
			p.Flights += float64(n)
		}
		for _, e := range t.Tally.Months[m].Events {
			p.Events++
			severities[e.Severity]++
		}
	}
	columns := slices.Clone(t.Columns)
	if !t.tellsAircraftApart() {
		columns = slices.DeleteFunc(columns, func(c string) bool { return c == tally.RegistrationColumn })
	}
	p.Columns = strings.ReplaceAll(strings.Join(columns, ", "), "_", " ")
	p.Columns = strings.Replace(p.Columns, typeColumn, "aircraft type", 1)
	p.EventNote = fmt.Sprintf("%s of high, %s of medium, %s of low severity.", grouped(float64(severities[tally.High])), grouped(float64(severities[tally.Medium])), grouped(float64(severities[tally.Low])))
	p.Counted = t.counted()
	p.LevelPercent = decimals(100 * t.Level)
	p.Sureness = fmt.Sprintf("is the chance that even one of %s comparisons is called significant when nothing changed (Holm's correction).", grouped(float64(t.Tests)))
	if t.Correction == BenjaminiHochberg {
		p.Sureness = fmt.Sprintf("of what is called significant among %s comparisons is to be expected false (Benjamini and Hochberg's correction).", grouped(float64(t.Tests)))
	}
	p.Expected = math.Round(0.05 * float64(t.Tests))
	p.SignalNote = "the moving average on average once in 500 months a chart, the run rules together about once in 90, from memory"
	p.Notes, p.Method = t.notes(), t.method()
	p.addRates()
	p.addMonths()
	p.Audits = t.auditFigures()
	for n, m := range t.Measured {
		s := spread{}
		for i := range t.shifts {
			if t.shifts[i].Measurement == n && t.shifts[i].Group == nil {
				s = t.shifts[i].First
			}
		}
		f := figure{Title: t.title(m.Name), Unit: strings.TrimPrefix(m.Unit, "1"), Note: fmt.Sprintf("%s flights in %s", grouped(float64(s.N)), p.Recent), Anchor: anchor("measurement", n),
			SVG: t.drawMeasurement(n), Groups: t.drawGroups(n)}
		p.Airframes = p.Airframes || f.Groups != ""
		p.Measurements = append(p.Measurements, f)
	}
	return p
}

// counted says which events count.
func (t *Trend) counted() string {
	if t.CertainOnly {
		return fmt.Sprintf("Only certain events are counted; %s possible ones are not.", grouped(float64(t.Possible)))
	}
	return "Certain and possible events are counted."
}

// notes are what the reader must know before any number.
func (t *Trend) notes() (notes []string) {
	if len(t.Distant) > 0 {
		notes = append(notes, fmt.Sprintf("Left out, because more than two years without a flight follow: %s. A recorder's wrong date may be behind it; --from and --to choose the months.", strings.Join(t.Distant, ", ")))
	}
	if t.Undated > 0 {
		notes = append(notes, fmt.Sprintf("%s without a date are in no month and not counted.", plural(t.Undated, "flights")))
	}
	if t.Orphans > 0 {
		notes = append(notes, fmt.Sprintf("%s of the tables belong to no flight: the archive was written to while it was read. Run it again.", plural(t.Orphans, "rows")))
	}
	if t.Reviewed {
		notes = append(notes, fmt.Sprintf("%s that review found false are not counted; the SQL below counts them.", plural(t.False, "events")))
	}
	return notes
}

func (t *Trend) method() []string {
	correction := "Holm's correction keeps the chance of even one false alarm among all of them at"
	if t.Correction == BenjaminiHochberg {
		correction = "Benjamini and Hochberg's correction keeps the expected share of false ones among the alarms at"
	}
	list := []string{
		"A rate divides by the flights that could have shown the event: those on which the rule was evaluated, and of those partly evaluated the known part of the rule's scope. Flights on which it was not evaluable are not in it.",
		"Intervals of rates are exact 95 % Poisson intervals (Garwood). Two rates are compared by the exact conditional binomial test, two-sided; the interval of their ratio follows from it.",
		fmt.Sprintf("%s comparisons were made: every rule and measurement, recent period against the one before and every group against the rest, and the season of every rule. %s %s %%. Comparisons with fewer than %d events in both parts together are none.", grouped(float64(t.Tests)), correction, decimals(100*t.Level), Fewest),
		"Where a rule's events come in clumps, several to a flight, flights with an event are compared in place of events, each counted once.",
		"Charts: three-sigma limits around the rate of the months before the recent period, following each month's flights; run rules after the Western Electric handbook; exponentially weighted moving average, weight 0.2, limits at 2.962 sigma.",
		"A season is a yearly wave in a Poisson regression that allows for a steady drift.",
		"Measurements are compared by the rank-sum test. One stands out when that is significant and the difference is large enough to matter: a chance of 56 % (all flights) or 64 % (a group) that a value is above one of the other, and for a group its median far out (Tukey's outer fences) where there are eight or more of its kind.",
	}
	if !t.tellsAircraftApart() {
		list = append(list, "The individual aircraft is not known of any flight. `scan --aircraft` says it, or `trend --airframe` finds it in the names of recordings.")
	}
	return list
}

// addRates draws the charts of the rules, those with findings first.
func (p *page) addRates() {
	found := map[string]bool{}
	for _, list := range [][]Finding{p.Trend.Findings, p.Improvements, p.Seasonal} {
		for _, f := range list {
			found[f.Subject] = true
		}
	}
	first, rest := rateGroup{Name: "Rules named above"}, rateGroup{Name: "All other rules"}
	for r, rule := range p.Rules {
		var all count
		for _, c := range p.monthly[r] {
			all.add(c)
		}
		c := rateChart{Rule: rule, Title: p.title(rule), Anchor: anchor("rule", r), Events: all.Events, Able: all.Able(), Clumped: all.unit() == ofFlights}
		switch {
		case all.Able() == 0 && all.Events == 0:
			p.Never = append(p.Never, c)
			continue
		case all.Events == 0:
			p.Silent = append(p.Silent, c)
			continue
		}
		c.SVG = p.drawRates(r)
		p.addSignals(r)
		if found[rule] {
			first.Charts = append(first.Charts, c)
		} else {
			rest.Charts = append(rest.Charts, c)
		}
	}
	for _, g := range []rateGroup{first, rest} {
		if len(g.Charts) > 0 {
			p.RateGroups = append(p.RateGroups, g)
		}
	}
}

// addSignals notes what fires in the last three months of a rule's chart.
func (p *page) addSignals(rule int) {
	chart, averages := p.ruleCharts(rule)
	for m := max(0, len(chart.Points)-3); m < len(chart.Points); m++ {
		c := p.monthly[rule][m]
		names := slices.Clone(chart.Points[m].Signals)
		if a := averages[m]; a.Average > a.High {
			names = append(names, "moving average above its limit")
		} else if a.Average < a.Low {
			names = append(names, "moving average below its limit")
		}
		small := ""
		if c.Events < Fewest && chart.Points[m].Rate > chart.Centre {
			small = " (small number)"
		}
		if len(names) > 0 {
			p.Signals = append(p.Signals, signal{p.title(p.Rules[rule]), anchor("rule", rule), p.Trend.Tally.Months[m].Name, strings.Join(names, "; ") + small, float64(c.Events), c.rate().Per1000()})
		}
	}
}

func (t *Trend) auditFigures() (figures []figure) {
	for w, warning := range t.Warnings {
		var all tally.Audit
		for _, m := range t.Tally.Months[t.Recent.First:] {
			a := m.Audits[w]
			all.Flights += a.Flights
			all.Missed, all.Late, all.Nuisance, all.WronglySilenced = all.Missed+a.Missed, all.Late+a.Late, all.Nuisance+a.Nuisance, all.WronglySilenced+a.WronglySilenced
			all.DueSeconds, all.SoundedSeconds, all.AgreementSeconds = all.DueSeconds+a.DueSeconds, all.SoundedSeconds+a.SoundedSeconds, all.AgreementSeconds+a.AgreementSeconds
		}
		figures = append(figures, figure{Title: strings.ReplaceAll(warning, "_", " "), SVG: t.drawAudit(w),
			Note: fmt.Sprintf("%s: %s %% agreement on %s; %d missed, %d late, %d nuisance, %d wrongly silenced", t.Name(t.Recent), decimals(100*all.Agreement()),
				plural(all.Flights, "flights"), all.Missed, all.Late, all.Nuisance, all.WronglySilenced)})
	}
	return figures
}

// monthHead and monthRow are the table of rules by month.
type monthHead struct {
	Short string
	New   bool // the recent period begins
}

type monthRow struct {
	Rule, Title string
	Cells       []monthCell
}

type monthCell struct {
	Month, Title   string
	Events         int
	Able           float64
	High, Low, New bool // beyond the limits; the recent period begins
}

const mostMonths = 24

func (p *page) addMonths() {
	months := p.Trend.Tally.Months
	from := max(0, len(months)-mostMonths)
	for m := from; m < len(months); m++ {
		p.Months = append(p.Months, monthHead{months[m].Name[2:], m == p.Trend.Recent.First})
	}
	for r, rule := range p.Rules {
		chart, _ := p.ruleCharts(r)
		row := monthRow{Rule: rule, Title: p.title(rule)}
		for m := from; m < len(months); m++ {
			c, point := p.monthly[r][m], chart.Points[m]
			row.Cells = append(row.Cells, monthCell{Month: months[m].Name, Title: rateInWords(c), Events: c.Events, Able: c.Able(),
				High: point.Rate > point.High, Low: point.Rate < point.Low, New: m == p.Trend.Recent.First})
		}
		p.Rows = append(p.Rows, row)
	}
}

func rateInWords(c count) string {
	i := c.rate().Interval(Confidence)
	s := fmt.Sprintf("%s on %s flights able to show it: %s per 1,000 (%s to %s)", plural(c.Events, "events"), grouped(math.Round(c.Able())), decimals(c.rate().Per1000()), decimals(i.Low), decimals(i.High))
	if c.Partly > 0 {
		s += fmt.Sprintf("; %s partly evaluated", plural(int(c.Partly), "flights"))
	}
	return s
}
