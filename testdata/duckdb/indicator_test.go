package duckdb

import (
	"html"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/report/trend"
	"downlock/report/trend/fleet"
	"downlock/report/trend/tally"
)

// The SQL of the indicators' page gives their points, also by quarter and year,
// of some severities, of occurrences, and as quantiles and shares.
func TestIndicatorQueries(t *testing.T) {
	dir := t.TempDir()
	f := fleet.Fleet{Seed: 31, Flights: 12_000, Months: 27, First: "2029-11", Aircraft: 5, Rules: 45, Circuits: 4, Causes: 2}
	if err := f.Write(dir); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "indicators.yaml")
	text := `schema: downlock indicators 1
indicators:
  - {id: months, rule: lever-cycled, preceding: 15}
  - {id: quarters, rule: slow-leg, period: quarter, severity: [medium, high], current: 2, preceding: 6}
  - {id: years, rule: takeoff-parking-brake, period: year}
  - {id: flights, rule: lever-cycled, preceding: 15, per: flights}
  - {id: quantiles, measurement: retraction-time-left, quantile: 0.9, preceding: 15}
  - {id: shares, measurement: touchdown-acceleration, beyond: 1.5, period: quarter, current: 2, preceding: 6}
`
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	counted := map[bool]int64{}
	for _, occurrences := range []bool{false, true} {
		counted[occurrences] = samePoints(t, tally.Options{Archive: dir, CertainOnly: true, Occurrences: occurrences}, file)
	}
	if counted[true] > counted[false]*9/10 {
		t.Errorf("%d events and %d occurrences: too few have one cause", counted[false], counted[true])
	}
}

// samePoints holds the points of the indicators of a file against DuckDB, and returns
// the number of events in them.
func samePoints(t *testing.T, from tally.Options, file string) (events int64) {
	t.Helper()
	out := t.TempDir()
	tr := trendOf(t, from, trend.Options{})
	in, err := tr.ReadIndicators(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := tr.WriteIndicators(out, in, tr.Judge(in), false, false); err != nil {
		t.Fatal(err)
	}
	rows, err := parquet.ReadFile[trend.IndicatorRow](filepath.Join(out, "indicators.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join(out, trend.IndicatorsPage))
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile(`(?s)<pre>(.*?)</pre>`).FindAllSubmatch(page, -1)
	if len(blocks) != len(in.Indicators) {
		t.Fatalf("%d indicators, %d blocks of SQL", len(in.Indicators), len(blocks))
	}
	db := open(t)
	for i, indicator := range in.Indicators {
		points := map[string][]float64{}
		for key, values := range numbers(t, db, "SELECT '', * FROM ("+html.UnescapeString(string(blocks[i][1]))+")") {
			points[key[1:]] = values
		}
		compared := 0
		for _, row := range rows {
			if row.Indicator != indicator.ID {
				continue
			}
			compared++
			events += row.Events
			want, got := []float64{float64(row.Events), row.Able, row.Open, number(row.Value)}, points[row.Period]
			switch {
			case indicator.Rule == "":
				want = []float64{row.Able, row.Open, number(row.Value)}
			case indicator.Per == "flights" && len(got) == 4:
				want[2] = got[2] // the opportunities, which do not divide
			}
			if !near(want, got) {
				t.Errorf("%s, %s: DuckDB %v, ours %v", indicator.ID, row.Period, got, want)
			}
		}
		if compared < 2 {
			t.Errorf("%s: %d points", indicator.ID, compared)
		}
	}
	return events
}
