package tally

import "downlock/schemas"

const certain = "certain"

// readEvents keeps the events that count.
func (m *monthTally) readEvents(o Options) error {
	var flights, rules, titles, severities, certainties, phases, ids, occurrences words
	var strata []int
	leading := map[string]int{} // of each occurrence the place of the event that counts
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
		occurrences.index = occurrences.index[:0]
		if o.Occurrences && g.chunk("occurrence_id") != nil { // else the month was written before it was added
			if err := g.readWords("occurrence_id", &occurrences); err != nil {
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
				e := Event{Flight: flights.at(row), Phase: phases.at(row), Rule: number, Stratum: strata[flight], Severity: severityOf(severities.at(row)), Certain: isCertain}
				occurrence := ""
				if len(occurrences.index) > 0 {
					occurrence = occurrences.at(row)
				}
				if o.Occurrences && m.sameCause(occurrence, e, leading) {
					continue
				}
				m.events = append(m.events, e)
			}
		}
		return nil
	})
}

// sameCause reports that another event of the occurrence, "" for none, is there
// already. Of the two the more severe one then counts, of equal ones the first.
func (m *monthTally) sameCause(occurrence string, e Event, leading map[string]int) bool {
	if occurrence == "" {
		m.alone++
		return false
	}
	m.joined++
	i, known := leading[occurrence]
	if !known {
		leading[occurrence] = len(m.events)
		return false
	}
	m.beside++
	m.events[i].Further++
	if e.Severity > m.events[i].Severity {
		e.Further = m.events[i].Further
		m.events[i] = e
	}
	return true
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
