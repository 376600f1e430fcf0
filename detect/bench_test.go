//go:build linux

package detect_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"testing"

	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// roughFlight is a recording of so many seconds from take-off to landing, with noise on
// every number, widened to 64 columns by columns no profile maps, and the CSV it was read
// from.
func roughFlight(b *testing.B, seconds float64) (*ingest.Recording, []byte) {
	b.Helper()
	flight, err := simulator.LongFlight(1, seconds-100)
	if err != nil {
		b.Fatal(err)
	}
	table := flight.RecordRough()
	for i := 0; len(table.Columns) < 64; i++ {
		more := table.Columns[i]
		more.Name = fmt.Sprintf("unread %d", i)
		table.Columns = append(table.Columns, more)
	}
	var text bytes.Buffer
	if err := export.Write(&text, export.Format{Layout: export.WideCSV}, table); err != nil {
		b.Fatal(err)
	}
	profile, err := schemas.ShippedProfile()
	if err != nil {
		b.Fatal(err)
	}
	r, err := ingest.ReadBytes("rough.csv", text.Bytes(), profile)
	if err != nil {
		b.Fatal(err)
	}
	return r, text.Bytes()
}

// leastSeconds is the least processor time of a few calls.
func leastSeconds(call func()) float64 {
	least := math.Inf(1)
	for range 5 {
		before := processorSeconds()
		call()
		least = min(least, processorSeconds()-before)
	}
	return least
}

// BenchmarkDetect is all of detection on rough flights of one, two and four hours: checks,
// observations, measurements, opportunities and events. ns/sample says whether it grows
// with the samples and not faster, x-reading what it takes beside our reading of the same
// bytes, x-csv beside encoding/csv.
func BenchmarkDetect(b *testing.B) {
	for _, hours := range []float64{1, 2, 4} {
		b.Run(fmt.Sprintf("%gh", hours), func(b *testing.B) {
			r, text := roughFlight(b, hours*3600)
			samples := 0
			for _, s := range r.Series {
				samples += s.Len()
			}
			d, _ := shippedDetector(b)
			if results := d.Detect(r); len(results) != 1 || len(results[0].Events) != 0 {
				b.Fatalf("%d flights, or events where there are none", len(results))
			}
			b.ReportAllocs()
			least := math.Inf(1)
			for b.Loop() {
				before := processorSeconds()
				d.Detect(r)
				least = min(least, processorSeconds()-before)
			}
			b.ReportMetric(1e3*least, "least-cpu-ms")
			b.ReportMetric(1e9*least/float64(samples), "ns/sample")
			profile, err := schemas.ShippedProfile()
			if err != nil {
				b.Fatal(err)
			}
			reading := leastSeconds(func() {
				if _, err := ingest.ReadBytes("rough.csv", text, profile); err != nil {
					b.Fatal(err)
				}
			})
			plain := leastSeconds(func() {
				rows := csv.NewReader(bytes.NewReader(text))
				rows.ReuseRecord = true
				for {
					if _, err := rows.Read(); errors.Is(err, io.EOF) {
						return
					} else if err != nil {
						b.Fatal(err)
					}
				}
			})
			b.ReportMetric(least/reading, "x-reading")
			b.ReportMetric(least/plain, "x-csv")
		})
	}
}
