package desk

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"downlock/report"
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// flightFacts are the columns of a flight that its pages show.
type flightFacts struct {
	Recording          string    `parquet:"recording,dict"`
	RecordingName      string    `parquet:"recording_name"`
	FlightID           string    `parquet:"flight_id"`
	Number             int32     `parquet:"number"`
	Aircraft           string    `parquet:"aircraft,dict"`
	Version            string    `parquet:"version,dict"`
	StartUTC           time.Time `parquet:"start_utc,optional,timestamp(millisecond)"`
	Registration       string    `parquet:"registration,optional,dict"`
	DepartureAerodrome string    `parquet:"departure_aerodrome,optional,dict"`
	ArrivalAerodrome   string    `parquet:"arrival_aerodrome,optional,dict"`
}

// found is an occurrence with all that the archive holds of it.
type found struct {
	place
	month  *month
	events []schemas.EventRow // the most severe first
	number map[string]int     // of events in the flight's report, from 1
	flight flightFacts
}

// errFound ends a search.
var errFound = errors.New("found")

// find looks an occurrence up by one of its events; nil where there is none.
func (d *Desk) find(v *view, id string) (*found, error) {
	key, ok := keyOf(id)
	if !ok {
		return nil, nil
	}
	p, ok := v.find(key)
	if !ok {
		return nil, nil
	}
	m, o := v.at(p)
	f := &found{place: p, month: m, number: map[string]int{}}
	rank, ofFlight := map[string]int{}, map[string]bool{}
	for i, e := range m.of(o) {
		rank[e.id.String()] = i
	}
	for i := range m.occurrences {
		if m.occurrences[i].flight == o.flight {
			for _, e := range m.of(&m.occurrences[i]) {
				ofFlight[e.id.String()] = true
			}
		}
	}
	err := archive.EventsOf(d.Archive, m.name, func(id string) bool { return ofFlight[id] }, func(e *schemas.EventRow) error {
		f.number[e.EventID] = len(f.number) + 1 // reports number the events of a flight in this order
		if _, ok := rank[e.EventID]; ok {
			f.events = append(f.events, *e)
		}
		return nil
	})
	if err != nil || len(f.events) == 0 { // gone meanwhile
		return nil, err
	}
	slices.SortFunc(f.events, func(a, b schemas.EventRow) int { return rank[a.EventID] - rank[b.EventID] })
	err = archive.Columns(d.Archive, schemas.FlightsTable, m.name, func(rows []flightFacts) error {
		for i := range rows {
			if rows[i].FlightID == f.events[0].FlightID {
				f.flight = rows[i]
				return errFound
			}
		}
		return nil
	})
	if errors.Is(err, errFound) {
		err = nil
	}
	return f, err
}

// eventPart is an event on the page of its occurrence.
type eventPart struct {
	ID, Value, Title, Severity, Certainty, Phase string
	Start, End                                   string
	Number                                       int
	Measures                                     []choice
	State                                        standing
	History                                      []pastVerdict
	Meaning, Caution, Basis                      string
}

type pastVerdict struct {
	Finding, By, At, Cause, Comment string
	Outdated                        bool
}

type occurrencePage struct {
	frame
	Filter             filter
	Events             []eventPart
	Flight             []choice
	Previous, NextLink string
	Position, Total    int
	Report, Fleet      string
	Damaged            []string
	State              standing
	Actions            actionPart
}

// asked finds the event of an address. Where it cannot, it answers the request and returns nil.
func (d *Desk) asked(w http.ResponseWriter, r *http.Request, v *view) *found {
	f, err := d.find(v, r.PathValue("event"))
	switch {
	case err != nil:
		d.failed(w, err)
	case f == nil:
		d.refuse(w, http.StatusNotFound, "The archive has no such event. A scan with another profile may have removed it: go back to the worklist.")
	}
	return f
}

