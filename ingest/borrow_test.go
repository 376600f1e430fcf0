package ingest

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"testing"
	"unsafe"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/google/go-cmp/cmp"

	"downlock/ingest/export"
	"downlock/schemas"
)

// borrowColumns map columns of numbers in every way: as they stand, converted, one column
// for two parameters, two for one, as a discrete, with a time of its own.
const borrowColumns = `
  computed_airspeed: [{column: CAS, unit: kt}, {column: CAS 2, unit: kt}]
  mach: {column: CAS, unit: "1", scale: 0.0015}
  pressure_altitude: {column: ALT, unit: FL}
  pitch_attitude: {column: PITCH, unit: deg, time_offset: 0.25, accuracy: 0.5}
  roll_attitude: {column: ROLL, unit: deg, range: [-60, 60]}
  radio_altitude: {column: RALT, unit: ft}
  weight_on_wheels: {column: WOW, true_when: 1}
`

var borrowNames = []string{"CAS", "CAS 2", "ALT", "PITCH", "ROLL", "RALT", "WOW"}

// borrowBatches makes an Arrow file of a few batches, whose columns have a few of what
// there may be: nulls, NaN, tokens, implausible values, spikes, held values, and time that
// does not run on.
func borrowBatches(t *testing.T, random *rand.Rand, rows int) []byte {
	t.Helper()
	sometimes := func(once int) bool { return random.IntN(once) == 0 }
	oddTime := sometimes(3)
	fields := []arrow.Field{{Name: "time", Type: arrow.PrimitiveTypes.Float64, Nullable: true}}
	for _, name := range borrowNames {
		fields = append(fields, arrow.Field{Name: name, Type: arrow.PrimitiveTypes.Float64, Nullable: true})
	}
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, nil))
	at := float64(random.IntN(100))
	for range rows {
		switch {
		case oddTime && sometimes(40):
			b.Field(0).AppendNull()
			continue
		case oddTime && sometimes(40):
			at -= float64(random.IntN(3)) / 8
		case oddTime && sometimes(80):
			at -= 100
		default:
			at += 0.125
		}
		b.Field(0).(*array.Float64Builder).Append(at)
	}
	for i, name := range borrowNames {
		f := b.Field(i + 1).(*array.Float64Builder)
		odd, hold, v := random.IntN(6), 1+random.IntN(2), 20.0
		for row := range rows {
			if row%hold == 0 {
				v += float64(random.IntN(5)-2) / 8
			}
			value := v
			switch {
			case odd == 0 && sometimes(10):
				f.AppendNull()
				continue
			case odd == 1 && sometimes(20):
				value = math.NaN()
			case odd == 1 && sometimes(20):
				value = -999 // a token
			case name == "WOW":
				value = float64(row / 50 % 2)
			case odd == 2 && sometimes(20):
				value = 1e5
			case odd == 3 && sometimes(20):
				value += 45
			}
			f.Append(value)
		}
	}
	return arrowBatches(t, b.NewRecord(), 1+random.IntN(3))
}

