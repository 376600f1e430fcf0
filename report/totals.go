package report

import "slices"

// Index gathers the figures over all flights of a run. It is added up as the
// flights come, so that one costs about a kilobyte of memory and not its report.
// The zero value is a run without flights.
type Index struct {
	flights    []indexFlight
	rows       []flightRow // of the page, as flights
	rules      ordered[ruleTotal]
	audits     ordered[auditTotal]
	measured   ordered[measuredValues]
	operations []operationTotal
}

// Add adds a flight.
func (x *Index) Add(e FlightEntry) {
	x.flights, x.rows = append(x.flights, e.part), append(x.rows, e.row)
	for i := range e.tally.rules {
		r := &e.tally.rules[i]
		x.rules.of(r.Rule, ruleTotal{Rule: r.Rule, Title: r.Title, Group: r.Group, Opportunity: r.Opportunity}).add(r)
	}
	x.operations = x.operationTotals()
	for _, o := range e.tally.operations {
		if i := slices.IndexFunc(x.operations, func(t operationTotal) bool { return t.Kind == o.Kind }); i >= 0 {
			x.operations[i].add(o.Ended)
		}
	}
	for i := range e.tally.audits {
		a := &e.tally.audits[i]
		x.audits.of(a.Warning, auditTotal{Warning: a.Warning, Title: a.Title}).addAll(a)
	}
	for _, values := range byMeasurement(e.tally.measurements) {
		m := values[0]
		total := measurementTotal{Measurement: m.Measurement, Title: m.Title, Group: m.Group, Definition: m.Definition, Unit: m.Unit, Opportunity: m.Opportunity}
		x.measured.of(m.Measurement, measuredValues{total: total}).add(values, e.part.Folder)
	}
}

// operationTotals has every kind, of a run without flights too.
func (x *Index) operationTotals() []operationTotal {
	if x.operations == nil {
		return newOperationTotals()
	}
	return x.operations
}

// ordered holds totals by name, in the order in which they came.
type ordered[T any] struct {
	totals []T
	place  map[string]int
}

// of returns the total of a name, which begins as the one given.
func (o *ordered[T]) of(name string, first T) *T {
	i, known := o.place[name]
	if !known {
		if o.place == nil {
			o.place = map[string]int{}
		}
		i = len(o.totals)
		o.place[name] = i
		o.totals = append(o.totals, first)
	}
	return &o.totals[i]
}

func (o *ordered[T]) list() []T { return append([]T{}, o.totals...) }

// flightTally is the share of one flight in the totals of a run.
type flightTally struct {
	rules        []ruleTotal
	audits       []auditTotal
	measurements []measurementPart
	operations   []operationPart
}

func newFlightTally(doc *document) flightTally {
	t := flightTally{measurements: doc.Measurements, operations: doc.Operations}
	found := map[string]eventCounts{}
	for _, e := range doc.Events {
		counts := found[e.Rule]
		counts.add(e.Severity, e.Certainty)
		found[e.Rule] = counts
	}
	for _, e := range doc.Evaluations {
		total := ruleTotal{Rule: e.Rule, Title: e.Title, Group: e.Group, Events: found[e.Rule], Opportunity: e.Opportunity, Opportunities: e.Opportunities}
		total.Evaluations.add(e.Coverage)
		t.rules = append(t.rules, total)
	}
	for _, a := range doc.Audits {
		total := auditTotal{Warning: a.Warning, Title: a.Title, DueSeconds: a.DueSeconds, SoundedSeconds: a.SoundedSeconds, SwitchUses: len(a.SwitchUses)}
		total.add(a)
		t.audits = append(t.audits, total)
	}
	return t
}

// add adds the total of one flight.
func (t *ruleTotal) add(flight *ruleTotal) {
	t.Evaluations.addAll(flight.Evaluations)
	t.Opportunities.addAll(flight.Opportunities)
	t.Able = t.Evaluations.Evaluated + t.Evaluations.PartlyEvaluated
	if flight.Events.Total() > 0 {
		t.With++
		t.Events.addAll(flight.Events)
	}
}

// auditTotal is one warning over all flights of a run.
type auditTotal struct {
	Warning string `json:"warning"`
	Title   string `json:"title"`
	auditCounts
	DueSeconds     number `json:"due_seconds"`
	SoundedSeconds number `json:"sounded_seconds"`
	SwitchUses     int    `json:"switch_uses"`
}

func (t *auditTotal) addAll(flight *auditTotal) {
	t.auditCounts.addAll(flight.auditCounts)
	t.DueSeconds += flight.DueSeconds
	t.SoundedSeconds += flight.SoundedSeconds
	t.SwitchUses += flight.SwitchUses
}

// measurementTotal is one measurement over all flights of a run: what became of
// it on how many flights, and its values, null where there is none.
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
	Opportunity string        `json:"opportunity"`
	Values      int           `json:"values"` // more than flights where it is measured in each opportunity

	// The folders of the flights with the smallest and the largest value, for the page.
	SmallestIn string `json:"-"`
	LargestIn  string `json:"-"`
}

// measuredValues is a total that still grows.
type measuredValues struct {
	total             measurementTotal
	values            []number
	smallest, largest number
}

// add adds the values of one flight, whose reports are in the folder.
func (v *measuredValues) add(flight measured, folder string) {
	v.total.Flights.add(string(flight.outcome()))
	for _, m := range flight {
		if m.Value != nil {
			if len(v.values) == 0 || *m.Value < v.smallest {
				v.smallest, v.total.SmallestIn = *m.Value, folder
			}
			if len(v.values) == 0 || *m.Value > v.largest {
				v.largest, v.total.LargestIn = *m.Value, folder
			}
			v.values = append(v.values, *m.Value)
		}
	}
}

func (x *Index) measurementTotals() []measurementTotal {
	totals := []measurementTotal{}
	for _, v := range x.measured.totals {
		v.total.Values = len(v.values)
		if n := len(v.values); n > 0 {
			sorted := slices.Sorted(slices.Values(v.values))
			median := (sorted[(n-1)/2] + sorted[n/2]) / 2
			v.total.Smallest, v.total.Median, v.total.Largest = &sorted[0], &median, &sorted[n-1]
		}
		totals = append(totals, v.total)
	}
	return totals
}
