package ingest

import (
	"bytes"
	"math"
	"strconv"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/decimal128"
	"github.com/apache/arrow/go/v17/arrow/memory"
	arrowparquet "github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// anyCells makes an array of a type, and what its cells must be read as: a number, a
// text, or nil for a null. Few of them differ in some arrays, as in dictionaries.
func anyCells(t *rapid.T, kind arrow.DataType, rows int) (arrow.Array, []any) {
	b := array.NewBuilder(memory.DefaultAllocator, kind)
	bits, nulls := rapid.SampledFrom([]uint64{3, math.MaxUint64}).Draw(t, "bits"), rapid.SampledFrom([]int{0, 2, 9}).Draw(t, "nulls")
	seed := rapid.Uint64().Draw(t, "seed")
	want := make([]any, 0, rows)
	for range rows {
		seed = seed*6364136223846793005 + 1442695040888963407 // Knuth's MMIX generator
		v := seed >> 7 & bits
		if nulls > 0 && int(seed>>33)%nulls == 0 {
			b.AppendNull()
			want = append(want, nil)
			continue
		}
		switch b := b.(type) {
		case *array.Float64Builder:
			b.Append(float64(v) / 8)
			want = append(want, float64(v)/8)
		case *array.Float32Builder:
			b.Append(float32(v) / 8)
			want = append(want, float64(float32(v)/8))
		case *array.Int16Builder:
			b.Append(int16(v))
			want = append(want, float64(int16(v)))
		case *array.Int32Builder:
			b.Append(int32(v))
			want = append(want, float64(int32(v)))
		case *array.Int64Builder:
			b.Append(int64(v))
			want = append(want, float64(int64(v)))
		case *array.Uint8Builder:
			b.Append(uint8(v))
			want = append(want, float64(uint8(v)))
		case *array.Uint32Builder:
			b.Append(uint32(v))
			want = append(want, float64(uint32(v)))
		case *array.Uint64Builder:
			b.Append(v)
			want = append(want, float64(v))
		case *array.BooleanBuilder:
			b.Append(v%2 == 1)
			want = append(want, strconv.FormatBool(v%2 == 1))
		case *array.StringBuilder:
			b.Append(strconv.FormatUint(v, 36))
			want = append(want, strconv.FormatUint(v, 36))
		}
	}
	return b.NewArray(), want
}

// cellsOf are a loaded column's.
func cellsOf(c *column) []any {
	out := make([]any, 0, c.rows())
	for row := range c.rows() {
		switch {
		case !c.has(row):
			out = append(out, nil)
		case c.text:
			out = append(out, c.texts[row])
		default:
			out = append(out, c.numbers[row])
		}
	}
	return out
}

// pagesOf writes a record as Parquet with Arrow's library, in row groups and pages of
// the lengths given.
func pagesOf(t testing.TB, record arrow.Record, group int64, options ...arrowparquet.WriterProperty) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := pqarrow.NewFileWriter(record.Schema(), &b, arrowparquet.NewWriterProperties(options...), pqarrow.DefaultWriterProps())
	if err != nil {
		t.Fatal(err)
	}
	for from := int64(0); from < record.NumRows(); from += group {
		if err := w.Write(record.NewSlice(from, min(from+group, record.NumRows()))); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What Arrow's library writes, in any pages, batches and dictionaries, is read cell for
// cell.
func TestColumnsOfEveryType(t *testing.T) {
	t.Parallel()
	kinds := []arrow.DataType{
		arrow.PrimitiveTypes.Float64, arrow.PrimitiveTypes.Float32, arrow.PrimitiveTypes.Int16, arrow.PrimitiveTypes.Int32, arrow.PrimitiveTypes.Int64,
		arrow.PrimitiveTypes.Uint8, arrow.PrimitiveTypes.Uint32, arrow.PrimitiveTypes.Uint64, arrow.FixedWidthTypes.Boolean, arrow.BinaryTypes.String,
	}
	rapid.Check(t, func(rt *rapid.T) {
		rows := rapid.IntRange(1, 300).Draw(rt, "rows")
		var fields []arrow.Field
		var columns []arrow.Array
		var want [][]any
		for _, kind := range kinds {
			cells, expected := anyCells(rt, kind, rows)
			fields = append(fields, arrow.Field{Name: kind.Name(), Type: kind, Nullable: cells.NullN() > 0 || rapid.Bool().Draw(rt, "nullable")})
			columns, want = append(columns, cells), append(want, expected)
		}
		record := array.NewRecord(arrow.NewSchema(fields, nil), columns, int64(rows))
		r, err := newReading("f", profileOf(t, "column: time", testColumns))
		if err != nil {
			rt.Fatal(err)
		}
		fromArrow, err := r.openArrow(arrowBatches(t, record, rapid.IntRange(1, 3).Draw(rt, "batches")))
		if err == nil {
			err = fromArrow.load()
		}
		if err != nil {
			rt.Fatal(err)
		}
		fromParquet, err := r.openParquet(pagesOf(t, record, int64(rapid.IntRange(20, 300).Draw(rt, "group")),
			arrowparquet.WithDataPageSize(int64(rapid.IntRange(50, 2000).Draw(rt, "page"))), arrowparquet.WithBatchSize(10),
			arrowparquet.WithDictionaryDefault(rapid.Bool().Draw(rt, "dictionary")),
			arrowparquet.WithDictionaryPageSizeLimit(int64(rapid.SampledFrom([]int{100, 1 << 20}).Draw(rt, "dictionary bytes"))),
			arrowparquet.WithDataPageVersion(rapid.SampledFrom([]arrowparquet.DataPageVersion{arrowparquet.DataPageV1, arrowparquet.DataPageV2}).Draw(rt, "version"))))
		if err != nil {
			rt.Fatal(err)
		}
		for i, field := range fields {
			for format, file := range map[string]columnar{"Arrow": fromArrow, "Parquet": fromParquet} {
				c, err := r.load(file, i)
				if err != nil {
					rt.Fatalf("%s, %s: %v", format, field.Name, err)
				}
				if diff := cmp.Diff(want[i], cellsOf(c)); diff != "" {
					rt.Fatalf("%s, %s (-want +got):\n%s", format, field.Name, diff)
				}
			}
		}
	})
}

// Types whose numbers do not say what they mean, by hand: 1 April 2031 is 22370 days and
// 1932768000 s after 1 January 1970; 45015.125 s are 12 h 30 min 15.125 s.
func TestParquetTypesOfTime(t *testing.T) {
	t.Parallel()
	fields := []arrow.Field{
		{Name: "date", Type: arrow.FixedWidthTypes.Date32, Nullable: true},
		{Name: "ms", Type: arrow.FixedWidthTypes.Time32ms, Nullable: true},
		{Name: "us", Type: arrow.FixedWidthTypes.Time64us, Nullable: true},
		{Name: "instant", Type: arrow.FixedWidthTypes.Timestamp_us, Nullable: true},
		{Name: "price", Type: &arrow.Decimal128Type{Precision: 9, Scale: 2}, Nullable: true},
	}
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, nil))
	b.Field(0).(*array.Date32Builder).AppendValues([]arrow.Date32{22370, 0, 0}, []bool{true, false, true})
	b.Field(1).(*array.Time32Builder).AppendValues([]arrow.Time32{45015125, 0, 0}, []bool{true, false, true})
	b.Field(2).(*array.Time64Builder).AppendValues([]arrow.Time64{45015125000, 0, 0}, []bool{true, false, true})
	b.Field(3).(*array.TimestampBuilder).AppendValues([]arrow.Timestamp{1932768000_000000 + 45015_125000, 0, 0}, []bool{true, false, true})
	b.Field(4).(*array.Decimal128Builder).AppendValues([]decimal128.Num{decimal128.FromI64(-1250), {}, {}}, []bool{true, false, true})
	want := [][]any{
		{"2031-04-01", nil, "1970-01-01"}, {"12:30:15.125", nil, "00:00:00"}, {"12:30:15.125", nil, "00:00:00"},
		{"2031-04-01T12:30:15.125Z", nil, "1970-01-01T00:00:00Z"}, {-12.5, nil, 0.0},
	}
	record := b.NewRecord()
	for _, dictionary := range []bool{false, true} {
		r, err := newReading("f", profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Fatal(err)
		}
		file, err := r.openParquet(pagesOf(t, record, 3, arrowparquet.WithDictionaryDefault(dictionary), arrowparquet.WithStoreDecimalAsInteger(true)))
		if err != nil {
			t.Fatal(err)
		}
		for i, field := range fields {
			c, err := r.load(file, i)
			if err != nil {
				t.Errorf("%s: %v", field.Name, err)
				continue
			}
			if diff := cmp.Diff(want[i], cellsOf(c)); diff != "" {
				t.Errorf("%s, dictionary %v (-want +got):\n%s", field.Name, dictionary, diff)
			}
		}
	}
}
