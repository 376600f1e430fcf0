package report

import "slices"

// auditTotal is one warning over all flights of a run.
type auditTotal struct {
	Warning string `json:"warning"`
	Title   string `json:"title"`
	auditCounts
	DueSeconds     number `json:"due_seconds"`
	SoundedSeconds number `json:"sounded_seconds"`
	SwitchUses     int    `json:"switch_uses"`
}

// auditTotals sums up per warning, in the order of the packs.
func auditTotals(entries []FlightEntry) []auditTotal {
	totals := []auditTotal{}
	place := map[string]int{}
	for _, entry := range entries {
		for _, a := range entry.doc.Audits {
			i, known := place[a.Warning]
			if !known {
				i = len(totals)
				place[a.Warning] = i
				totals = append(totals, auditTotal{Warning: a.Warning, Title: a.Title})
			}
			t := &totals[i]
			t.add(a)
			t.DueSeconds += a.DueSeconds
			t.SoundedSeconds += a.SoundedSeconds
			t.SwitchUses += len(a.SwitchUses)
		}
	}
	return totals
}

// measurementTotal is one measurement over all flights of a run: what became of
// it on how many flights, and the values on which it was measured, null where on
// none.
type measurementTotal struct {
	Measurement string        `json:"measurement"`
	Title       string        `json:"title"`
	Group       string        `json:"group"`
	Definition  string        `json:"definition"`
	Unit        string        `json:"unit"`
	Flights     outcomeCounts `json:"flights"`
	Smallest    *number       `json:"smallest"`
	Median      *number       `json:"median"`
	Largest     *number       `json:"largest"`
}

// measurementTotals sums up per measurement, in the order of the packs.
func measurementTotals(entries []FlightEntry) []measurementTotal {
	totals := []measurementTotal{}
	values := [][]number{}
	place := map[string]int{}
	for _, entry := range entries {
		for _, m := range entry.doc.Measurements {
			i, known := place[m.Measurement]
			if !known {
				i = len(totals)
				place[m.Measurement] = i
				totals = append(totals, measurementTotal{Measurement: m.Measurement, Title: m.Title, Group: m.Group, Definition: m.Definition, Unit: m.Unit})
				values = append(values, nil)
			}
			totals[i].Flights.add(m.Outcome)
			if m.Value != nil {
				values[i] = append(values[i], *m.Value)
			}
		}
	}
	for i := range totals {
		if n := len(values[i]); n > 0 {
			slices.Sort(values[i])
			median := (values[i][(n-1)/2] + values[i][n/2]) / 2
			totals[i].Smallest, totals[i].Median, totals[i].Largest = &values[i][0], &median, &values[i][n-1]
		}
	}
	return totals
}
