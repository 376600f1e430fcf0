package tally

import (
	"math"

	"downlock/schemas"
)

// monthTally is one month while it is read: rules, strata, measurements and
// warnings are numbered as they come, and put in common order by merge.
type monthTally struct {
	name      string
	strata    [][]string
	flights   []int
	stratumOf map[string]int // by flight id

	rules, measurements, warnings numbering
	titles                        map[string]string
	units                         []string
	cells                         [][]Cell
	events                        []Event
	values                        [][]growing
	audits                        []Audit
	recordings                    map[string]Recording

	orphans, uncounted, possible, falseOnes, oneAFlight, allValues int
	beside, joined, alone                                          int
}

// growing is a sample and the flight of its last value.
type growing struct {
	Sample
	flight string
}

// numbering numbers names as they come.
type numbering struct {
	names  []string
	number map[string]int
}

func (n *numbering) of(name string) int {
	i, ok := n.number[name]
	if !ok {
		if n.number == nil {
			n.number = map[string]int{}
		}
		i = len(n.names)
		n.number[name] = i
		n.names = append(n.names, name)
	}
	return i
}

func readMonth(o Options, name string) (*monthTally, error) {
	m := &monthTally{name: name, stratumOf: map[string]int{}, titles: map[string]string{}}
	for _, read := range []func(Options) error{m.readFlights, m.readEvaluations, m.readEvents, m.readRecordings, m.readMeasurements, m.readAudits} {
		if err := read(o); err != nil {
			return nil, err
		}
	}
	m.stratumOf = nil
	return m, nil
}

// stratumOfWords finds the stratum of every flight in a dictionary, -1 for one
// that is not there.
func (m *monthTally) stratumOfWords(flights *words, out []int) []int {
	out = out[:0]
	for _, id := range flights.list {
		s, ok := m.stratumOf[id]
		if !ok {
			s = -1
		}
		out = append(out, s)
	}
	return out
}

// Coverages as the table writes them.
const (
	evaluated       = "evaluated"
	partlyEvaluated = "partly evaluated"
	noOpportunity   = "no opportunity"
)

// readEvaluations counts the flights that could have shown each event. This is
// the largest table by far: a row per flight and rule.
func (m *monthTally) readEvaluations(o Options) error {
	var flights, rules, coverages words
	var scope, unknown, open []float64
	var strata []int
	return eachGroup(partPath(o.Archive, schemas.EvaluationsTable, m.name), func(g *group) error {
		for name, w := range map[string]*words{"flight_id": &flights, "rule": &rules, "coverage": &coverages} {
			if err := g.readWords(name, w); err != nil {
				return err
			}
		}
		partly := false
		for _, c := range coverages.list {
			partly = partly || c == partlyEvaluated
		}
		if partly { // else nobody needs the two columns
			var err error
			if scope, err = g.readFloats("scope_seconds", scope); err != nil {
				return err
			}
			if unknown, err = g.readFloats("unknown_seconds", unknown); err != nil {
				return err
			}
		}
		open = open[:0]
		if g.chunk("opportunities_known") != nil { // else the month was written before it was added
			var err error
			if open, err = g.readFloats("opportunities_known", open); err != nil {
				return err
			}
		}
		strata = m.stratumOfWords(&flights, strata)
		m.countEvaluations(&flights, &rules, &coverages, strata, scope, unknown)
		m.countOpportunities(&flights, &rules, &coverages, strata, open)
		return nil
	})
}

func (m *monthTally) countEvaluations(flights, rules, coverages *words, strata []int, scope, unknown []float64) {
	cells := make([][]Cell, len(rules.list))
	for i, rule := range rules.list {
		cells[i] = m.cellsOf(m.rules.of(rule))
	}
	whole, part, none := coverages.place(evaluated), coverages.place(partlyEvaluated), coverages.place(noOpportunity)
	for row, flight := range flights.index {
		s := strata[flight]
		if s < 0 {
			m.orphans++
			continue
		}
		cell := &cells[rules.index[row]][s]
		switch coverages.index[row] {
		case whole:
			cell.Evaluated++
		case part:
			cell.Partly++
			if scope[row] > 0 {
				cell.Known += 1 - min(max(unknown[row]/scope[row], 0), 1)
			}
		case none:
			cell.NoOpportunity++
		default:
			cell.NotEvaluable++
		}
	}
}

// countOpportunities adds up the opportunities evaluated; open has none, or not a
// number, for rows from before they were counted.
func (m *monthTally) countOpportunities(flights, rules, coverages *words, strata []int, open []float64) {
	cells := make([][]Cell, len(rules.list))
	for i, rule := range rules.list {
		cells[i] = m.cellsOf(m.rules.of(rule))
	}
	whole, part := coverages.place(evaluated), coverages.place(partlyEvaluated)
	for row, flight := range flights.index {
		s, coverage := strata[flight], coverages.index[row]
		switch {
		case s < 0 || coverage != whole && coverage != part:
		case len(open) == 0 || math.IsNaN(open[row]):
			m.uncounted++
		default:
			cells[rules.index[row]][s].Opportunities += open[row]
		}
	}
}

// cellsOf returns the cells of a rule.
func (m *monthTally) cellsOf(rule int) []Cell {
	for len(m.cells) <= rule {
		m.cells = append(m.cells, make([]Cell, len(m.strata)))
	}
	return m.cells[rule]
}

// readMeasurements keeps the values that were measured. Those of one flight come one
// after the other.
func (m *monthTally) readMeasurements(o Options) error {
	var flights, names, units, opportunities words
	var values []float64
	var strata []int
	return eachGroup(partPath(o.Archive, schemas.MeasurementsTable, m.name), func(g *group) (err error) {
		for name, w := range map[string]*words{"flight_id": &flights, "measurement": &names, "unit": &units} {
			if err := g.readWords(name, w); err != nil {
				return err
			}
		}
		if values, err = g.readFloats("value", values); err != nil {
			return err
		}
		opportunities.index = opportunities.index[:0]
		if g.chunk("opportunity") != nil { // else the month was written before it was added
			if err := g.readWords("opportunity", &opportunities); err != nil {
				return err
			}
		}
		strata = m.stratumOfWords(&flights, strata)
		number := make([]int, len(names.list))
		for i, name := range names.list {
			number[i] = m.measurements.of(name)
		}
		for len(m.values) < len(m.measurements.names) {
			m.values, m.units = append(m.values, make([]growing, len(m.strata))), append(m.units, "")
		}
		for row, value := range values {
			s := strata[flights.index[row]]
			if s < 0 {
				m.orphans++
			} else if n := number[names.index[row]]; !math.IsNaN(value) {
				to := &m.values[n][s]
				flight := flights.at(row)
				to.Add(value, flight == to.flight)
				to.flight = flight
				m.units[n] = units.at(row)
				m.allValues++
				if len(opportunities.index) == 0 || opportunities.index[row] < 0 {
					m.oneAFlight++
				}
			}
		}
		return nil
	})
}
