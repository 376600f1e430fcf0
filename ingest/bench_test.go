package ingest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"hash"
	"io"
	"math"
	"strings"
	"sync"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	arrowcsv "github.com/apache/arrow/go/v17/arrow/csv"

	"downlock/ingest/export"
	"downlock/schemas"
)

// benchRecording is benchTable as a wide CSV export.
var benchRecording = sync.OnceValues(func() ([]byte, *schemas.Profile) {
	table, profile := benchTable([]float64{8, 4, 4, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.5, 0.25})
	return benchExport(export.WideCSV, table), profile
})

// benchTable is a two-hour recording with 8 rows a second: 64 columns at the rates
// in turn, each with its own offset inside the second, blank elsewhere. The profile
// maps 25 of them; the others stand between them.
func benchTable(rates []float64) (export.Table, *schemas.Profile) {
	mapped := []string{"normal_acceleration", "pitch_attitude", "roll_attitude", "radio_altitude", "flap_angle", "throttle_angle_1", "throttle_angle_2",
		"computed_airspeed", "pressure_altitude", "gear_lever", "nose_gear_down_locked", "left_gear_down_locked", "right_gear_down_locked",
		"vertical_speed", "ground_speed", "latitude", "left_strut_compressed", "right_strut_compressed", "nose_strut_compressed", "gear_horn",
		"gear_horn_cutout", "engine_n1_1", "engine_n1_2", "flap_handle", "longitude"}
	var yaml strings.Builder
	yaml.WriteString("schema: downlock profile 1\naircraft: B\ntitle: benchmark\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time_s}\ncolumns:\n")
	table := export.Table{TimeName: "time_s"}
	next := 0
	for i := range 64 {
		column := export.Column{Name: fmt.Sprintf("UNREAD %d", i)}
		kind := schemas.Continuous
		if i*25/64 != (i+1)*25/64 {
			parameter, _ := schemas.LookupParameter(mapped[next])
			next++
			column.Name, kind = "P "+parameter.Name, parameter.Kind
			fmt.Fprintf(&yaml, "  %s: {column: %q, %s}\n", parameter.Name, column.Name, benchSource(parameter))
		}
		benchSamples(&column, kind, rates[i%len(rates)], i)
		table.Columns = append(table.Columns, column)
	}
	profile, err := schemas.ParseProfile("bench.yaml", []byte(yaml.String()))
	if err != nil {
		panic(err)
	}
	return table, profile
}

func benchExport(layout export.Layout, table export.Table) []byte {
	var b bytes.Buffer
	if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func benchSource(p schemas.Parameter) string {
	switch p.Kind {
	case schemas.Discrete:
		return "true_when: 1"
	case schemas.State:
		return "states: {UP: UP, DN: DOWN}"
	}
	return fmt.Sprintf("unit: %q", p.Unit)
}

func benchSamples(c *export.Column, kind schemas.Kind, rate float64, i int) {
	c.Decimals = i % 4
	offset := float64(i%8) / 8
	if rate > 1 {
		offset = float64(i%int(8/rate)) / 8
	}
	for n := range int(7200 * rate) {
		at := float64(n)/rate + offset
		c.Times = append(c.Times, at)
		switch kind {
		case schemas.Discrete:
			c.Numbers, c.Decimals = append(c.Numbers, float64(int(at/900)%2)), 0
		case schemas.State:
			c.Texts = append(c.Texts, []string{"UP", "DN"}[int(at/900)%2])
		default:
			c.Numbers = append(c.Numbers, (2+float64(i)/40)*math.Sin(at/97))
		}
	}
}

// BenchmarkWideCSV compares, over the same bytes: our reading (bytes to Arrow
// series), the same with the hash of the bytes that Read adds, encoding/csv
// merely cutting the bytes into fields, and arrow/csv reading the 64 columns
// into Arrow.
func BenchmarkWideCSV(b *testing.B) {
	data, profile := benchRecording()
	b.Run("downlock", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		b.ReportAllocs()
		for b.Loop() {
			r, err := Limits{}.read("bench.csv", bytes.NewReader(data), int64(len(data)), profile, noHash{})
			if err != nil || len(r.Series) != 25 {
				b.Fatal(err)
			}
		}
	})
	b.Run("downlock_and_hash", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		b.ReportAllocs()
		for b.Loop() {
			r, err := ReadBytes("bench.csv", data, profile)
			if err != nil || len(r.Series) != 25 {
				b.Fatal(err)
			}
		}
	})
	b.Run("encoding_csv", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		b.ReportAllocs()
		for b.Loop() {
			in := csv.NewReader(bytes.NewReader(data))
			in.ReuseRecord = true
			for {
				if _, err := in.Read(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					b.Fatal(err)
				}
			}
		}
	})
	b.Run("arrow_csv", func(b *testing.B) {
		schema := benchArrowSchema(data)
		b.SetBytes(int64(len(data)))
		b.ReportAllocs()
		for b.Loop() {
			in := arrowcsv.NewReader(bytes.NewReader(data), schema, arrowcsv.WithHeader(true), arrowcsv.WithChunk(4096), arrowcsv.WithNullReader(false, ""))
			for in.Next() {
			}
			if err := in.Err(); err != nil {
				b.Fatal(err)
			}
			in.Release()
		}
	})
}

// BenchmarkColumnar reads the same from Arrow and Parquet: sparse has the rates and
// nulls of BenchmarkWideCSV, dense has a sample in every cell.
func BenchmarkColumnar(b *testing.B) {
	for name, rates := range map[string][]float64{"sparse": {8, 4, 4, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 0.5, 0.25}, "dense": {8}} {
		table, profile := benchTable(rates)
		for format, layout := range map[string]export.Layout{"arrow": export.WideArrow, "parquet": export.WideParquet} {
			b.Run(format+"_"+name, func(b *testing.B) {
				data := benchExport(layout, table)
				b.SetBytes(int64(len(data)))
				b.ReportAllocs()
				for b.Loop() {
					r, err := Limits{}.read("bench", bytes.NewReader(data), int64(len(data)), profile, noHash{})
					if err != nil || len(r.Series) != 25 {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// noHash takes the bytes and does nothing.
type noHash struct{ hash.Hash }

func (noHash) Write(p []byte) (int, error) { return len(p), nil }

func benchArrowSchema(data []byte) *arrow.Schema {
	header, _, _ := strings.Cut(string(data), "\n")
	var fields []arrow.Field
	for _, name := range strings.Split(header, ",") {
		field := arrow.Field{Name: name, Type: arrow.PrimitiveTypes.Float64, Nullable: true}
		if name == "P gear_lever" {
			field.Type = arrow.BinaryTypes.String
		}
		fields = append(fields, field)
	}
	return arrow.NewSchema(fields, nil)
}
