package report

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"downlock/detect"
)

// flightRow is what the page of a run shows of a flight beside its entry in index.json.
type flightRow struct {
	registration       string
	departure, arrival string
	day                string   // or the month, where that alone is known
	found, missing     []string // rules with an event, and rules that were not evaluable
	occurrences        []occurrenceRow
}

// occurrenceRow is one occurrence on the page of a run: the most severe of its events, and
// the titles of the others.
type occurrenceRow struct {
	Severity, Certainty string
	Title               string
	Also                []string
	Anchor              string // of the event on the flight's page
	Phase               string
	Measure             string
	Verdict             string

	rules []string
	start number
}

func newFlightRow(doc *document) flightRow {
	f := doc.Flight
	row := flightRow{registration: doc.Provenance.Profile.Registration, departure: f.Departure, arrival: f.Arrival, day: f.Month}
	if f.StartUTC != "" {
		row.day = f.StartUTC[:min(10, len(f.StartUTC))]
	}
	for _, e := range doc.Evaluations {
		if e.Not() {
			row.missing = append(row.missing, e.Rule)
		}
	}
	place := map[string]int{}
	for i, e := range doc.Events {
		row.found = append(row.found, e.Rule)
		k, known := place[e.Occurrence]
		if known && e.Occurrence != "" {
			row.occurrences[k].add(i, e)
			continue
		}
		place[e.Occurrence] = len(row.occurrences)
		row.occurrences = append(row.occurrences, newOccurrenceRow(i, e))
	}
	return row
}

func newOccurrenceRow(i int, e eventPart) occurrenceRow {
	o := occurrenceRow{Severity: e.Severity, Certainty: e.Certainty, Title: e.Title, Phase: e.Phase, rules: []string{e.Rule}, start: e.Start.Nominal,
		Anchor: cmp.Or(eventView{eventPart: e}.Anchor(), "event-"+strconv.Itoa(i+1)), Verdict: e.Verdict.Short()}
	for _, m := range e.Measures {
		if m.Value != nil {
			o.Measure = words(m.Name) + " " + strings.TrimSpace(decimals(float64(*m.Value), 1)+" "+shownUnit(m.Unit))
			break
		}
	}
	return o
}

// add adds a further event of the occurrence; the more severe of the two stands for it.
func (o *occurrenceRow) add(i int, e eventPart) {
	other := newOccurrenceRow(i, e)
	if severityRank(e.Severity) > severityRank(o.Severity) {
		other.Also = o.also(o.Title)
		other.rules = append(other.rules, o.rules...)
		*o = other
		return
	}
	o.Also = o.also(e.Title)
	o.rules = append(o.rules, e.Rule)
}

// also adds a title to those of the further events, each of which stands there once.
func (o *occurrenceRow) also(title string) []string {
	if slices.Contains(o.Also, title) {
		return o.Also
	}
	return append(o.Also, title)
}

// occurrenceLine is a row of the table of occurrences.
type occurrenceLine struct {
	occurrenceRow
	Flight *flightLine
	Rules  string // places in the table of rules, separated by bars
	When   string
}

// flightLine is a row of the table of flights.
type flightLine struct {
	indexFlight
	Registration         string
	Departure, Arrival   string
	Day                  string
	Found, NotEvaluables string // places in the table of rules, separated by bars
}

// Aerodromes are those of the flight, each once, separated by bars.
func (f flightLine) Aerodromes() string {
	if f.Departure == f.Arrival || f.Arrival == "" {
		return f.Departure
	}
	return strings.Trim(f.Departure+"|"+f.Arrival, "|")
}

// indexPage is the content of the template of index.html.
type indexPage struct {
	*index
	Lines       []*flightLine    // in place of Flights
	Occurrences []occurrenceLine // the most severe first, then the certain, then as flights come
	Script      string
}

// firstRows is how many rows of a table the page shows at first. The others are an element
// that a browser with script reads only when they are asked for: parsing and laying out
// thousands of rows takes longer than a reader wants to wait. Without script it shows them.
const firstRows = 200

func (p indexPage) FirstOccurrences() []occurrenceLine {
	return p.Occurrences[:min(firstRows, len(p.Occurrences))]
}
func (p indexPage) RestOccurrences() []occurrenceLine {
	return p.Occurrences[min(firstRows, len(p.Occurrences)):]
}
func (p indexPage) FirstLines() []*flightLine { return p.Lines[:min(firstRows, len(p.Lines))] }
func (p indexPage) RestLines() []*flightLine  { return p.Lines[min(firstRows, len(p.Lines)):] }

func newIndexPage(idx *index) indexPage {
	page := indexPage{index: idx}
	place := map[string]string{}
	for i, r := range idx.Rules {
		place[r.Rule] = strconv.Itoa(i + 1)
	}
	places := func(rules []string) string {
		var out []string
		for _, r := range rules {
			if p := place[r]; !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
		return strings.Join(out, "|")
	}
	for i, f := range idx.Flights {
		row := idx.rows[i]
		line := &flightLine{indexFlight: f, Registration: row.registration, Departure: row.departure, Arrival: row.arrival, Day: row.day,
			Found: places(row.found), NotEvaluables: places(row.missing)}
		page.Lines = append(page.Lines, line)
		for _, o := range row.occurrences {
			when := o.start.String() + " s"
			page.Occurrences = append(page.Occurrences, occurrenceLine{o, line, places(o.rules), when})
		}
	}
	slices.SortStableFunc(page.Occurrences, func(a, b occurrenceLine) int {
		return cmp.Or(severityRank(b.Severity)-severityRank(a.Severity), certaintyRank(b.Certainty)-certaintyRank(a.Certainty))
	})
	return page
}

func certaintyRank(certainty string) int {
	if certainty == string(detect.Certain) {
		return 1
	}
	return 0
}
