package desk

import (
	"cmp"
	"html/template"
	"math"
	"net/http"
	"slices"
	"sync"
	"time"

	"downlock/report"
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/report/trend"
	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
	"downlock/schemas"
)

// fleetView is the fleet added up over the last two years of the archive, with the trends
// of it. It is made when a page asks for it first, and again once the archive has changed,
// or verdicts have and it is some minutes old.
type fleetView struct {
	mu      sync.Mutex
	of      *view
	changes int
	made    time.Time
	tally   *tally.Tally
	trend   *trend.Trend // nil where there are too few months
	err     error
}

// compared is how many months the fleet is added up over: twelve, and the twelve before.
const compared = 24

// staleAfter is how long rates may lack verdicts.
const staleAfter = 5 * time.Minute

// added returns the fleet added up; it is not to be changed.
func (d *Desk) added() (*tally.Tally, *trend.Trend, error) {
	v := d.view()
	d.book.mu.RLock()
	changes := d.book.changes
	d.book.mu.RUnlock()
	f := &d.fleet
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.of == v && (f.changes == changes || d.Now().Sub(f.made) < staleAfter) {
		return f.tally, f.trend, f.err
	}
	f.of, f.changes, f.made = v, changes, d.Now()
	f.tally, f.trend = nil, nil // to free them first
	o := tally.Options{Archive: d.Archive, By: []string{tally.TypeColumn}, Rejected: d.rejected()}
	o.From = monthsBefore(lastDated(v), compared-1)
	f.tally, f.err = tally.Read(o)
	if f.err == nil {
		f.trend, _ = trend.New(f.tally, trend.Options{Level: 0.05, Correction: trend.Holm, Archive: d.Archive, RunMonth: archive.RunMonth(d.Archive), Reviewed: o.Rejected != nil, Version: d.Version})
	}
	return f.tally, f.trend, f.err
}

func lastDated(v *view) string {
	for _, m := range slices.Backward(v.months) {
		if _, err := time.Parse("2006-01", m.name); err == nil {
			return m.name
		}
	}
	return ""
}

func monthsBefore(month string, n int) string {
	t, err := time.Parse("2006-01", month)
	if err != nil {
		return ""
	}
	return t.AddDate(0, -n, 0).Format("2006-01")
}

// rejected tells events that review found false.
func (d *Desk) rejected() func(string) bool {
	d.book.mu.RLock()
	defer d.book.mu.RUnlock()
	falseOnes := map[eventKey]bool{}
	for id, v := range d.book.latest {
		if v.finding == string(review.False) && !v.outdated {
			falseOnes[id] = true
		}
	}
	if len(falseOnes) == 0 {
		return nil
	}
	return func(id string) bool {
		key, ok := keyOf(id)
		return ok && falseOnes[key]
	}
}

// year returns the places of the last twelve months.
func year(t *tally.Tally) (from, to int) { return max(0, len(t.Months)-12), len(t.Months) }

// rateOf is how often a rule finds an event in some groups of flights.
type rateOf struct {
	Name            string
	Flights, Events int
	Able            float64
	Opportunities   float64
	Per1000         float64
	Low, High       float64 // of the 95 % interval
	PerOpportunity  bool
}

func (r rateOf) Known() bool { return r.Able > 0 }

// rate adds up the last twelve months of the strata that want lets through.
func rate(t *tally.Tally, rule, from, to int, name string, want func(stratum []string) bool) rateOf {
	r := rateOf{Name: name}
	for _, m := range t.Months[from:to] {
		for s, stratum := range t.Strata {
			if !want(stratum) {
				continue
			}
			r.Flights += m.Flights[s]
			r.Able += m.Cells[rule][s].Able()
			r.Opportunities += m.Cells[rule][s].Opportunities
		}
		for _, e := range m.Events {
			if e.Rule == rule && want(t.Strata[e.Stratum]) {
				r.Events++
			}
		}
	}
	base := r.Able
	if r.PerOpportunity = t.Uncounted == 0 && r.Opportunities > 0; r.PerOpportunity {
		base = r.Opportunities
	}
	if base > 0 {
		known := statistics.Rate{Events: r.Events, Flights: base}
		r.Per1000 = known.Per1000()
		interval := known.Interval(trend.Confidence)
		r.Low, r.High = interval.Low, interval.High
	}
	return r
}

