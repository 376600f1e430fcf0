package duckdb

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// BenchmarkRatioParquet reports the time of ingest.Read on a rough two-hour flight in
// Parquet, over that of DuckDB adding up the cells of the columns that the profile maps:
// by the clock, and of the processor, since DuckDB has as many threads as there are cores.
// Each takes its least of all turns. DuckDB estimates no accuracy and looks for no spike, held
// value or step of time.
func BenchmarkRatioParquet(b *testing.B) {
	flight, err := simulator.LongFlight(1, 7100)
	if err != nil {
		b.Fatal(err)
	}
	var data bytes.Buffer
	table := flight.RecordRough()
	if err := export.Write(&data, export.Format{Layout: export.WideParquet}, table); err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(b.TempDir(), "flight.parquet")
	if err := os.WriteFile(path, data.Bytes(), 0o666); err != nil {
		b.Fatal(err)
	}
	profile, err := schemas.ShippedProfile()
	if err != nil {
		b.Fatal(err)
	}
	sums := []string{fmt.Sprintf("sum(%q)", profile.Time.Column)}
	for _, c := range table.Columns {
		for _, sources := range profile.Columns {
			if sources[0].Column == c.Name && c.Numbers != nil {
				sums = append(sums, fmt.Sprintf("sum(%q)", c.Name))
			} else if sources[0].Column == c.Name {
				sums = append(sums, fmt.Sprintf("sum(length(%q))", c.Name))
			}
		}
	}
	query := fmt.Sprintf("SELECT %s FROM read_parquet('%s')", strings.Join(sums, ", "), path)
	db := open(b)
	var ours, theirs spent
	for b.Loop() {
		ours.of(func() {
			if _, err := ingest.Read(path, profile); err != nil {
				b.Fatal(err)
			}
		})
		theirs.of(func() {
			if got := ask(b, db, query); len(got) != 1 || len(got[0]) < 40 {
				b.Fatal(got)
			}
		})
	}
	b.ReportMetric(ours.clock.Seconds()/theirs.clock.Seconds(), "x-duckdb-clock")
	b.ReportMetric(ours.processor.Seconds()/theirs.processor.Seconds(), "x-duckdb")
	b.ReportMetric(1e3*ours.clock.Seconds(), "ms")
	b.ReportMetric(0, "ns/op")
}

// spent is what something took, at least.
type spent struct{ processor, clock time.Duration }

func (s *spent) of(work func()) {
	used := func() time.Duration {
		var u syscall.Rusage
		syscall.Getrusage(syscall.RUSAGE_SELF, &u)
		return time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	processor, clock := used(), time.Now()
	work()
	took := spent{used() - processor, time.Since(clock)}
	if s.clock == 0 || took.clock < s.clock {
		s.clock = took.clock
	}
	if s.processor == 0 || took.processor < s.processor {
		s.processor = took.processor
	}
}
