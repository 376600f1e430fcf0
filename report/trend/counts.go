package trend

import (
	"slices"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// count is the events of one rule on some flights, or the occurrences counted under it.
type count struct {
	tally.Cell
	Open     float64 // what rates divide by: opportunities, or flights able
	Events   int
	With     int // flights with one event or more
	Squares  int // of the events per flight, added up
	Severity [tally.Severities]int
}

func (c *count) add(d count) {
	c.Cell.Add(d.Cell)
	c.Open += d.Open
	c.Events += d.Events
	c.With += d.With
	c.Squares += d.Squares
	for i := range d.Severity {
		c.Severity[i] += d.Severity[i]
	}
}

func (c count) rate() statistics.Rate { return statistics.Rate{Events: c.Events, Flights: c.Open} }

// perFlight is the rate beside it: events on the flights able to show one.
func (c count) perFlight() statistics.Rate {
	return statistics.Rate{Events: c.Events, Flights: c.Able()}
}

// PerOpportunity says whether rates divide by opportunities. An archive with
// flights from before they were counted divides by flights throughout: two periods
// are only compared in one measure.
func (t *Trend) PerOpportunity() bool { return t.Uncounted == 0 }

// What rates divide by, in words.
const (
	byOpportunities = "opportunities"
	byFlights       = "flights"
)

// Per is what rates of events divide by.
func (t *Trend) Per() string {
	if t.PerOpportunity() {
		return byOpportunities
	}
	return byFlights
}

// dividedBy is the divisor of the rates of a comparison: flights with an event are
// a share of the flights.
func (t *Trend) dividedBy(u unit) string {
	if u == ofFlights {
		return byFlights
	}
	return t.Per()
}

// mostClumped is the ratio of variance to mean of the number of events, above
// which they come in clumps: several in a flight. Then flights with an event are
// compared, each counted once, because the tests take events for independent.
const mostClumped = 1.2

// unit is what comparisons of a rule count: all events or occurrences, or the flights
// that have some.
type unit bool

const (
	ofEvents  unit = false
	ofFlights unit = true
)

// unit looks at all of a rule's events: the number of events is a compound
// Poisson variable with variance Σx² where its mean is Σx, x the events of a
// flight that has some.
func (c count) unit() unit {
	if float64(c.Squares) > mostClumped*float64(c.Events) {
		return ofFlights
	}
	return ofEvents
}

// in returns the rate in a unit.
func (c count) in(u unit) statistics.Rate {
	if u == ofFlights {
		return statistics.Rate{Events: c.With, Flights: c.Able()}
	}
	return c.rate()
}

// counts are those of one period, by rule and stratum, and by rule and phase.
type counts struct {
	cells   [][]count
	phases  []map[string]int
	flights []int // by stratum
}

// count adds up months and the two periods.
func (t *Trend) count() {
	t.monthly = make([][]count, len(t.Rules))
	for r := range t.monthly {
		t.monthly[r] = make([]count, len(t.Tally.Months))
	}
	for _, p := range []Period{t.Before, t.Recent} {
		c := &counts{cells: make([][]count, len(t.Rules)), phases: make([]map[string]int, len(t.Rules)), flights: make([]int, len(t.Strata))}
		for r := range c.cells {
			c.cells[r], c.phases[r] = make([]count, len(t.Strata)), map[string]int{}
		}
		t.counts[p] = c
	}
	for m := range t.Tally.Months {
		t.countMonth(m)
	}
}

func (t *Trend) countMonth(m int) {
	month := &t.Tally.Months[m]
	cells := make([][]count, len(t.Rules))
	for r := range cells {
		cells[r] = make([]count, len(t.Strata))
		for s, cell := range month.Cells[r] {
			cells[r][s].Cell, cells[r][s].Open = cell, cell.Able()
			if t.PerOpportunity() {
				cells[r][s].Open = cell.Opportunities
			}
		}
	}
	var phases []map[string]int
	for p, c := range t.counts {
		if p.has(m) {
			phases = c.phases
			for s, n := range month.Flights {
				c.flights[s] += n
			}
		}
	}
	countEvents(month.Events, cells, phases)
	for r := range cells {
		for s := range cells[r] {
			t.monthly[r][m].add(cells[r][s])
			for p, c := range t.counts {
				if p.has(m) {
					c.cells[r][s].add(cells[r][s])
				}
			}
		}
	}
}

// countEvents counts events into cells. Those of a flight follow each other in
// the table, so that the last flight of a rule tells whether this is a new one.
func countEvents(events []tally.Event, cells [][]count, phases []map[string]int) {
	last := make([]string, len(cells))
	inFlight := make([]int, len(cells))
	for _, e := range events {
		c := &cells[e.Rule][e.Stratum]
		if last[e.Rule] != e.Flight {
			last[e.Rule], inFlight[e.Rule] = e.Flight, 0
			c.With++
		}
		inFlight[e.Rule]++
		c.Squares += 2*inFlight[e.Rule] - 1 // n² is the sum of the first n odd numbers
		c.Events++
		c.Severity[e.Severity]++
		if phases != nil {
			phases[e.Rule][e.Phase]++
		}
	}
}

// of adds up a rule in a period over strata, all of them for nil.
func (t *Trend) of(rule int, p Period, strata []int) (sum count) {
	cells := t.counts[p].cells[rule]
	if strata == nil {
		for _, c := range cells {
			sum.add(c)
		}
	}
	for _, s := range strata {
		sum.add(cells[s])
	}
	return sum
}

// group is the flights with one value in a column, and those it is held
// against: all others, of the same aircraft type where the type is known.
type group struct {
	Column, Value string
	strata, rest  []int
	Against       string // the rest, in words
}

// kind is the same for groups that are held against each other.
func (g *group) kind() string { return g.Column + "\x00" + g.Against }

// groups lists every value of every column that some flights have and others
// have not.
func (t *Trend) groups() []group {
	var out []group
	typeAt := slices.Index(t.Columns, tally.TypeColumn)
	for i, column := range t.Columns {
		byValue := map[string][]int{}
		var values []string
		for s, stratum := range t.Strata {
			if _, ok := byValue[stratum[i]]; !ok {
				values = append(values, stratum[i])
			}
			byValue[stratum[i]] = append(byValue[stratum[i]], s)
		}
		slices.Sort(values)
		for _, value := range values {
			g := group{Column: column, Value: value, strata: byValue[value], Against: "all other flights"}
			ofType := ""
			if column == tally.RegistrationColumn && typeAt >= 0 && value != "" {
				ofType = t.Strata[g.strata[0]][typeAt]
				g.Against = "the other aircraft of type " + ofType
			}
			for s, stratum := range t.Strata {
				if stratum[i] != value && (ofType == "" || stratum[typeAt] == ofType) {
					g.rest = append(g.rest, s)
				}
			}
			if len(g.rest) > 0 && value != "" {
				out = append(out, g)
			}
		}
	}
	return out
}

// tellsAircraftApart says whether the individual aircraft of some flights is
// known.
func (t *Trend) tellsAircraftApart() bool {
	i := slices.Index(t.Columns, tally.RegistrationColumn)
	return i >= 0 && slices.ContainsFunc(t.Strata, func(values []string) bool { return values[i] != "" })
}
