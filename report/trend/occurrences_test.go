package trend

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
	"downlock/schemas"
)

// countedOnceOf is an event that counts for its occurrence, with all a table of rates
// may ask it for.
type countedOnceOf struct {
	schemas.EventRow
	month                  string
	aircraft, registration string
}

// onceEach reads a table of events whole and keeps of every occurrence the first of the
// most severe.
func onceEach(t *testing.T, dir string, months []tally.Month) (out []countedOnceOf) {
	t.Helper()
	part := func(table, month string) string {
		return filepath.Join(dir, "tables", table, "month="+month, "part.parquet")
	}
	for _, m := range months {
		flights, err := parquet.ReadFile[schemas.FlightRow](part(schemas.FlightsTable, m.Name))
		if err != nil {
			t.Fatal(err)
		}
		events, err := parquet.ReadFile[schemas.EventRow](part(schemas.EventsTable, m.Name))
		if err != nil {
			t.Fatal(err)
		}
		of := map[string]schemas.FlightRow{}
		for _, f := range flights {
			of[f.FlightID] = f
		}
		for _, severity := range []string{"high", "medium", "low"} {
			for _, e := range events {
				known := slices.ContainsFunc(out, func(c countedOnceOf) bool { return c.OccurrenceID == e.OccurrenceID })
				if e.Severity == severity && !known {
					out = append(out, countedOnceOf{e, m.Name, of[e.FlightID].Aircraft, of[e.FlightID].Registration})
				}
			}
		}
	}
	return out
}

// in reports whether a row of rates has the event among those it counts, of any severity.
func (c *countedOnceOf) in(r RateRow) bool {
	first, last, ok := strings.Cut(r.Period, " to ")
	if !ok {
		last = first
	}
	of := map[string]string{"": "", "aircraft": c.aircraft, "registration": c.registration, "phase": c.Phase}
	return c.Rule == r.Rule && first <= c.month && c.month <= last && of[r.Column] == r.Value
}

// Against a count over whole rows, in random archives: every rate of occurrences, by
// month, period, group, severity and phase. Together they are as many as there are
// occurrences, and what rates divide by stays.
func TestRatesOfOccurrences(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		dir := t.TempDir()
		if err := (fleet.Fleet{Seed: 40 + seed, Flights: 4800, Months: 24, First: "2030-01", Aircraft: 5, Rules: 12, Causes: 2}).Write(dir); err != nil {
			t.Fatal(err)
		}
		once, every := trendOfArchive(t, dir, true), trendOfArchive(t, dir, false)
		counted := onceEach(t, dir, once.Tally.Months)
		divisors := map[string]float64{}
		for _, r := range every.RateRows() {
			divisors[fmt.Sprint(r.Rule, r.Period, r.Column, r.Value)] = *r.Opportunities
		}
		sum := int64(0)
		for _, r := range once.RateRows() {
			events, flights := int64(0), map[string]bool{}
			for i := range counted {
				if c := &counted[i]; c.in(r) {
					if r.Column != "phase" { // whose flights are those of the rule
						flights[c.FlightID] = true
					}
					if r.Severity == "" || r.Severity == c.Severity {
						events++
					}
				}
			}
			if r.Events != events || r.Column != "phase" && r.FlightsWith != int64(len(flights)) || r.Counted != "occurrences" {
				t.Errorf("seed %d: %d %s on %d flights, want %d on %d: %+v", seed, r.Events, r.Counted, r.FlightsWith, events, len(flights), r)
			}
			open, rate := *r.Opportunities, math.NaN()
			if r.OpenRate != nil {
				rate = *r.OpenRate
			}
			divisor, known := divisors[fmt.Sprint(r.Rule, r.Period, r.Column, r.Value)]
			if known && math.Abs(open-divisor) > 1e-9 || open > 0 && !(math.Abs(rate*open-1000*float64(events)) < 1e-6) {
				t.Errorf("seed %d: %v per 1,000 of %v, where events are counted of %v: %+v", seed, rate, open, divisor, r)
			}
			if r.Column == "" && r.Severity == "" && len(r.Period) == len("2030-01") {
				sum += r.Events
			}
		}
		_, events := every.totals()
		if sum != int64(len(counted)) || events.All() < len(counted)+100 || once.Beside != events.All()-len(counted) {
			t.Errorf("seed %d: %d counted, of %d occurrences and %d events, %d beside another", seed, sum, len(counted), events.All(), once.Beside)
		}
		sameComparisons(t, once, counted)
	}
}

