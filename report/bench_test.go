package report

import (
	"math"
	"path/filepath"
	"strconv"
	"testing"

	"downlock/detect"
)

// longResult is a flight of two hours with the fixture's parameters at up to
// 8 Hz and ten events.
func longResult(b testing.TB) *detect.Result {
	r := fixtureResult(b)
	const end = 7200
	rec := r.Flight.Recording
	for i, s := range rec.Series {
		interval := []float64{0.125, 0.25, 0.5, 1}[i%4]
		rec.Series[i] = sampled(b, s.Parameter.Name, 0, interval, end, func(at float64) float64 {
			if s.Parameter.Numeric() {
				return 100 + 50*math.Sin(at/300) + math.Sin(at*3)
			}
			return float64(int(at/600) % 2)
		})
	}
	r.Flight.Span = detect.Span{Start: 0, End: end}
	rec.End = end
	events := r.Events
	for i := range 7 {
		e := events[i%3]
		shift := float64(i * 900)
		for _, at := range []*detect.Time{&e.Start, &e.End} {
			at.Nominal, at.Earliest, at.Latest = at.Nominal+shift, at.Earliest+shift, at.Latest+shift
		}
		r.Events = append(r.Events, e)
	}
	return r
}

// BenchmarkFlight is all outputs of one flight: drawn and encoded; then with the
// files written.
func BenchmarkFlight(b *testing.B) {
	r, run := longResult(b), fixtureRun(b)
	b.Run("encode", func(b *testing.B) {
		for range b.N {
			doc := newDocument(run, r)
			page, err := renderFlight(doc, r, EventSamples)
			if err != nil {
				b.Fatal(err)
			}
			data, err := encodeJSON(doc)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(float64(len(page))/1024, "kB_html")
			b.ReportMetric(float64(len(data))/1024, "kB_json")
			encodeCSV(eventColumns, eventRows(doc))
		}
	})
	for _, sync := range []bool{false, true} {
		name := map[bool]string{false: "write", true: "write_synced"}[sync]
		b.Run(name, func(b *testing.B) {
			dir, run := b.TempDir(), *run
			run.Sync = sync
			for i := range b.N {
				// A folder each: replacing a file makes some file systems flush it.
				if _, err := writeFlight(filepath.Join(dir, strconv.Itoa(i)), &run, r); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
