package tally

import "downlock/schemas"

const certain = "certain"

// readEvents keeps the events that count.
func (m *monthTally) readEvents(o Options) error {
	var flights, rules, titles, severities, certainties, phases, ids words
	var strata []int
	return eachGroup(partPath(o.Archive, schemas.EventsTable, m.name), func(g *group) error {
		columns := map[string]*words{"flight_id": &flights, "rule": &rules, "title": &titles,
			"severity": &severities, "certainty": &certainties, "phase": &phases}
		if o.Rejected != nil {
			columns["event_id"] = &ids
		}
		for name, w := range columns {
			if err := g.readWords(name, w); err != nil {
				return err
			}
		}
		strata = m.stratumOfWords(&flights, strata)
		for row, flight := range flights.index {
			rule := rules.at(row)
			m.titles[rule] = titles.at(row)
			isCertain := certainties.at(row) == certain
			switch {
			case strata[flight] < 0:
				m.orphans++
			case o.Rejected != nil && o.Rejected(ids.at(row)):
				m.falseOnes++
			case o.CertainOnly && !isCertain:
				m.possible++
			default:
				number := m.rules.of(rule)
				m.cellsOf(number)
				m.events = append(m.events, Event{flights.at(row), phases.at(row), number, strata[flight], severityOf(severities.at(row)), isCertain})
			}
		}
		return nil
	})
}

func severityOf(word string) Severity {
	switch word {
	case "high":
		return High
	case "medium":
		return Medium
	}
	return Low
}
