package duckdb

import (
	"database/sql"
	"fmt"
	"math"
	"strings"
	"testing"

	"downlock/report/trend"
	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
)

func trendOf(t testing.TB, dir string, certainOnly bool) *trend.Trend {
	t.Helper()
	counted, err := tally.Read(tally.Options{Archive: dir, By: []string{"aircraft"}, CertainOnly: certainOnly})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := trend.New(counted, trend.Options{Level: 0.05, Correction: trend.Holm, Archive: dir, CertainOnly: certainOnly})
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
func same(t *testing.T, what string, got, want map[string][]float64) {
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

func TestQueries(t *testing.T) {
	dir := t.TempDir()
	f := fleet.Fleet{Seed: 8, Flights: 24_000, Months: 24, First: "2030-05", Aircraft: 9, Rules: 45}
	if err := f.Write(dir); err != nil {
		t.Fatal(err)
	}
	db := open(t)
	for _, certainOnly := range []bool{false, true} {
		tr := trendOf(t, dir, certainOnly)
		for _, q := range tr.Queries() {
			same(t, q.Name, numbers(t, db, q.SQL), ours(tr, q.Name))
		}
	}
}

// ours are our numbers for a query of that name.
func ours(tr *trend.Trend, name string) map[string][]float64 {
	out := map[string][]float64{}
	month := func(period string) bool { return len(period) == len("2030-05") }
	column, groups := strings.CutPrefix(name, "groups ")
	switch {
	case name == "measurements":
		for _, r := range tr.MeasurementRows() {
			if month(r.Period) {
				out[r.Measurement+"|"+r.Period] = []float64{float64(r.Flights), number(r.P5), number(r.P25), number(r.Median), number(r.P75), number(r.P95)}
			}
		}
	case name == "audits":
		for _, r := range tr.AuditRows() {
			out[r.Warning+"|"+r.Month] = []float64{number(r.Agreement), float64(r.Missed), float64(r.Late), float64(r.Nuisance)}
		}
	case name == "rates":
		for _, r := range tr.RateRows() {
			if month(r.Period) && r.Severity == "" && r.Column == "" {
				out[r.Rule+"|"+r.Period] = []float64{float64(r.Events), float64(r.FlightsWith), r.Able, number(r.Rate)}
			}
		}
	case groups:
		for _, r := range tr.RateRows() {
			if r.Period == tr.Name(tr.Recent) && r.Severity == "" && r.Column == column {
				out[r.Rule+"|"+r.Value] = []float64{float64(r.Events), r.Able}
			}
		}
	}
	return out
}
