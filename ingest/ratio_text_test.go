package ingest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"downlock/ingest/export"
	"downlock/schemas"
)

// BenchmarkRatioText reports the processor time of Read on CSV, over that of encoding/csv
// cutting the same bytes into fields, and the same by the clock, by which another core hashes
// what is read; and for gzip the time by the clock over that of the decompressor alone, in
// turns. Each takes its least of all turns. The wide one has most
// cells blank and 25 of 64 columns mapped; the filled one has none blank, and the long one
// a row for each of its samples.
func BenchmarkRatioText(b *testing.B) {
	sparse, profile := benchTable([]float64{8, 4, 4, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.5, 0.25})
	dense, _ := benchTable([]float64{8})
	for _, c := range []struct {
		name  string
		table export.Table
		export.Format
	}{
		{"wide", sparse, export.Format{Layout: export.WideCSV}},
		{"filled", dense, export.Format{Layout: export.WideCSV}},
		{"long", sparse, export.Format{Layout: export.LongCSV}},
		{"gzip", sparse, export.Format{Layout: export.WideCSV, Compression: export.Gzip}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var text bytes.Buffer
			if err := export.Write(&text, c.Format, c.table); err != nil {
				b.Fatal(err)
			}
			data := text.Bytes()
			profile := *profile
			profile.Long = schemas.LongColumns{Parameter: export.ParameterColumn, Value: export.ValueColumn}
			var least [3]measured // Read, encoding/csv, gzip
			for i := range least {
				least[i] = measured{math.MaxInt64, math.MaxInt64}
			}
			for b.Loop() {
				least[0].of(func() error {
					_, err := Limits{}.read("bench", bytes.NewReader(data), int64(len(data)), &profile, newSums(false))
					return err
				}, b)
				plain := io.Reader(bytes.NewReader(data))
				if c.Compression == export.Gzip {
					var out bytes.Buffer
					least[2].of(func() error { return unzip(&out, data) }, b)
					plain = &out
				}
				least[1].of(func() error { return cutFields(plain) }, b)
			}
			b.ReportMetric(least[0].processor.Seconds()/least[1].processor.Seconds(), "x-csv")
			b.ReportMetric(least[0].clock.Seconds()/least[1].clock.Seconds(), "x-csv-clock")
			if c.Compression == export.Gzip {
				b.ReportMetric(least[0].clock.Seconds()/least[2].clock.Seconds(), "x-gunzip-clock")
			}
			b.ReportMetric(least[0].processor.Seconds()*1000, "ms")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// measured is what something took, at least.
type measured struct{ processor, clock time.Duration }

func (m *measured) of(work func() error, b *testing.B) {
	processor, clock := processorTime(), time.Now()
	if err := work(); err != nil {
		b.Fatal(err)
	}
	m.processor, m.clock = min(m.processor, processorTime()-processor), min(m.clock, time.Since(clock))
}

func cutFields(in io.Reader) error {
	rows := csv.NewReader(in)
	rows.ReuseRecord = true
	for {
		if _, err := rows.Read(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

func unzip(out io.Writer, data []byte) error {
	in, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return err
}
