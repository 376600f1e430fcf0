package ingest

import (
	"bytes"
	"context"
	"math"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	arrowparquet "github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"downlock/ingest/export"
)

// drawTable draws a table with columns of each kind.
func drawTable(t *rapid.T) export.Table {
	table := export.Table{TimeName: "time", UnitsRow: rapid.Bool().Draw(t, "units"), Epoch: time.Date(2031, 3, 31, 23, 59, 50, 0, time.UTC)}
	draw := func(name, unit string, numbers func() float64, texts []string, decimals int) {
		c := export.Column{Name: name, Unit: unit, Decimals: decimals}
		at := rapid.IntRange(0, 8).Draw(t, name+" offset")
		for range rapid.IntRange(1, 40).Draw(t, name+" samples") {
			c.Times = append(c.Times, float64(at)/8)
			at += rapid.IntRange(1, 12).Draw(t, "step")
			if texts != nil {
				c.Texts = append(c.Texts, rapid.SampledFrom(texts).Draw(t, "text"))
			} else {
				c.Numbers = append(c.Numbers, numbers())
			}
		}
		table.Columns = append(table.Columns, c)
	}
	draw("CAS", "kt", func() float64 { return rapid.Float64Range(-10, 520).Draw(t, "cas") }, nil, 1)
	draw("ALT", "ft", func() float64 { return rapid.Float64Range(-2500, 61000).Draw(t, "alt") }, nil, 0)
	draw("LEVER", "", nil, []string{"UP", "DN", "----"}, 0)
	draw("WOW", "", func() float64 { return float64(rapid.IntRange(0, 1).Draw(t, "wow")) }, nil, 0)
	draw("REMARK", "", nil, []string{"a, b", `say "x"`, "ü"}, 0)
	return table
}

// sameRecording compares all that does not come from the file's form.
func sameRecording(a, b *Recording) string {
	type fact struct {
		Column        string
		Interval, Gap float64
		Dropped       Dropped
	}
	facts := func(r *Recording) (out []fact) {
		for _, s := range r.Series {
			out = append(out, fact{s.Column, s.Interval, s.Gap, s.Dropped})
		}
		return out
	}
	return cmp.Diff(samplesOf(a), samplesOf(b)) + cmp.Diff(facts(a), facts(b)) + cmp.Diff(a.Absent, b.Absent) +
		cmp.Diff([]any{a.Epoch, a.Start, a.End}, []any{b.Epoch, b.Start, b.End})
}

func TestEveryFormatCarriesTheSame(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time, date: date, clock: utc", testColumns)
	rapid.Check(t, func(rt *rapid.T) {
		table := drawTable(rt)
		var first *Recording
		for _, layout := range export.Layouts {
			for _, compression := range []export.Compression{export.Plain, export.Gzip, export.Zstd} {
				var b bytes.Buffer
				if err := export.Write(&b, export.Format{Layout: layout, Compression: compression}, table); err != nil {
					rt.Fatal(err)
				}
				r, err := ReadBytes("f", b.Bytes(), profile)
				if err != nil {
					rt.Fatalf("%s %s: %v", layout, compression, err)
				}
				want := string(layout)
				if compression != export.Plain {
					want += ", " + string(compression)
				}
				if r.Format != want {
					rt.Errorf("read as %s, written as %s", r.Format, want)
				}
				checkSound(t, r)
				if first == nil {
					first = r
				} else if diff := sameRecording(first, r); diff != "" {
					rt.Fatalf("%s %s differs from wide CSV (-CSV +this):\n%s", layout, compression, diff)
				}
			}
		}
	})
}

// What our writer writes with one Parquet library, Arrow's own reader reads.
func TestParquetReadByArrow(t *testing.T) {
	t.Parallel()
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "CAS", Times: []float64{0, 1}, Numbers: []float64{100.04, 101.56}, Decimals: 1},
		{Name: "LEVER", Times: []float64{0.5}, Texts: []string{"DN"}},
	}}
	var b bytes.Buffer
	if err := export.Write(&b, export.Format{Layout: export.WideParquet}, table); err != nil {
		t.Fatal(err)
	}
	in, err := file.NewParquetReader(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	reader, err := pqarrow.NewFileReader(in, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	got, err := reader.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]string{"time": {"0", "0.5", "1"}, "CAS": {"100", "(null)", "101.6"}, "LEVER": {"(null)", "DN", "(null)"}}
	for i, field := range got.Schema().Fields() {
		var cells []string
		for _, chunk := range got.Column(i).Data().Chunks() {
			for row := range chunk.Len() {
				cells = append(cells, chunk.ValueStr(row))
			}
		}
		if diff := cmp.Diff(want[field.Name], cells); diff != "" {
			t.Errorf("%s (-want +got):\n%s", field.Name, diff)
		}
	}
}

