package tally

import (
	"maps"
	"slices"
	"strings"
	"time"
)

// merge puts months read apart into common order: strata by their values, rules,
// measurements and warnings as the first month has them.
func merge(o Options, read []*monthTally) (*Tally, error) {
	t := &Tally{Columns: o.By, Titles: map[string]string{}, Recordings: map[string]Recording{}}
	strata := map[string]bool{}
	var rules, measurements, warnings numbering
	for _, m := range read {
		for _, values := range m.strata {
			if key := strings.Join(values, "\x00"); !strata[key] {
				strata[key] = true
				t.Strata = append(t.Strata, values)
			}
		}
		for _, name := range m.rules.names {
			rules.of(name)
		}
		for i, name := range m.measurements.names {
			if n := measurements.of(name); n == len(t.Measured) {
				t.Measured = append(t.Measured, Measured{name, m.units[i]})
			} else if t.Measured[n].Unit == "" {
				t.Measured[n].Unit = m.units[i]
			}
		}
		for _, name := range m.warnings.names {
			warnings.of(name)
		}
	}
	if len(t.Strata)*len(read)*len(rules.names) > mostCells {
		return nil, tooMany(o.Archive, len(t.Strata), o)
	}
	slices.SortFunc(t.Strata, slices.Compare[[]string])
	t.Rules, t.Warnings = rules.names, warnings.names
	place := map[string]int{}
	for i, values := range t.Strata {
		place[strings.Join(values, "\x00")] = i
	}
	for i, m := range read {
		t.add(m, place, &rules, &measurements, &warnings)
		read[i] = nil
	}
	return t, nil
}

// add appends a month, and empty ones before it where the calendar has some
// between.
func (t *Tally) add(m *monthTally, place map[string]int, rules, measurements, warnings *numbering) {
	for n := len(t.Months); n > 0 && after(t.Months[n-1].Name) < m.name; n++ {
		t.Months = append(t.Months, t.emptyMonth(after(t.Months[n-1].Name)))
	}
	month := t.emptyMonth(m.name)
	to := make([]int, len(m.strata))
	for s, values := range m.strata {
		to[s] = place[strings.Join(values, "\x00")]
		month.Flights[to[s]] = m.flights[s]
	}
	for r, name := range m.rules.names {
		for s, cell := range m.cells[r] {
			month.Cells[rules.of(name)][to[s]] = cell
		}
	}
	for n, name := range m.measurements.names {
		for s := range m.values[n] {
			month.Values[measurements.of(name)][to[s]] = m.values[n][s].Sample
		}
	}
	for w, name := range m.warnings.names {
		month.Audits[warnings.of(name)] = m.audits[w]
	}
	month.Events = m.events
	for i := range month.Events {
		e := &month.Events[i]
		e.Rule, e.Stratum = rules.of(m.rules.names[e.Rule]), to[e.Stratum]
	}
	maps.Copy(t.Titles, m.titles)
	maps.Copy(t.Recordings, m.recordings)
	t.Orphans += m.orphans
	t.Uncounted += m.uncounted
	t.OneAFlight += m.oneAFlight
	t.Values += m.allValues
	t.Possible += m.possible
	t.False += m.falseOnes
	t.Beside += m.beside
	t.Joined += m.joined
	t.Alone += m.alone
	t.Months = append(t.Months, month)
}

func (t *Tally) emptyMonth(name string) Month {
	m := Month{Name: name, Flights: make([]int, len(t.Strata)), Audits: make([]Audit, len(t.Warnings)),
		Cells: make([][]Cell, len(t.Rules)), Values: make([][]Sample, len(t.Measured))}
	for r := range m.Cells {
		m.Cells[r] = make([]Cell, len(t.Strata))
	}
	for n := range m.Values {
		m.Values[n] = make([]Sample, len(t.Strata))
	}
	return m
}

// after is the month after YYYY-MM; one that is no month ends the calendar.
func after(month string) string {
	at, err := time.Parse("2006-01", month)
	if err != nil {
		return "~"
	}
	return at.AddDate(0, 1, 0).Format("2006-01")
}