// sameComparisons holds both sides of the periods' comparisons against the same count.
func sameComparisons(t *testing.T, tr *Trend, counted []countedOnceOf) {
	t.Helper()
	for _, c := range tr.ComparisonRows() {
		if c.Column != "" {
			continue
		}
		var got [2]int64
		flights := map[string]bool{}
		for i := range counted {
			for side, p := range []Period{tr.Recent, tr.Before} {
				e := &counted[i]
				if e.in(RateRow{Rule: c.Rule, Period: tr.Name(p)}) && (c.Counted == "occurrences" || !flights[e.FlightID]) {
					flights[e.FlightID] = true
					got[side]++
				}
			}
		}
		if got != [2]int64{c.Count, c.Count2} || c.Counted != "occurrences" && c.Counted != "flights with an occurrence" {
			t.Errorf("%s: %d against %d %s, want %d", c.Rule, c.Count, c.Count2, c.Counted, got)
		}
	}
}

func trendOfArchive(t *testing.T, dir string, occurrences bool) *Trend {
	t.Helper()
	counted, err := tally.Read(tally.Options{Archive: dir, By: []string{tally.TypeColumn}, Occurrences: occurrences})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Archive: dir, Occurrences: occurrences})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// By hand: an occurrence of nine events in each of six months, all on flights of A, and
// in the last month one more of A and three of B. The page, trend.json, SQL and indicators say that
// occurrences are counted, and how many events they have.
func TestOccurrencesInWords(t *testing.T) {
	t.Parallel()
	counted := one([2]int{1, 0}, [2]int{1, 0}, [2]int{1, 0}, [2]int{1, 0}, [2]int{1, 0}, [2]int{2, 3})
	for m := range counted.Months {
		counted.Months[m].Events[0].Further = 8
	}
	counted.Beside, counted.Joined, counted.Alone = 6*8, 6*9+1, 3
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm, Archive: "fleet", Occurrences: true})
	if err != nil {
		t.Fatal(err)
	}
	page, err := tr.Page()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"<h2>Occurrences</h2>", `<p class="big">10</p><p>Of 58 events. 10 of high`, "<h2>Occurrences per 1,000 opportunities</h2>", "occurrences per 1,000 opportunities</text>",
		"10 occurrences</a> on 1,140 opportunities", "5 occurrences on 190 opportunities: 26.3 per 1,000",
		"each counts as one occurrence: 3 events.", "Events of one cause in a flight are one occurrence. They count once",
		"flights with an occurrence are compared in place of occurrences", "count(*) AS occurrences, count(DISTINCT flight_id) AS flights_with_occurrence",
		"row_number() OVER (PARTITION BY flight_id",
	} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, not := range []string{"vents per 1,000", "flights with an event", "AS events"} {
		if strings.Contains(string(page), not) {
			t.Errorf("the page says %q", not)
		}
	}
	if list := tr.rulePages()[0]; !strings.Contains(list.Note, "most severe event") || list.Lists[0].Flights[0].Further != 8 || list.Lists[0].Flights[1].Further != 0 {
		t.Errorf("the flights behind it are %+v", list.Lists[0])
	}
	text, err := tr.json()
	if err != nil {
		t.Fatal(err)
	}
	var doc document
	if err := json.Unmarshal(text, &doc); err != nil || doc.Counted != "occurrences" || doc.Events != 10 || doc.Beside != 48 || doc.Alone != 3 {
		t.Errorf("trend.json says %+v, %v", doc, err)
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: a, rule: gear-late, current: 1, preceding: 5}\n  - {id: b, rule: gear-late, severity: [high]}\n"))
	if err != nil {
		t.Fatal(err)
	}
	all := tr.Judge(in)
	if all[0].Unit != "occurrences per 1,000 opportunities" || all[0].Latest().Events != 5 || all[1].Unit != "occurrences of high severity per 1,000 opportunities" {
		t.Errorf("indicators are %+v and %+v", all[0], all[1])
	}
}