// spread is where a value lies among others.
type spread struct {
	Title, Unit, Value string
	Words              string
	Count, Own         int
	SVG                template.HTML
}

type amongPage struct {
	frame
	Type, Registration, Period, EventPeriod, Link string
	Rates                                         []rateOf
	Measures, Measurements                        []spread
	History                                       []monthCount
	Recent                                        []row
	Problem                                       string
}

type monthCount struct {
	Month, Link string
	Count       int
	Height      int // of 100
}

// among shows the event among the fleet's.
func (d *Desk) among(w http.ResponseWriter, r *http.Request) {
	v := d.view()
	f := d.asked(w, r, v)
	if f == nil {
		return
	}
	lead := &f.events[0]
	p := amongPage{frame: d.frame(r, "Compared with the fleet: "+report.Clean(lead.Title), ""), Type: report.Clean(f.flight.Aircraft), Registration: report.Clean(f.flight.Registration),
		Link: "/occurrence/" + lead.EventID}
	if err := d.addMeasures(v, f, &p); err != nil {
		d.failed(w, err)
		return
	}
	d.addHistory(v, f, &p)
	t, _, err := d.added()
	if err != nil {
		p.Problem = "The figures of the fleet could not be read: " + err.Error()
	} else if err := d.addFleet(t, f, &p); err != nil {
		d.failed(w, err)
		return
	}
	d.show(w, "among", p)
}

// measureCells are the columns of events that hold measures.
type measureCells struct {
	EventID  string                 `parquet:"event_id"`
	Rule     string                 `parquet:"rule,dict"`
	Measures []schemas.MeasureValue `parquet:"measures,list"`
}

