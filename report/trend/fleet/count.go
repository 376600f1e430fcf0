package fleet

import (
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"downlock/report/trend/tally"
)

// Tally returns the fleet as a Tally straight away, without tables: events are
// Poisson with the rate times the flights able to show them. As in the tables, one
// flight in thirty is known in part and the larger type does without every ninth
// rule.
func (f Fleet) Tally() (*tally.Tally, error) {
	rules, err := f.rules()
	if err != nil {
		return nil, err
	}
	t := &tally.Tally{Columns: []string{tally.TypeColumn, tally.RegistrationColumn}, Titles: map[string]string{}, Warnings: warnings}
	for _, r := range rules {
		t.Rules = append(t.Rules, r.ID)
	}
	for _, m := range measured {
		t.Measured = append(t.Measured, tally.Measured{Name: m.name, Unit: m.unit})
	}
	for a := range f.Aircraft {
		t.Strata = append(t.Strata, []string{f.aircraftType(a), f.airframe(a)})
	}
	for month := range f.Months {
		t.Months = append(t.Months, f.tallyMonth(month))
	}
	return t, nil
}

func (f Fleet) tallyMonth(month int) tally.Month {
	source := f.source(month)
	rates := f.baseRates()
	each := max(1, f.flightsIn(month)/f.Aircraft)
	m := tally.Month{Name: f.month(month).Format("2006-01"), Flights: make([]int, f.Aircraft), Cells: make([][]tally.Cell, f.Rules),
		Values: make([][]tally.Sample, len(measured)), Audits: make([]tally.Audit, len(warnings))}
	for a := range m.Flights {
		m.Flights[a] = each
	}
	for r := range m.Cells {
		m.Cells[r] = make([]tally.Cell, f.Aircraft)
		for a := range m.Cells[r] {
			cell := &m.Cells[r][a]
			if f.without(r, a) {
				cell.NotEvaluable = int32(each)
				continue
			}
			cell.Partly = int32(distuv.Binomial{N: float64(each), P: partlyShare, Src: source}.Rand())
			cell.Evaluated = int32(each) - cell.Partly
			for range cell.Partly {
				cell.Known += source.Float64()
			}
			cell.Opportunities = cell.Able() // one a flight
			n := int(distuv.Poisson{Lambda: cell.Able() * rates[r] * f.factor(r, month, a), Src: source}.Rand())
			for range n {
				m.Events = append(m.Events, tally.Event{Flight: strconv.Itoa(len(m.Events)), Phase: "approach", Rule: r, Stratum: a,
					Severity: tally.Severity(source.IntN(3)), Certain: source.IntN(4) > 0})
			}
		}
	}
	for n, what := range measured {
		m.Values[n] = make([]tally.Sample, f.Aircraft)
		for a := range m.Values[n] {
			for range each {
				for i, value := range f.values(source, n, what.mean+f.slower(n, month, a)) {
					m.Values[n][a].Add(value, i > 0)
				}
			}
		}
	}
	return m
}
