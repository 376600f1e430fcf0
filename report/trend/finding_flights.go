package trend

import (
	"cmp"
	"slices"

	"downlock/report/trend/tally"
)

// Flight is a flight behind a number: one with an event, or with a measurement.
type Flight struct {
	ID        string `json:"flight_id"`
	Month     string `json:"month"`
	Severity  string `json:"severity,omitempty"`
	Certainty string `json:"certainty,omitempty"`
	Further   int    `json:"further_events,omitempty"` // of the occurrence
	Value     string `json:"value,omitempty"`          // measured, with its unit
	Report    string `json:"report,omitempty"`
}

// mostFlights bounds the flights listed with a finding.
const mostFlights = 20

// flightsBehind lists flights with the events of a rule in the recent period, the
// most severe and newest first.
func (t *Trend) flightsBehind(rule int, g *group) (list []Flight, more int) {
	type dated struct {
		tally.Event
		month string
	}
	var events []dated
	for m := t.Recent.First; m <= t.Recent.Last; m++ {
		for _, e := range t.Tally.Months[m].Events {
			if e.Rule == rule && (g == nil || slices.Contains(g.strata, e.Stratum)) {
				events = append(events, dated{e, t.Tally.Months[m].Name})
			}
		}
	}
	slices.SortStableFunc(events, func(a, b dated) int {
		return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(b.month, a.month))
	})
	shown := events[:min(len(events), mostFlights)]
	for _, e := range shown {
		list = append(list, flight(e.Event, e.month))
	}
	return list, len(events) - len(shown)
}

func flight(e tally.Event, month string) Flight {
	certainty := "possible"
	if e.Certain {
		certainty = "certain"
	}
	return Flight{ID: e.Flight, Month: month, Severity: e.Severity.String(), Certainty: certainty, Further: int(e.Further)}
}

// measured are the flights with the highest and lowest values of a measurement in
// the recent period.
type measured struct{ Highest, Lowest []Flight }

// ReadFlights reads the flights behind the measurements from the archive, which a
// Tally does not keep. o are the options the tally was read with. The error is as that of
// tally.Read.
func (t *Trend) ReadFlights(o tally.Options) error {
	o.By = t.Columns
	o.From, o.To = t.Tally.Months[t.Recent.First].Name, t.Tally.Months[t.Recent.Last].Name
	var asked []tally.Extreme
	for _, m := range t.Measured {
		asked = append(asked, tally.Extreme{Measurement: m.Name, Most: mostFlights}, tally.Extreme{Measurement: m.Name, Most: mostFlights, Lowest: true})
	}
	var behind []*Finding
	for i := range t.Findings {
		if f := &t.Findings[i]; f.shift != nil && f.shift.Group != nil {
			place := slices.Index(t.Columns, f.Column)
			asked = append(asked, tally.Extreme{Measurement: f.Subject, Most: mostFlights, Lowest: f.shift.lower(),
				Of: func(stratum []string) bool { return stratum[place] == f.Value }})
			behind = append(behind, f)
		}
	}
	found, recordings, err := tally.Extremes(o, asked)
	if err != nil {
		return err
	}
	for id, r := range recordings {
		t.Recordings[id] = r
	}
	t.measured = make([]measured, len(t.Measured))
	for n, m := range t.Measured {
		t.measured[n] = measured{flightsOf(found[2*n], m.Unit), flightsOf(found[2*n+1], m.Unit)}
	}
	for i, f := range behind {
		f.Flights = flightsOf(found[2*len(t.Measured)+i], t.Measured[f.shift.Measurement].Unit)
		f.More = f.shift.First.Flights - len(f.Flights)
	}
	for i := range t.Findings {
		if f := &t.Findings[i]; f.shift != nil && f.shift.Group == nil {
			ends := t.measured[f.shift.Measurement]
			f.Flights = ends.Highest
			if f.shift.lower() {
				f.Flights = ends.Lowest
			}
			f.More = f.shift.First.Flights - len(f.Flights)
		}
	}
	return nil
}

// lower says that the first is the lower one.
func (s *shift) lower() bool { return s.First.Median < s.Second.Median }

func flightsOf(readings []tally.Reading, unit string) (list []Flight) {
	for _, r := range readings {
		list = append(list, Flight{ID: r.Flight, Month: r.Month, Value: quantity(r.Value, unit)})
	}
	return list
}

// Link leads flights to their reports, by id, as seen from the page.
func (t *Trend) Link(reports map[string]string) {
	t.reports = reports
	link := func(list []Flight) {
		for i := range list {
			list[i].Report = reports[list[i].ID]
		}
	}
	for _, findings := range [][]Finding{t.Findings, t.Improvements, t.Doubtful} {
		for i := range findings {
			link(findings[i].Flights)
		}
	}
	for _, m := range t.measured {
		link(m.Highest)
		link(m.Lowest)
	}
}