// addMeasures puts the measures of the event among those of the same rule and type over
// the twelve months to its own.
func (d *Desk) addMeasures(v *view, f *found, p *amongPage) error {
	lead := &f.events[0]
	from := monthsBefore(f.month.name, 11)
	p.EventPeriod = from + " to " + f.month.name
	if from == "" {
		from, p.EventPeriod = f.month.name, "flights without a date"
	}
	values, own := map[string][]float64{}, map[string]int{}
	for _, m := range v.months {
		if m.name < from || m.name > f.month.name {
			continue
		}
		err := archive.Columns(d.Archive, schemas.EventsTable, m.name, func(rows []measureCells) error {
			for _, e := range rows {
				if e.Rule != lead.Rule {
					continue
				}
				flight := m.flightOf(e.EventID)
				if flight == nil || d.words.text(flight.aircraft) != report.Clean(f.flight.Aircraft) {
					continue
				}
				for _, x := range e.Measures {
					if x.Value != nil {
						values[x.Name+" "+x.Unit] = append(values[x.Name+" "+x.Unit], *x.Value)
						if f.flight.Registration != "" && d.words.text(flight.registration) == report.Clean(f.flight.Registration) {
							own[x.Name+" "+x.Unit]++
						}
					}
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	for _, x := range lead.Measures {
		if x.Value != nil {
			key := x.Name + " " + x.Unit
			p.Measures = append(p.Measures, spreadOf(plainWords(x.Name), x.Unit, []float64{*x.Value}, values[key], own[key]))
		}
	}
	return nil
}

// flightOf returns the flight of an event of the month; nil where there is none.
func (m *month) flightOf(id string) *flight {
	key, _ := keyOf(id)
	n, ok := slices.BinarySearchFunc(m.byID, key, func(e uint32, id eventKey) int { return cmp.Compare(m.events[e].id, id) })
	if !ok {
		return nil
	}
	return &m.flights[m.occurrences[m.events[m.byID[n]].occurrence].flight]
}

// mostRecent bounds the list of an aircraft's own occurrences.
const mostRecent = 12

// addHistory lists the occurrences of the same rule on the same aircraft.
func (d *Desk) addHistory(v *view, f *found, p *amongPage) {
	if f.flight.Registration == "" {
		return
	}
	of := filter{Rule: f.events[0].Rule, Aircraft: f.flight.Registration, State: stateAll, Order: newestFirst, Page: 1}
	counts, most := map[uint32]int{}, 0
	for _, at := range d.pick(v, of).places {
		counts[at.month]++
		most = max(most, counts[at.month])
		if len(p.Recent) < mostRecent {
			p.Recent = append(p.Recent, d.row(v, at, of))
		}
	}
	for i := max(0, len(v.months)-compared); i < len(v.months); i++ {
		m := v.months[i]
		link := of
		link.From, link.To = m.name, m.name
		p.History = append(p.History, monthCount{m.name, link.Address(), counts[uint32(i)], 100 * counts[uint32(i)] / max(1, most)})
	}
}

// measurementCells are the columns of a measurement that the desk needs.
type measurementCells struct {
	FlightID    string   `parquet:"flight_id,dict"`
	Measurement string   `parquet:"measurement,dict"`
	Value       *float64 `parquet:"value,optional"`
}

// addFleet puts the rates of the rule and the measurements of the flight beside those of
// the type and of the aircraft.
func (d *Desk) addFleet(t *tally.Tally, f *found, p *amongPage) error {
	from, to := year(t)
	p.Period = t.Months[from].Name + " to " + t.Months[to-1].Name
	kind, registration := slices.Index(t.Columns, tally.TypeColumn), slices.Index(t.Columns, tally.RegistrationColumn)
	ofType := func(s []string) bool { return s[kind] == f.flight.Aircraft }
	own := func(s []string) bool {
		return ofType(s) && s[registration] == f.flight.Registration && f.flight.Registration != ""
	}
	if rule := slices.Index(t.Rules, f.events[0].Rule); rule >= 0 {
		p.Rates = append(p.Rates, rate(t, rule, from, to, "all "+p.Type, ofType))
		if f.flight.Registration != "" {
			p.Rates = append(p.Rates, rate(t, rule, from, to, p.Registration, own))
		}
	}
	here := map[string][]float64{}
	err := archive.Columns(d.Archive, schemas.MeasurementsTable, f.month.name, func(rows []measurementCells) error {
		for _, m := range rows {
			if m.FlightID == f.flight.FlightID && m.Value != nil {
				here[m.Measurement] = append(here[m.Measurement], *m.Value)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for n, m := range t.Measured {
		values := here[m.Name]
		if len(values) == 0 {
			continue
		}
		var all []float64
		ours := 0
		for i := from; i < to; i++ {
			for s, stratum := range t.Strata {
				if ofType(stratum) {
					all = append(all, t.Months[i].Values[n][s].Values...)
				}
				if own(stratum) {
					ours += len(t.Months[i].Values[n][s].Values)
				}
			}
		}
		p.Measurements = append(p.Measurements, spreadOf(d.measurementTitle(m.Name), m.Unit, values, all, ours))
	}
	return nil
}

// measurementTitle is the title of a measurement in the packs in force.
func (d *Desk) measurementTitle(id string) string {
	if d.Rules != nil {
		if m := d.Rules.Measurement(id); m != nil {
			return m.Title
		}
	}
	return plainWords(id)
}

// spreadOf places values among others, which it sorts.
func spreadOf(title, unit string, here, all []float64, own int) spread {
	slices.Sort(all)
	s := spread{Title: report.Clean(title), Unit: report.Clean(unit), Count: len(all), Own: own}
	if s.Unit == "1" {
		s.Unit = ""
	}
	for i, x := range here {
		if i > 0 {
			s.Value += ", "
		}
		if i == 8 {
			s.Value += "…"
			break
		}
		s.Value += decimals(math.Round(x*1000) / 1000)
	}
	if len(all) > 1 {
		first := here[0]
		below, _ := slices.BinarySearch(all, first)
		above := len(all) - below
		for above > 0 && all[len(all)-above] == first {
			above--
		}
		s.Words = share(below, len(all)) + " below, " + share(above, len(all)) + " above"
		s.SVG = drawSpread(s.Title+": "+s.Words, here, all)
	}
	return s
}