// arrowBatches writes a record as an Arrow file of so many batches.
func arrowBatches(t testing.TB, record arrow.Record, batches int) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := ipc.NewFileWriter(&seekBuffer{Buffer: &b}, ipc.WithSchema(record.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	for k := range int64(batches) {
		from, to := record.NumRows()*k/int64(batches), record.NumRows()*(k+1)/int64(batches)
		if err := w.Write(record.NewSlice(from, to)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// asTexts has a file's numbers come as texts, which are read cell by cell.
type asTexts struct{ columnar }

func (f asTexts) column(i int) (*column, error) {
	c, err := f.columnar.column(i)
	if err != nil || f.names()[i] == "time" {
		return c, err
	}
	c.spread()
	out := &column{text: true, valid: c.valid, nulls: c.nulls}
	for _, v := range c.numbers {
		out.texts = append(out.texts, strconv.FormatFloat(v, 'g', -1, 64))
	}
	return out, nil
}

// readFrom reads the recording of an open file.
func readFrom(t *testing.T, file columnar, profile *schemas.Profile, packAbove int) (*Recording, error) {
	t.Helper()
	r, err := newReading("f", profile)
	if err != nil {
		t.Fatal(err)
	}
	r.packAbove = packAbove
	if err := r.readColumnar(file, "Arrow"); err != nil {
		t.Fatal(err)
	}
	return r.recording()
}

func openArrowFile(t *testing.T, data []byte) *arrowFile {
	t.Helper()
	r, err := newReading("f", profileOf(t, "column: time", borrowColumns))
	if err != nil {
		t.Fatal(err)
	}
	file, err := r.openArrow(data)
	if err == nil {
		err = file.load()
	}
	if err != nil {
		t.Fatal(err)
	}
	return file
}

// cellBits are the bits of all cells of a file.
func cellBits(file *arrowFile) (bits []uint64) {
	for _, record := range file.records {
		for _, c := range record.Columns() {
			for _, v := range c.(*array.Float64).Float64Values() {
				bits = append(bits, math.Float64bits(v))
			}
		}
	}
	return bits
}

// allOf is all that a recording says, its samples unpacked.
func allOf(r *Recording) any {
	type series struct {
		Head           Series
		Times, Numbers []float64
		Codes          []uint8
		Packed         bool
	}
	list := func(all []*Series) (out []series) {
		for _, s := range all {
			head := Series{Parameter: s.Parameter, Column: s.Column, Interval: s.Interval, Longest: s.Longest, Gap: s.Gap,
				Accuracy: s.Accuracy, Exact: s.Exact, TimeAccuracy: s.TimeAccuracy, Dropped: s.Dropped}
			out = append(out, series{head, s.TimeValues(), s.Numbers(), s.Codes(), s.Packed()})
		}
		return out
	}
	var later []any
	for _, l := range r.Later {
		later = append(later, allOf(l))
	}
	head := *r
	head.Series, head.Alternatives, head.Later = nil, nil, nil
	return []any{head, list(r.Series), list(r.Alternatives), later}
}

func sameArray(a, b []float64) bool {
	return len(a) > 0 && len(b) > 0 && unsafe.SliceData(a) == unsafe.SliceData(b)
}

// A file read by handing columns over says the same as cell by cell, and its own cells
// stay as they were.
func TestBorrowedLikeCopied(t *testing.T) {
	t.Parallel()
	var shared, copied, dropped, split, held, packed, refused int
	for seed := range uint64(400) {
		random := rand.New(rand.NewPCG(seed, 0))
		rows, packAbove := 1+random.IntN(200), 0
		if seed%40 == 0 {
			rows, packAbove = 2*blockSamples+random.IntN(2000), 1
		}
		data := borrowBatches(t, random, rows)
		profile := profileOf(t, "column: time", borrowColumns)
		file := openArrowFile(t, data)
		before := cellBits(file)
		got, err := readFrom(t, file, profile, packAbove)
		want, wantErr := readFrom(t, asTexts{openArrowFile(t, data)}, profile, packAbove)
		if fmt.Sprint(err) != fmt.Sprint(wantErr) {
			t.Fatalf("seed %d: %v, cell by cell %v", seed, err, wantErr)
		}
		if !slices.Equal(before, cellBits(file)) {
			t.Fatalf("seed %d: the file's cells were changed", seed)
		}
		if err != nil {
			refused++
			continue
		}
		if a, b := allOf(want), allOf(got); !reflect.DeepEqual(a, b) {
			t.Fatalf("seed %d (-cell by cell +handed over):\n%s", seed, cmp.Diff(a, b, cmp.AllowUnexported(Series{})))
		}
		split += len(got.Later)
		for _, s := range got.Series {
			dropped += s.Dropped.Range + s.Dropped.Spike
			if s.TimeAccuracy > 0 {
				held++
			}
			if s.Packed() {
				packed++
				continue
			}
			switch own := file.records[0].Column(slices.Index(file.names(), s.Column)).(*array.Float64).Float64Values(); {
			case sameArray(own, s.Numbers()):
				shared++
			default:
				copied++
			}
		}
	}
	if min(shared, copied, dropped, split, held, packed, refused) < 10 {
		t.Errorf("%d columns shared, %d copied, %d held, %d packed, %d samples dropped, %d stretches, %d refused: too few to tell", shared, copied, held, packed, dropped, split, refused)
	}
}

// A column without nulls, in the canonical unit, of plausible values is the file's own
// array; one of another unit has its times in common with it at least. One value out of
// range makes both its own.
func TestBorrowedIsNotCopied(t *testing.T) {
	t.Parallel()
	const rows = 1000
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema([]arrow.Field{
		{Name: "time", Type: arrow.PrimitiveTypes.Float64}, {Name: "CAS", Type: arrow.PrimitiveTypes.Float64},
		{Name: "ALT", Type: arrow.PrimitiveTypes.Float64}, {Name: "PITCH", Type: arrow.PrimitiveTypes.Float64},
	}, nil))
	for row := range rows {
		pitch := math.Sin(float64(row))
		if row == 500 {
			pitch = 80 // degrees
		}
		for i, v := range []float64{float64(row) / 8, 100 + math.Sin(float64(row)), 50, pitch} {
			b.Field(i).(*array.Float64Builder).Append(v)
		}
	}
	profile := profileOf(t, "column: time", "  computed_airspeed: {column: CAS, unit: kt}\n  pressure_altitude: {column: ALT, unit: FL}\n  pitch_attitude: {column: PITCH, unit: deg}\n")
	record := b.NewRecord()
	for _, batches := range []int{1, 2} {
		file := openArrowFile(t, arrowBatches(t, record, batches))
		r, err := readFrom(t, file, profile, 0)
		if err != nil {
			t.Fatal(err)
		}
		own := func(i int) []float64 { return file.records[0].Column(i).(*array.Float64).Float64Values() }
		speed, altitude, pitch := r.Series[0], r.Series[1], r.Series[2]
		for _, c := range []struct {
			what string
			got  bool
			want bool
		}{
			{"the speed is the file's array", sameArray(own(1), speed.Numbers()), batches == 1},
			{"the altitude is the file's array", sameArray(own(2), altitude.Numbers()), false},
			{"the pitch is the file's array", sameArray(own(3), pitch.Numbers()), false},
			{"speed and altitude have times in common", sameArray(speed.TimeValues(), altitude.TimeValues()), true},
			{"speed and pitch have times in common", sameArray(speed.TimeValues(), pitch.TimeValues()), false},
		} {
			if c.got != c.want {
				t.Errorf("%d batches: %s: %v", batches, c.what, c.got)
			}
		}
		if altitude.Numbers()[0] != 5000 || speed.Len() != rows || pitch.Len() != rows-1 { // FL 50 is 5000 ft
			t.Errorf("%d batches: %v ft, %d and %d samples", batches, altitude.Numbers()[0], speed.Len(), pitch.Len())
		}
	}
}

// A Parquet column is decoded into pages of the library's and from there once into the
// array of its series: what reading takes, all told, stays near the bytes of the values.
func TestParquetWithoutBoxing(t *testing.T) {
	const rows = 20_000
	table := export.Table{TimeName: "time"}
	columns := ""
	for _, name := range mappedColumns() {
		p, _ := schemas.LookupParameter(name)
		c := export.Column{Name: name, Decimals: 3}
		for row := range rows {
			c.Times, c.Numbers = append(c.Times, float64(row)/8), append(c.Numbers, math.Sin(float64(row)/97))
		}
		table.Columns = append(table.Columns, c)
		columns += fmt.Sprintf("  %s: {column: %s, unit: %q}\n", name, name, p.Unit)
	}
	data := benchExport(export.WideParquet, table)
	profile := profileOf(t, "column: time", columns)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	r, err := ReadBytes("f", data, profile)
	runtime.ReadMemStats(&after)
	if err != nil {
		t.Fatal(err)
	}
	values := uint64(len(r.Series) * rows * 8)
	if taken := after.TotalAlloc - before.TotalAlloc; taken > 4*values {
		t.Errorf("%d bytes for %d of values", taken, values)
	}
}