func (d *Desk) occurrence(w http.ResponseWriter, r *http.Request) {
	v := d.view()
	f := d.asked(w, r, v)
	if f == nil {
		return
	}
	filter := filterOf(r.URL.Query())
	m, o := v.at(f.place)
	lead := &f.events[0]
	page := occurrencePage{frame: d.frame(r, report.Clean(lead.Title), "occurrence"), Filter: filter, State: d.state(m.of(o)), Flight: f.facts()}
	page.Back, page.Turn = filter.Query(), v.turn
	var bad schemas.Problems
	var err error
	if page.Actions, bad, err = d.actionPart(f.events); err != nil {
		d.failed(w, err)
		return
	}
	for _, p := range bad {
		page.Damaged = append(page.Damaged, p.Cause)
	}
	page.Report = "/report/" + lead.EventID + "#event-" + strconv.Itoa(f.number[lead.EventID])
	page.Fleet = "/fleet/" + lead.EventID
	for i := range f.events {
		part, damaged, err := d.eventPart(f, &f.events[i])
		if err != nil {
			d.failed(w, err)
			return
		}
		page.Events = append(page.Events, part)
		for _, p := range damaged {
			page.Damaged = append(page.Damaged, p.Cause)
		}
	}
	list := d.pick(v, filter).places
	page.Total = len(list)
	if i := slices.Index(list, f.place); i >= 0 {
		page.Position = i + 1
		if i > 0 {
			page.Previous = d.link(v, list[i-1], filter)
		}
		if i+1 < len(list) {
			page.NextLink = d.link(v, list[i+1], filter)
		}
	} else if len(list) > 0 { // decided meanwhile, so that the worklist begins with another one
		page.NextLink = d.link(v, list[0], filter)
	}
	d.show(w, "occurrence", page)
}

func (d *Desk) link(v *view, p place, f filter) string {
	m, o := v.at(p)
	return f.On(m.of(o)[0].id.String())
}

// facts are the facts about the flight, as far as the archive holds them.
func (f *found) facts() (facts []choice) {
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, choice{name, report.Clean(value)})
		}
	}
	fl := &f.flight
	add("aircraft", strings.Trim(fl.Aircraft+", "+fl.Registration, ", "))
	if fl.StartUTC.IsZero() {
		add("month", f.month.name)
	} else {
		add("date", fl.StartUTC.UTC().Format("2006-01-02"))
	}
	if fl.DepartureAerodrome+fl.ArrivalAerodrome != "" {
		add("from, to", orUnknown(fl.DepartureAerodrome)+", "+orUnknown(fl.ArrivalAerodrome))
	}
	if fl.FlightID != "" {
		add("recording", strings.TrimPrefix(fl.RecordingName+", flight "+strconv.Itoa(int(fl.Number)), ", "))
		add("scanned with", "downlock "+fl.Version)
	}
	return facts
}

func orUnknown(text string) string {
	if text == "" {
		return "not known"
	}
	return text
}

func (d *Desk) eventPart(f *found, e *schemas.EventRow) (eventPart, schemas.Problems, error) {
	history, damaged, err := review.History(d.Archive, e.EventID)
	if err != nil {
		return eventPart{}, nil, err
	}
	key, _ := keyOf(e.EventID)
	p := eventPart{ID: e.EventID, Value: e.EventID + ":" + review.Evidence(*e), Title: report.Clean(e.Title), Severity: oneOf(e.Severity, severities), Certainty: report.Clean(e.Certainty), Phase: report.Clean(e.Phase),
		Start: timeWords(e.StartS, e.StartEarliestS, e.StartLatestS, e.StartUTC), Number: f.number[e.EventID], State: d.state([]event{{id: key}})}
	if !e.Moment {
		p.End = timeWords(e.EndS, e.EndEarliestS, e.EndLatestS, e.EndUTC)
	}
	for _, m := range e.Measures {
		value := "not recorded"
		if m.Value != nil {
			value = strings.TrimSuffix(decimals(*m.Value)+" "+m.Unit, " 1")
		}
		p.Measures = append(p.Measures, choice{report.Clean(strings.ReplaceAll(m.Name, "_", " ")), report.Clean(value)})
	}
	for _, v := range slices.Backward(history) {
		p.History = append(p.History, pastVerdict{string(v.Finding), report.Clean(v.By), v.At.Format("2006-01-02 15:04:05"), report.Clean(v.Cause), report.Clean(v.Comment), v.Outdated(*e)})
	}
	if d.Rules != nil {
		if rule := d.Rules.Rule(e.Rule); rule != nil {
			p.Meaning, p.Caution, p.Basis = report.Clean(rule.Meaning), report.Clean(rule.Caution), report.Clean(rule.Basis)
		}
	}
	return p, damaged, nil
}

func timeWords(nominal, earliest, latest float64, utc time.Time) string {
	text := decimals(nominal) + " s"
	if earliest != latest {
		text += " (between " + decimals(earliest) + " and " + decimals(latest) + " s)"
	}
	if !utc.IsZero() {
		text += ", " + utc.UTC().Format("2006-01-02 15:04:05") + " UTC"
	}
	return text
}

func decimals(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