// foreign is a record as other programs may write it: time stamps, small
// integers, booleans, dictionaries, decimals, nulls.
func foreign(dictionary bool) arrow.Record {
	var lever arrow.DataType = arrow.BinaryTypes.String
	if dictionary {
		lever = &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}
	}
	schema := arrow.NewSchema([]arrow.Field{
		{Name: "time", Type: &arrow.TimestampType{Unit: arrow.Millisecond, TimeZone: "UTC"}},
		{Name: "ALT", Type: arrow.PrimitiveTypes.Int32, Nullable: true},
		{Name: "CAS", Type: arrow.PrimitiveTypes.Float32, Nullable: true},
		{Name: "WOW", Type: arrow.FixedWidthTypes.Boolean, Nullable: true},
		{Name: "LEVER", Type: lever, Nullable: true},
	}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	midnight := time.Date(2031, 3, 31, 0, 0, 0, 0, time.UTC).UnixMilli()
	b.Field(0).(*array.TimestampBuilder).AppendValues([]arrow.Timestamp{arrow.Timestamp(midnight + 1000), arrow.Timestamp(midnight + 1125), arrow.Timestamp(midnight + 86400000)}, nil)
	b.Field(1).(*array.Int32Builder).AppendValues([]int32{1500, 0, -7}, []bool{true, false, true})
	b.Field(2).(*array.Float32Builder).AppendValues([]float32{0, 99.5, 100.25}, []bool{false, true, true})
	b.Field(3).(*array.BooleanBuilder).AppendValues([]bool{true, false, false}, []bool{true, true, false})
	for _, text := range []string{"DN", "", "UP"} {
		switch f := b.Field(4).(type) {
		case *array.StringBuilder:
			if text == "" {
				f.AppendNull()
			} else {
				f.Append(text)
			}
		case *array.BinaryDictionaryBuilder:
			if text == "" {
				f.AppendNull()
			} else if err := f.AppendString(text); err != nil {
				panic(err)
			}
		}
	}
	return b.NewRecord()
}

// foreignSamples are the samples of foreign, by hand.
var foreignSamples = samples{
	"computed_airspeed": {{1.125, 99.5}, {86400, 100.25}},
	"pressure_altitude": {{1, 1500}, {86400, -7}},
	"gear_lever":        {{1, 2}, {86400, 0}},
	"weight_on_wheels":  {{1, 1}, {1.125, 0}},
}

func TestForeignFiles(t *testing.T) {
	t.Parallel()
	for name, write := range map[string]func(*bytes.Buffer) error{
		"Arrow":             func(b *bytes.Buffer) error { return writeArrow(b, foreign(false)) },
		"Arrow, dictionary": func(b *bytes.Buffer) error { return writeArrow(b, foreign(true)) },
		"Parquet by Arrow":  func(b *bytes.Buffer) error { return writeParquet(b, foreign(false)) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		r, err := ReadBytes("f", b.Bytes(), profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if diff := cmp.Diff(foreignSamples, samplesOf(r)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
		if want := time.Date(2031, 3, 31, 0, 0, 0, 0, time.UTC); !r.Epoch.Equal(want) {
			t.Errorf("%s: epoch %v, want %v", name, r.Epoch, want)
		}
	}
}

// Rows without a time and out of order are noted by row number.
func TestColumnarNotes(t *testing.T) {
	t.Parallel()
	schema := arrow.NewSchema([]arrow.Field{{Name: "time", Type: arrow.PrimitiveTypes.Float64, Nullable: true}, {Name: "CAS", Type: arrow.PrimitiveTypes.Uint16}}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	b.Field(0).(*array.Float64Builder).AppendValues([]float64{0, 2, 0, 1, math.NaN()}, []bool{true, true, false, true, true})
	b.Field(1).(*array.Uint16Builder).AppendValues([]uint16{100, 102, 7, 101, 8}, nil)
	var buffer bytes.Buffer
	if err := writeArrow(&buffer, b.NewRecord()); err != nil {
		t.Fatal(err)
	}
	r, err := ReadBytes("f", buffer.Bytes(), profileOf(t, "column: time", testColumns))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {1, 101}, {2, 102}}}, samplesOf(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	want := []string{"2 rows without a valid time left out, the first in row 3", "time steps back in 1 row, the first in row 4; samples were sorted by time"}
	if diff := cmp.Diff(want, r.Notes); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
}

func writeArrow(b *bytes.Buffer, record arrow.Record) error {
	out := &seekBuffer{Buffer: b}
	w, err := ipc.NewFileWriter(out, ipc.WithSchema(record.Schema()), ipc.WithLZ4())
	if err != nil {
		return err
	}
	if err := w.Write(record); err != nil {
		return err
	}
	return w.Close()
}

func writeParquet(b *bytes.Buffer, record arrow.Record) error {
	w, err := pqarrow.NewFileWriter(record.Schema(), b, arrowparquet.NewWriterProperties(), pqarrow.DefaultWriterProps())
	if err != nil {
		return err
	}
	if err := w.Write(record); err != nil {
		return err
	}
	return w.Close()
}

// seekBuffer tells the Arrow writer its position.
type seekBuffer struct{ *bytes.Buffer }

func (s *seekBuffer) Seek(int64, int) (int64, error) { return int64(s.Len()), nil }

func TestColumnarProblems(t *testing.T) {
	t.Parallel()
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "LEVER", Times: []float64{0, 1}, Texts: []string{"UP", "HALF"}},
		{Name: "WOW", Times: []float64{0.5}, Numbers: []float64{3}},
	}}
	for _, layout := range []export.Layout{export.WideParquet, export.WideArrow} {
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		_, err := ReadBytes("f", b.Bytes(), profileOf(t, "column: time", testColumns))
		var got []string
		for _, p := range problemsOf(t, err) {
			got = append(got, p.Error())
		}
		want := []string{
			`f: row 2, column "WOW": "3" is neither true nor false for weight_on_wheels`,
			`f: row 3, column "LEVER": "HALF" is not a known state of gear_lever`,
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", layout, diff)
		}
		_, err = ReadBytes("f", b.Bytes(), profileOf(t, "column: t", testColumns))
		if p := problemsOf(t, err)[0]; p.Cause == "" || p.Hint == "" {
			t.Errorf("%s without time: %+v", layout, p)
		}
	}
}
