package trend

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
)

// medium is a fleet of 120,000 flights with everything wrong that fleets here
// can have.
var medium = fleet.Fleet{Seed: 21, Flights: 120_000, Months: 48, First: "2028-01", Aircraft: 20, Rules: 45}

func trendOf(t *testing.T, f fleet.Fleet, o Options) *Trend {
	t.Helper()
	counted, err := f.Tally()
	if err != nil {
		t.Fatal(err)
	}
	if o.Level == 0 {
		o.Level, o.Correction = 0.05, Holm
	}
	tr, err := New(counted, o)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// The effects put in are on top, in words with the right figures, and nothing else
// is there; the season is called one and no drift.
func TestInjectedEffectsAreFound(t *testing.T) {
	t.Parallel()
	truth, err := medium.Truth()
	if err != nil {
		t.Fatal(err)
	}
	tr := trendOf(t, medium, Options{})
	top := map[string]string{}
	for _, f := range tr.Findings[:min(3, len(tr.Findings))] {
		top[f.Subject+" "+f.Value] = f.Headline
	}
	aircraft, drift := top[truth.AircraftRule+" "+truth.Aircraft], top[truth.DriftRule+" "]
	if len(top) != 3 || tr.Findings[0].Value != truth.Aircraft || aircraft == "" || drift == "" || top[truth.SlowLeg+" "+truth.Aircraft] == "" {
		t.Fatalf("on top are %v", top)
	}
	for _, f := range falseOnes(tr, truth) {
		t.Errorf("nothing is wrong with %s", f.Headline)
	}
	if len(tr.Seasonal) != 1 || tr.Seasonal[0].Subject != truth.SeasonRule || !containsAny(tr.Seasonal[0].Headline, "December", "January", "February") {
		t.Errorf("season: %+v", tr.Seasonal)
	}
	// The drift over the last 12 of 18 months: factors 1 + 2·k/18 for k = 7 to 18
	// average 2.3889, and for k = 1 to 6 with six months at 1 before them 1.1944,
	// so the ratio is about 2.
	recent, before := plainRate(tr, truth.DriftRule, tr.Recent, ""), plainRate(tr, truth.DriftRule, tr.Before, "")
	if ratio := recent / before; math.Abs(ratio-2) > 0.35 || !strings.Contains(drift, ": "+decimals(ratio)+" times the rate") {
		t.Errorf("ratio %v: %s", ratio, drift)
	}
	itself, others := plainRate(tr, truth.AircraftRule, tr.Recent, truth.Aircraft), plainRate(tr, truth.AircraftRule, tr.Recent, "others")
	if ratio := itself / others; !strings.Contains(aircraft, "has "+decimals(ratio)+" times the rate") {
		t.Errorf("ratio %v: %s", ratio, aircraft)
	}
	page, err := tr.Page()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range tr.Findings {
		if !strings.Contains(string(page), f.Headline) {
			t.Errorf("the page does not say %q", f.Headline)
		}
	}
}

func containsAny(text string, words ...string) bool {
	return slices.ContainsFunc(words, func(word string) bool { return strings.Contains(text, word) })
}

// plainRate counts events per able flight again, of all aircraft (""), of one, or
// of all others of the type of the one something is wrong with.
func plainRate(tr *Trend, rule string, p Period, aircraft string) float64 {
	bad := medium.Aircraft / 4
	counts := func(stratum int) bool {
		switch aircraft {
		case "":
			return true
		case "others":
			return tr.Strata[stratum][0] == tr.Strata[bad][0] && stratum != bad
		}
		return tr.Strata[stratum][1] == aircraft
	}
	number := slices.Index(tr.Rules, rule)
	events, able := 0.0, 0.0
	for m := p.First; m <= p.Last; m++ {
		for s, c := range tr.Tally.Months[m].Cells[number] {
			if counts(s) {
				able += float64(c.Evaluated) + c.Known
			}
		}
		for _, e := range tr.Tally.Months[m].Events {
			if e.Rule == number && counts(e.Stratum) {
				events++
			}
		}
	}
	return events / able
}

// one makes a tally of one rule on two aircraft, with so many events of each in
// each month, on 100 flights each a month.
func one(events ...[2]int) *tally.Tally {
	t := &tally.Tally{Rules: []string{"gear-late"}, Titles: map[string]string{}, Columns: []string{"aircraft", "registration"},
		Strata: [][]string{{"TH-120", "A"}, {"TH-120", "B"}}}
	for i, month := range events {
		name := fmt.Sprintf("%d-%02d", 2030+i/12, i%12+1)
		m := tally.Month{Name: name, Flights: []int{100, 100}, Cells: [][]tally.Cell{{{Evaluated: 100, Opportunities: 100}, {Evaluated: 80, Partly: 20, Known: 10, Opportunities: 90}}}}
		for s, n := range month {
			for k := range n {
				m.Events = append(m.Events, tally.Event{Flight: name + string(rune('A'+s)) + string(rune('a'+k)), Stratum: s, Severity: tally.High, Certain: true})
			}
		}
		t.Months = append(t.Months, m)
	}
	return t
}

// Three events where there was none are no alarm, whatever the level; and are
// called small.
func TestSmallNumbers(t *testing.T) {
	t.Parallel()
	tr, err := New(one([2]int{0, 0}, [2]int{0, 0}, [2]int{0, 4}, [2]int{0, 0}), Options{Level: 0.99, Correction: BenjaminiHochberg})
	if err != nil {
		t.Fatal(err)
	}
	if len(tr.Findings) > 0 {
		t.Errorf("an alarm on four events: %v", tr.Findings)
	}
	rows := tr.RateRows()
	if !rows[0].Small || rows[0].Events != 0 {
		t.Errorf("%+v", rows[0])
	}
}

// Rates by hand: aircraft B is known for 80 whole flights and 10 of 20 in part, so
// 190 flights a month are able; 12 events in the two recent months are
// 12/380 = 31.58 per thousand, and Garwood's limits of 12 are 6.2006 and 20.9616
// (from memory of the tables), over 0.38.
func TestRatesByHand(t *testing.T) {
	t.Parallel()
	tr, err := New(one([2]int{0, 0}, [2]int{1, 0}, [2]int{2, 4}, [2]int{1, 5}), Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range tr.RateRows() {
		if row.Period != "2030-03 to 2030-04" || row.Severity != "" || row.Column != "" {
			continue
		}
		if row.Events != 12 || row.Able != 380 || row.Partly != 40 || math.Abs(*row.Rate-31.5789) > 1e-4 ||
			math.Abs(*row.Low*0.38-6.2006) > 1e-4 || math.Abs(*row.High*0.38-20.9616) > 1e-4 {
			t.Errorf("%+v: %v (%v to %v)", row, *row.Rate, *row.Low, *row.High)
		}
	}
	var c ComparisonRow
	for _, row := range tr.ComparisonRows() {
		if row.Value == "B" {
			c = row
		}
	}
	if c.Count != 9 || c.Count2 != 3 || c.Able != 180 || c.Able2 != 200 || c.Against != "the other aircraft of type TH-120" {
		t.Errorf("%+v", c)
	}
}

// Rates divide by opportunities, flights beside, by hand: A flies circuits, ten
// approaches a flight, so 1,090 approaches a month of 190 flights able, and ten
// more flights without one; 12 events in two months are 12/2180 = 5.5046 per
// thousand approaches and 31.5789 per thousand flights, and Garwood's limits of 12
// are over 2.18. Each of A's 3 approaches in 2,000 with an event is six times
// rarer than B's 9 in 180 by flight, and 33 times by approach: 50/1.5.
func TestRatesByOpportunity(t *testing.T) {
	t.Parallel()
	counted := one([2]int{0, 0}, [2]int{1, 0}, [2]int{2, 4}, [2]int{1, 5})
	for m := range counted.Months {
		counted.Months[m].Cells[0][0].Opportunities, counted.Months[m].Cells[0][0].NoOpportunity = 1000, 10
	}
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range tr.RateRows() {
		if row.Period != "2030-03 to 2030-04" || row.Severity != "" || row.Column != "" {
			continue
		}
		if row.NoOpportunity != 20 || *row.Opportunities != 2180 || math.Abs(*row.OpenRate-5.5046) > 1e-4 || math.Abs(*row.Rate-31.5789) > 1e-4 ||
			math.Abs(*row.OpenLow*2.18-6.2006) > 1e-4 || math.Abs(*row.OpenHigh*2.18-20.9616) > 1e-4 {
			t.Errorf("%+v: %v of %v", row, *row.OpenRate, *row.Opportunities)
		}
	}
	for _, row := range tr.ComparisonRows() {
		if row.Value == "B" && (row.DividedBy != "opportunities" || *row.Open != 180 || *row.Open2 != 2000 || row.Able != 180 || row.Able2 != 200 || math.Abs(*row.Ratio-100.0/3) > 1e-9) {
			t.Errorf("%+v: ratio %v", row, *row.Ratio)
		}
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: a, rule: gear-late, current: 1, preceding: 3}\n  - {id: b, rule: gear-late, current: 1, preceding: 3, per: flights}\n"))
	if err != nil {
		t.Fatal(err)
	}
	all := tr.Judge(in) // 6 events in the last month, on 1,090 approaches and 190 flights
	if a, b := all[0].Latest(), all[1].Latest(); math.Abs(a.Value-6/1.09) > 1e-9 || math.Abs(b.Value-6/0.19) > 1e-9 ||
		all[0].Unit != "events per 1,000 opportunities" || all[1].Unit != "events per 1,000 flights" {
		t.Errorf("%+v and %+v", all[0], all[1])
	}
	page, err := tr.Page()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Events per 1,000 opportunities", "9 events on 180 opportunities in 2030-03 to 2030-04, 50 per 1,000; 3 of the other aircraft of type TH-120 on 2,000, 1.5 per 1,000. Per 1,000 flights evaluated: 50 and 15."} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// With one flight from before opportunities were counted, rates are by flight
// throughout, and the page says so.
func TestFlightsFromBeforeOpportunities(t *testing.T) {
	t.Parallel()
	counted := one([2]int{0, 0}, [2]int{1, 0}, [2]int{2, 4}, [2]int{1, 5})
	for m := range counted.Months[1:] {
		counted.Months[m+1].Cells[0][0].Opportunities = 1000
	}
	counted.Uncounted = 1
	tr, err := New(counted, Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range tr.ComparisonRows() {
		if row.Value == "B" && (row.DividedBy != "flights" || row.Open != nil || math.Abs(*row.Ratio-10.0/3) > 1e-9) { // 9/180 against 3/200
			t.Errorf("%+v: ratio %v", row, *row.Ratio)
		}
	}
	page, err := tr.Page()
	if err != nil {
		t.Fatal(err)
	}
	if text := string(page); !strings.Contains(text, "Events per 1,000 flights</h2>") || !strings.Contains(text, "All rates are per 1,000 flights, because the archive has 1 evaluation from before") || strings.Contains(text, "opportunities_known") {
		t.Error("the page does not say that it divides by flights")
	}
}

// Where events come in clumps, flights with one are compared: 30 events in one
// flight are one fault, and no finding.
func TestClumps(t *testing.T) {
	t.Parallel()
	clumped := one([2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1})
	last := &clumped.Months[3]
	for range 30 {
		last.Events = append(last.Events, last.Events[1])
	}
	tr, err := New(clumped, Options{Level: 0.05, Correction: Holm})
	if err != nil {
		t.Fatal(err)
	}
	if row := tr.ComparisonRows()[0]; row.Counted != "flights with an event" || row.Count != 4 || row.Count2 != 4 {
		t.Errorf("%+v", row)
	}
	if len(tr.Findings) > 0 {
		t.Errorf("found %+v", tr.Findings)
	}
}
