package trend

import (
	"bytes"
	"cmp"
	"embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"downlock/report"
	"downlock/report/script"
	"downlock/report/trend/tally"
)

//go:embed templates
var templateFiles embed.FS

// page is what trend.html is filled with.
type page struct {
	*Trend
	Span, Recent, Before, Columns, Counted string
	Flights, Expected                      float64
	Events                                 severityCount // or occurrences
	LevelPercent, Sureness                 string
	Fewest                                 int
	Notes, Method                          []string
	Signals                                []signal
	FewSignals                             []rateChart // rules with signals on too few events
	RateGroups                             []rateGroup
	Few, Silent, Never, NoChance           []rateChart // rules without a chart
	Audits                                 []figure
	Measurements                           []figure
	FewMeasured                            []figure // measurements without a chart
	Airframes                              bool
	Months                                 []monthHead
	Rows                                   []monthRow
}

type figure struct {
	Title, Unit, Anchor string
	Note                template.HTML
	drawing
	Groups drawing // the aircraft
}

// severityCount is a number of events by severity.
type severityCount [tally.Severities]int

func (s severityCount) All() int    { return s[tally.Low] + s[tally.Medium] + s[tally.High] }
func (s severityCount) High() int   { return s[tally.High] }
func (s severityCount) Medium() int { return s[tally.Medium] }
func (s severityCount) Low() int    { return s[tally.Low] }

// totals counts the flights, and the events or occurrences.
func (t *Trend) totals() (flights int, events severityCount) {
	for m := range t.Tally.Months {
		for _, n := range t.Tally.Months[m].Flights {
			flights += n
		}
		for _, e := range t.Tally.Months[m].Events {
			events[e.Severity]++
		}
	}
	return flights, events
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
	pages := t.pageNames()
	return template.New("").Funcs(template.FuncMap{
		"style":       func() template.CSS { return style + template.CSS(own) },
		"policy":      policy,
		"scripts":     func() []template.JS { return []template.JS{template.JS(script.Table), template.JS(script.Chart)} },
		"cautions":    cautions,
		"plural":      func(n any, nouns string) string { return plural(int(number(n)), nouns) },
		"capital":     capital,
		"whole":       func(n any) string { return grouped(number(n)) },
		"sum":         func(a, b int) int { return a + b },
		"decimals":    func(x any) string { return decimals(number(x)) },
		"flightsPage": func(id string) string { return cmp.Or(pages.rules[id], pages.measurements[id]) },
	}).ParseFS(templateFiles, "templates/*.html")
}

// policy is the content security policy of a page, with scripts or without.
func policy(scripts bool) string {
	if scripts {
		return script.Policy(script.Table, script.Chart)
	}
	return script.Policy()
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
	p := &page{Trend: t, Span: t.Name(t.whole()), Recent: t.Name(t.Recent), Before: t.Name(t.Before), Fewest: Fewest}
	flights, events := t.totals()
	p.Flights, p.Events = float64(flights), events
	columns := slices.Clone(t.Columns)
	if !t.tellsAircraftApart() {
		columns = slices.DeleteFunc(columns, func(c string) bool { return c == tally.RegistrationColumn })
	}
	p.Columns = strings.ReplaceAll(strings.Join(columns, ", "), "_", " ")
	p.Columns = strings.Replace(p.Columns, tally.TypeColumn, "aircraft type", 1)
	p.Counted = t.counted()
	p.LevelPercent = decimals(100 * t.Level)
	p.Sureness = fmt.Sprintf("is the chance that even one of %s comparisons is called significant if nothing changed (Holm's correction).", grouped(float64(t.Tests)))
	if t.Correction == BenjaminiHochberg {
		p.Sureness = fmt.Sprintf("of what is called significant among %s comparisons is expected to be false (Benjamini and Hochberg's correction).", grouped(float64(t.Tests)))
	}
	p.Expected = math.Round(0.05 * float64(t.Tests))
	p.Notes, p.Method = t.notes(), t.method()
	p.addRates()
	p.addMonths()
	p.Audits = t.auditFigures()
	p.addMeasurements()
	return p
}

// counted says which events count.
func (t *Trend) counted() string {
	s := "Certain and possible events are counted."
	if t.CertainOnly {
		s = fmt.Sprintf("Only certain events are counted; %s possible ones are not.", grouped(float64(t.Possible)))
	}
	if t.Occurrences {
		s += " Events of one cause in a flight are one occurrence. They count once, under the rule of the most severe one."
	}
	return s
}

