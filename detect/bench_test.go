//go:build linux

package detect_test

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// roughFlight is a recording of so many seconds from take-off to landing, with noise on
// every number, widened to 64 columns by columns no profile maps.
func roughFlight(b *testing.B, seconds float64) *ingest.Recording {
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
	return r
}

// BenchmarkDetect is all of detection on rough flights of one, two and four hours: checks,
// observations, measurements, opportunities and events. /kilosample says whether it grows
// with the samples and not faster.
func BenchmarkDetect(b *testing.B) {
	for _, hours := range []float64{1, 2, 4} {
		b.Run(fmt.Sprintf("%gh", hours), func(b *testing.B) {
			r := roughFlight(b, hours*3600)
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
		})
	}
}
