package duckdb

import (
	"database/sql"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"downlock/report/trend"
	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
)

func trendOf(t testing.TB, from tally.Options, o trend.Options) *trend.Trend {
	t.Helper()
	counted, err := tally.Read(from)
	if err != nil {
		t.Fatal(err)
	}
	o.Level, o.Correction, o.Archive, o.CertainOnly = 0.05, trend.Holm, from.Archive, from.CertainOnly
	o.Occurrences = from.Occurrences
	tr, err := trend.New(counted, o)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// numbers gives the rows of a query by their first two cells: the rest as
// numbers, not a number where absent.
func numbers(t testing.TB, db *sql.DB, query string) map[string][]float64 {
	t.Helper()
	out := map[string][]float64{}
	for _, row := range ask(t, db, query) {
		key := fmt.Sprint(row[0], "|", row[1])
		for _, cell := range row[2:] {
			v := math.NaN()
			if cell != nil {
				fmt.Sscan(fmt.Sprint(cell), &v)
			}
			out[key] = append(out[key], v)
		}
	}
	return out
}

func number(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// same compares the rows of a query with ours, key by key.
func same(t testing.TB, what string, got, want map[string][]float64) {
	t.Helper()
	if len(got) != len(want) || len(want) == 0 {
		t.Errorf("%s: DuckDB has %d rows, we have %d", what, len(got), len(want))
	}
	for key, w := range want {
		g := got[key]
		for i := range w {
			if len(g) != len(w) || math.Abs(g[i]-w[i]) > 1e-9*(1+math.Abs(w[i])) || math.IsNaN(g[i]) != math.IsNaN(w[i]) {
				t.Errorf("%s, %s: DuckDB %v, ours %v", what, key, g, w)
				break
			}
		}
	}
}

// The SQL of the page and of every finding gives the figures that are there: with
// groups by other columns, certain events alone, false ones left out, and shorter
// periods, which are a year apart. The first month has no column for aerodromes and
// none for opportunities of measurements, as one written before there were; one flight
// in four has several values of some measurements. Of the events one in five has others
// of its cause beside it; the second month was written before that was noted.
func TestQueries(t *testing.T) {
	dir := t.TempDir()
	f := fleet.Fleet{Seed: 21, Flights: 60_000, Months: 30, First: "2030-02", Aircraft: 12, Rules: 45, Causes: 5, Circuits: 4}
	if err := f.Write(dir); err != nil {
		t.Fatal(err)
	}
	dropAerodromes(t, filepath.Join(dir, "tables/flights/month=2030-02/part.parquet"))
	dropOpportunities(t, filepath.Join(dir, "tables/measurements/month=2030-02/part.parquet"))
	dropOccurrences(t, filepath.Join(dir, "tables/events/month=2030-03/part.parquet"))
	reject(t, dir)
	rejected, damaged, err := trend.FalseEvents(dir)
	if err != nil || len(damaged) > 0 || rejected == nil {
		t.Fatal(damaged, err)
	}
	airframe := regexp.MustCompile(fleet.AirframePattern)
	db := open(t)
	rates, measured := 0, 0
	for _, c := range []struct {
		from tally.Options
		o    trend.Options
	}{
		{tally.Options{By: []string{"aircraft"}}, trend.Options{}},
		{tally.Options{By: []string{"aircraft"}, CertainOnly: true, Airframe: airframe}, trend.Options{AirframePattern: fleet.AirframePattern}},
		{tally.Options{By: []string{"aircraft"}, Occurrences: true}, trend.Options{}},
		{tally.Options{By: []string{"aircraft"}, Occurrences: true, CertainOnly: true, Rejected: rejected}, trend.Options{Reviewed: true}},
		{tally.Options{By: []string{"aircraft", "arrival_aerodrome"}, Rejected: rejected}, trend.Options{Months: 4, Reviewed: true}},
	} {
		c.from.Archive = dir
		tr := trendOf(t, c.from, c.o)
		if c.o.Reviewed && tr.False != len(falseOnes) {
			t.Errorf("%d events left out, want %d", tr.False, len(falseOnes))
		}
		if c.from.Occurrences && (tr.Beside < 1000 || tr.Alone == 0) {
			t.Errorf("%d events beside another of their cause, %d from before: too few to tell", tr.Beside, tr.Alone)
		}
		for _, q := range tr.Queries() {
			same(t, q.Name, numbers(t, db, q.SQL), ours(tr, q.Name))
		}
		for _, list := range [][]trend.Finding{tr.Findings, tr.Improvements, tr.Doubtful} {
			for _, finding := range list {
				rows := ask(t, db, finding.SQL)
				if len(rows) == 2 {
					rates++
					sameRates(t, tr, finding, rows)
				} else {
					measured++
					sameSpreads(t, tr, finding, rows)
				}
			}
		}
	}
	several := 0
	for _, r := range trendOf(t, tally.Options{Archive: dir}, trend.Options{}).MeasurementRows() {
		if r.Values > r.Flights && r.Period != "2030-02" {
			several++
		}
	}
	if several < 8*29 {
		t.Errorf("only %d rows of measurements have several values a flight", several)
	}
	if rates < 6 || measured < 3 {
		t.Fatalf("%d findings of rates and %d of measurements: too few to tell", rates, measured)
	}
}

// sameRates holds the two rows of a finding of rates against the comparison.
func sameRates(t *testing.T, tr *trend.Trend, finding trend.Finding, rows [][]any) {
	t.Helper()
	for _, c := range tr.ComparisonRows() {
		if c.Rule == finding.Subject && c.Column == finding.Column && c.Value == finding.Value {
			want := map[string][]float64{
				"this": {float64(c.Count), c.Able}, "against": {float64(c.Count2), c.Able2}}
			if c.DividedBy == "opportunities" { // the column before the flights
				want = map[string][]float64{"this": {float64(c.Count), *c.Open}, "against": {float64(c.Count2), *c.Open2}}
			}
			for _, row := range rows {
				var got [2]float64
				fmt.Sscan(fmt.Sprint(row[1]), &got[0])
				fmt.Sscan(fmt.Sprint(row[2]), &got[1])
				if w := want[fmt.Sprint(row[0])]; w == nil || got[0] != w[0] || math.Abs(got[1]-w[1]) > 1e-6*w[1] {
					t.Errorf("%s, %v: DuckDB %v, ours %v", finding.Headline, row[0], got, w)
				}
			}
			return
		}
	}
	t.Errorf("no comparison is that of %q", finding.Headline)
}

// sameSpreads holds the row of a finding of a measurement against ours.
func sameSpreads(t *testing.T, tr *trend.Trend, finding trend.Finding, rows [][]any) {
	t.Helper()
	var got []float64
	for _, cell := range rows[0] {
		v := math.NaN()
		fmt.Sscan(fmt.Sprint(cell), &v)
		got = append(got, v)
	}
	for _, r := range tr.MeasurementRows() {
		if r.Measurement != finding.Subject || r.Column != finding.Column || r.Value != finding.Value || r.Above == nil {
			continue
		}
		want := []float64{float64(r.Flights), float64(r.Values), *r.Median, *r.P25, *r.P75, *r.Beyond, *r.Above}
		if near(want, append(append([]float64{}, got[:5]...), got[9:]...)) {
			return
		}
	}
	t.Errorf("%s: DuckDB %v is none of ours", finding.Headline, got)
}

func near(want, got []float64) bool {
	for i, w := range want {
		if len(got) != len(want) || math.Abs(got[i]-w) > 1e-9*(1+math.Abs(w)) {
			return false
		}
	}
	return true
}

// ours are our numbers for a query of that name.
func ours(tr *trend.Trend, name string) map[string][]float64 {
	out := map[string][]float64{}
	month := func(period string) bool { return len(period) == len("2030-05") }
	column, groups := strings.CutPrefix(name, "groups ")
	measured, spreads := strings.CutPrefix(name, "measurements ")
	switch {
	case name == "measurements":
		for _, r := range tr.MeasurementRows() {
			if month(r.Period) {
				out[r.Measurement+"|"+r.Period] = []float64{float64(r.Flights), float64(r.Values), number(r.P5), number(r.P25), number(r.Median), number(r.P75), number(r.P95)}
			}
		}
	case name == "audits":
		for _, r := range tr.AuditRows() {
			out[r.Warning+"|"+r.Month] = []float64{number(r.Agreement), float64(r.Missed), float64(r.Late), float64(r.Nuisance), float64(r.WronglySilenced), float64(r.Flights)}
		}
	case name == "rates":
		for _, r := range tr.RateRows() {
			if month(r.Period) && r.Severity == "" && r.Column == "" {
				out[r.Rule+"|"+r.Period] = []float64{float64(r.Events), float64(r.FlightsWith), number(r.Opportunities), number(r.OpenRate), r.Able, number(r.Rate)}
			}
		}
	case name == "totals":
		for _, m := range tr.Tally.Months {
			flights, severities := 0, [3]int{}
			for _, n := range m.Flights {
				flights += n
			}
			for _, e := range m.Events {
				severities[e.Severity]++
			}
			out["all|"+m.Name] = []float64{float64(flights), float64(len(m.Events)), float64(severities[tally.High]), float64(severities[tally.Medium]), float64(severities[tally.Low])}
		}
	case spreads:
		for _, r := range tr.MeasurementRows() {
			if r.Column == measured && r.Against == "all of its kind" {
				out[r.Measurement+"|"+r.Value] = []float64{float64(r.Flights), float64(r.Values), number(r.P5), number(r.P25), number(r.Median), number(r.P75), number(r.P95)}
			}
		}
	case groups:
		for _, r := range tr.RateRows() {
			if r.Period == tr.Name(tr.Recent) && r.Severity == "" && r.Column == column {
				out[r.Rule+"|"+r.Value] = []float64{float64(r.Events), float64(r.FlightsWith), number(r.Opportunities), number(r.OpenRate), r.Able, number(r.Rate)}
			}
		}
	}
	return out
}
