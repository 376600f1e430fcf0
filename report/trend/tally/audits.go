package tally

import "downlock/schemas"

// auditColumns are the columns of one row group that are added up.
type auditColumns struct {
	due, sounded, missed, late, nuisance, silenced, wronglySilenced []int32
	dueSeconds, soundedSeconds, agreementSeconds                    []float64
}

func (g *group) readAuditColumns() (c auditColumns, err error) {
	for name, to := range map[string]*[]int32{"due": &c.due, "sounded": &c.sounded, "missed": &c.missed, "late": &c.late,
		"nuisance": &c.nuisance, "silenced": &c.silenced, "wrongly_silenced": &c.wronglySilenced} {
		if *to, err = g.readInts(name, nil); err != nil {
			return c, err
		}
	}
	for name, to := range map[string]*[]float64{"due_seconds": &c.dueSeconds, "sounded_seconds": &c.soundedSeconds,
		"agreement_seconds": &c.agreementSeconds} {
		if *to, err = g.readFloats(name, nil); err != nil {
			return c, err
		}
	}
	return c, nil
}

// add adds one row.
func (a *Audit) add(c *auditColumns, row int) {
	a.Flights++
	a.Due += int(c.due[row])
	a.Sounded += int(c.sounded[row])
	a.Missed += int(c.missed[row])
	a.Late += int(c.late[row])
	a.Nuisance += int(c.nuisance[row])
	a.Silenced += int(c.silenced[row])
	a.WronglySilenced += int(c.wronglySilenced[row])
	a.DueSeconds += c.dueSeconds[row]
	a.SoundedSeconds += c.soundedSeconds[row]
	a.AgreementSeconds += c.agreementSeconds[row]
}

// Add adds another.
func (a *Audit) Add(b Audit) {
	a.Flights += b.Flights
	a.Due += b.Due
	a.Sounded += b.Sounded
	a.Missed += b.Missed
	a.Late += b.Late
	a.Nuisance += b.Nuisance
	a.Silenced += b.Silenced
	a.WronglySilenced += b.WronglySilenced
	a.DueSeconds += b.DueSeconds
	a.SoundedSeconds += b.SoundedSeconds
	a.AgreementSeconds += b.AgreementSeconds
}

// readAudits adds up the warnings.
func (m *monthTally) readAudits(o Options) error {
	var flights, warnings, coverages words
	var strata []int
	return eachGroup(partPath(o.Archive, schemas.AuditsTable, m.name), func(g *group) error {
		for name, w := range map[string]*words{"flight_id": &flights, "warning": &warnings, "coverage": &coverages} {
			if err := g.readWords(name, w); err != nil {
				return err
			}
		}
		columns, err := g.readAuditColumns()
		if err != nil {
			return err
		}
		strata = m.stratumOfWords(&flights, strata)
		number := make([]int, len(warnings.list))
		for i, name := range warnings.list {
			number[i] = m.warnings.of(name)
		}
		for len(m.audits) < len(m.warnings.names) {
			m.audits = append(m.audits, Audit{})
		}
		for row, flight := range flights.index {
			c := coverages.at(row)
			switch {
			case strata[flight] < 0:
				m.orphans++
			case c == evaluated || c == partlyEvaluated:
				m.audits[number[warnings.index[row]]].add(&columns, row)
			}
		}
		return nil
	})
}