// notes are the facts the reader must know before any number.
func (t *Trend) notes() (notes []string) {
	for _, doubt := range t.Doubts {
		notes = append(notes, "The archive: "+doubt+".")
	}
	if name := t.NotOver(); name != "" {
		notes = append(notes, fmt.Sprintf("%s is not over: it is the month of the last addition to the archive. It is shown, hollow in the charts, and not compared.", name))
	}
	if len(t.Distant) > 0 {
		notes = append(notes, fmt.Sprintf("Left out, because more than two years without a flight follow: %s. A wrong date of a recorder may be the cause; --from and --to choose the months.", strings.Join(t.Distant, ", ")))
	}
	if t.Undated > 0 {
		notes = append(notes, fmt.Sprintf("Without a date, so in no month and not counted: %s.", plural(t.Undated, "flights")))
	}
	if t.Orphans > 0 {
		notes = append(notes, fmt.Sprintf("%s of the tables belong to no flight, because a scan wrote to the archive while it was read. Run trend again.", plural(t.Orphans, "rows")))
	}
	if !t.PerOpportunity() {
		notes = append(notes, fmt.Sprintf("All rates are per 1,000 flights, because the archive has %s from before opportunities were counted. `downlock scan --rescan` counts them; --from leaves old months out.", plural(t.Uncounted, "evaluations")))
	}
	if t.OneAFlight > 0 && t.OneAFlight < t.Values {
		notes = append(notes, fmt.Sprintf("%s of %s of measurements are of flights scanned before each approach, landing and gear movement was measured. Of those flights only one value was kept, the first or the last. If the two periods differ in that, a measurement may seem to have changed. `downlock scan --rescan` measures all; --from leaves old months out.", grouped(float64(t.OneAFlight)), plural(t.Values, "values")))
	}
	if t.Alone > 0 {
		notes = append(notes, fmt.Sprintf("Written before occurrences were recorded, so each counts as one occurrence: %s. If the two periods differ in that, rates may seem to have fallen. `downlock scan --rescan` records occurrences; --from leaves old months out.", plural(t.Alone, "events")))
	}
	if !t.SameSeason() {
		notes = append(notes, fmt.Sprintf("%s and %s are not the same months of the year: a seasonal difference looks like a change.", t.Name(t.Before), t.Name(t.Recent)))
	}
	if t.Reviewed {
		notes = append(notes, fmt.Sprintf("With the verdict false, so not counted here or by the SQL below: %s.", plural(t.False, "events")))
	}
	return notes
}

// denominator says what rates divide by.
func (t *Trend) denominator() string {
	flights := "the flights on which the rule was evaluated. A partly evaluated flight counts by the known part of the rule's scope. Flights on which the rule was not evaluable, and flights without an opportunity, do not count."
	if !t.PerOpportunity() {
		return "A rate divides by " + flights
	}
	return "A rate divides by opportunities: the chances for an event, such as the approaches or landings of each flight. An evaluated opportunity counts; a partly evaluated one counts by the known part. Beside it is the rate per 1,000 flights, which divides by " + flights
}

// countedOnce says how often events of one cause count.
func (t *Trend) countedOnce() string {
	if t.Occurrences {
		return "Occurrences are counted: events of one cause in a flight count once (they overlap or lie within a minute, are in one phase of flight, and one follows from another or both from a third). The most severe event decides the rule, severity and phase; among equals, the first. So nothing counts twice, and a rule whose events always follow from a more severe one has none. `trend --count events` counts every event under its own rule."
	}
	return "Every event is counted, under its own rule, even if several have one cause. `trend --count occurrences` counts those once, under the rule of the most severe one."
}

func (t *Trend) method() []string {
	correction := "Holm's correction keeps the chance of even one false alarm among all of them at"
	if t.Correction == BenjaminiHochberg {
		correction = "Benjamini and Hochberg's correction keeps the expected share of false alarms among all alarms at"
	}
	list := []string{
		t.countedOnce(),
		t.denominator(),
		"Intervals of rates are exact 95 % Poisson intervals (Garwood). Two rates are compared by the exact conditional binomial test, two-sided; the interval of their ratio follows from it.",
		fmt.Sprintf("%s comparisons were made: for every rule and measurement, the recent period with the earlier one and every group with the rest; and the season of every rule. %s %s %%. With fewer than %d %s in both parts together, no comparison is made.", grouped(float64(t.Tests)), correction, decimals(100*t.Level), Fewest, t.Nouns()),
		fmt.Sprintf("If a rule has several %s on one flight, %s are compared in place of %[1]s, each counted once.", t.Nouns(), t.unitNouns(ofFlights)),
		"Charts: three-sigma limits around the rate of the months before the recent period, following each month's number of opportunities or flights; run rules after the Western Electric handbook; exponentially weighted moving average, weight 0.2, limits at 2.962 sigma.",
		"Seasonal means a yearly wave in a Poisson regression that allows for a steady drift.",
		"A measurement of each approach, landing or gear movement has one value for each of them; charts, medians and shares are of all values. The values of one flight are not independent of each other, so the rank-sum test that compares measurements takes one value from each flight, its median (the lower of the middle two). A measurement stands out if the test is significant and the difference is large enough to matter: a chance of 56 % (all flights) or 64 % (a group) that it is above one of the other, and for a group its median far out (Tukey's outer fences) where there are eight or more of its kind.",
	}
	if !t.tellsAircraftApart() {
		list = append(list, "The individual aircraft is not known for any flight. Give it with `scan --aircraft`, or let `trend --airframe` find it in the names of recordings.")
	}
	return list
}
