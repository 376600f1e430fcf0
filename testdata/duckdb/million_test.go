package duckdb

import (
	"os"
	"strings"
	"testing"
	"time"

	"downlock/report/trend/fleet"
)

// BenchmarkMillion times the trends of a million flights, 45 million evaluations,
// and in the same run DuckDB with the queries of the page, which do less: no
// comparison, no distribution by aircraft, no page. TREND_ARCHIVE names a folder
// to keep the archive in; it takes a minute to make.
func BenchmarkMillion(b *testing.B) {
	dir := os.Getenv("TREND_ARCHIVE")
	if dir == "" {
		dir = b.TempDir()
	}
	if _, err := os.Stat(dir + "/tables"); err != nil {
		if err := fleet.Million.Write(dir); err != nil {
			b.Fatal(err)
		}
	}
	db := open(b)
	if _, err := db.Exec("SET threads = 2"); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		began := time.Now()
		tr := trendOf(b, dir, false)
		read := time.Since(began)
		if err := tr.Write(b.TempDir(), false, false); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(read.Seconds(), "s/compared")
		b.ReportMetric(time.Since(began).Seconds(), "s/written")
		began = time.Now()
		for _, q := range tr.Queries() {
			one := time.Now()
			ask(b, db, q.SQL)
			b.ReportMetric(time.Since(one).Seconds(), "s/duckdb-"+strings.ReplaceAll(q.Name, " ", "-"))
		}
		b.ReportMetric(time.Since(began).Seconds(), "s/duckdb")
	}
}
