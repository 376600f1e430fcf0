package ingest

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/endian"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	flatbuffers "github.com/google/flatbuffers/go"
)

// straightTypes are the types of which a batch is read without the Arrow library.
var straightTypes = []arrow.DataType{
	arrow.PrimitiveTypes.Float64, arrow.PrimitiveTypes.Float32, arrow.FixedWidthTypes.Float16, arrow.PrimitiveTypes.Int8, arrow.PrimitiveTypes.Uint16,
	arrow.PrimitiveTypes.Int64, arrow.FixedWidthTypes.Boolean, arrow.BinaryTypes.String, arrow.BinaryTypes.LargeString,
	arrow.FixedWidthTypes.Timestamp_ms, arrow.FixedWidthTypes.Time64us, arrow.FixedWidthTypes.Date32, &arrow.Decimal128Type{Precision: 9, Scale: 2},
}

// anyCell is the text of a cell of a type.
func anyCell(of arrow.DataType, random *rand.Rand) string {
	switch of.ID() {
	case arrow.BOOL:
		return []string{"true", "false"}[random.IntN(2)]
	case arrow.STRING, arrow.LARGE_STRING:
		return []string{"", "DN", "landing", "é"}[random.IntN(4)]
	case arrow.TIMESTAMP:
		return "2031-06-01T06:00:00.25"
	case arrow.TIME64:
		return "06:07:08.000009"
	case arrow.DATE32:
		return "2031-06-01"
	case arrow.FIXED_SIZE_BINARY:
		return "QQ=="
	}
	return []string{"0", "1", "-3", "17"}[random.IntN(4)]
}

// batchesOf writes batches of any number of rows, of columns with and without nulls.
func batchesOf(t *testing.T, types []arrow.DataType, random *rand.Rand, options ...ipc.Option) []byte {
	t.Helper()
	var fields []arrow.Field
	for _, of := range types {
		fields = append(fields, arrow.Field{Name: of.Name(), Type: of, Nullable: true})
	}
	schema := arrow.NewSchema(fields, nil)
	var content bytes.Buffer
	out, err := ipc.NewFileWriter(&seekBuffer{Buffer: &content}, append(options, ipc.WithSchema(schema))...)
	if err != nil {
		t.Fatal(err)
	}
	for range 1 + random.IntN(3) {
		b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
		rows := []int{0, 1, 7, 8, 9, 100}[random.IntN(6)]
		for i, of := range types {
			nulls := random.IntN(3) // none, some, all
			for range rows {
				text := anyCell(of, random)
				if of.ID() == arrow.UINT16 {
					text = strings.TrimPrefix(text, "-")
				}
				if nulls == 2 || nulls == 1 && random.IntN(3) == 0 {
					b.Field(i).AppendNull()
				} else if err := b.Field(i).AppendValueFromString(text); err != nil {
					t.Fatal(of, err)
				}
			}
		}
		if err := out.Write(b.NewRecord()); err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return content.Bytes()
}

// straightRecords reads the batches of a file straight; ok is false if one is left to the library.
func straightRecords(t *testing.T, content []byte) (records []arrow.Record, ok bool) {
	t.Helper()
	in, err := ipc.NewFileReader(bytes.NewReader(content))
	if err != nil {
		t.Fatal(err)
	}
	blocks, err := checkArrowFooter(content, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	if !isStraight(in.Schema()) {
		return nil, false
	}
	for i, block := range blocks {
		got, ok, err := block.straight(in.Schema())
		if err != nil {
			t.Fatal(i, err)
		}
		if !ok {
			return nil, false
		}
		records = append(records, got)
	}
	return records, true
}

// A batch read straight is what the Arrow library reads.
func TestStraightBatches(t *testing.T) {
	t.Parallel()
	for seed := range uint64(60) {
		random := rand.New(rand.NewPCG(seed, 4))
		types := straightTypes
		if seed%2 == 1 {
			types = nil
			for range 1 + random.IntN(5) {
				types = append(types, straightTypes[random.IntN(len(straightTypes))])
			}
		}
		content := batchesOf(t, types, random)
		records, ok := straightRecords(t, content)
		if !ok {
			t.Fatalf("seed %d: left to the library", seed)
		}
		in, err := ipc.NewFileReader(bytes.NewReader(content))
		if err != nil {
			t.Fatal(err)
		}
		if len(records) != in.NumRecords() {
			t.Fatalf("seed %d: %d batches of %d", seed, len(records), in.NumRecords())
		}
		for i, got := range records {
			want, err := in.RecordAt(i)
			if err != nil {
				t.Fatal(err)
			}
			if !array.RecordEqual(got, want) || got.NumRows() != want.NumRows() {
				t.Errorf("seed %d, batch %d: %v, want %v", seed, i, got, want)
			}
		}
	}
}

// Packed buffers, columns of dictionaries and lists, and bytes that begin at an odd place are left to
// the library.
func TestBatchesForTheLibrary(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 4))
	numbers := []arrow.DataType{arrow.PrimitiveTypes.Float64}
	for name, content := range map[string][]byte{
		"zstd":       batchesOf(t, numbers, random, ipc.WithZstd()),
		"fixed size": batchesOf(t, []arrow.DataType{arrow.PrimitiveTypes.Float64, &arrow.FixedSizeBinaryType{ByteWidth: 1}}, random),
		"odd place":  append(make([]byte, 1, 1<<16), batchesOf(t, numbers, random)...)[1:],
	} {
		if _, ok := straightRecords(t, content); ok {
			t.Errorf("%s: read straight", name)
		}
	}
	if isStraight(arrow.NewSchema([]arrow.Field{{Name: "flap", Type: &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}}}, nil)) {
		t.Error("a dictionary: read straight")
	}
	if isStraight(arrow.NewSchema([]arrow.Field{{Name: "flap", Type: arrow.ListOf(arrow.PrimitiveTypes.Int8)}}, nil)) {
		t.Error("a list: read straight")
	}
}

// Sizes worked out from the format: 9 cells need 2 bytes of validity, 72 of float64, and 10
// offsets, which are 40 bytes, of text.
func TestStraightBuffersTooShort(t *testing.T) {
	t.Parallel()
	types := []arrow.DataType{arrow.PrimitiveTypes.Float64, arrow.BinaryTypes.String}
	schema := arrow.NewSchema([]arrow.Field{{Name: "a", Type: types[0], Nullable: true}, {Name: "b", Type: types[1], Nullable: true}}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	for range 8 {
		b.Field(0).(*array.Float64Builder).Append(1)
		b.Field(1).(*array.StringBuilder).Append("DN")
	}
	b.Field(0).AppendNull()
	b.Field(1).AppendNull()
	content := arrowBatches(t, b.NewRecord(), 1)
	blocks, err := checkArrowFooter(content, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	batch, err := blocks[0].header()
	if err != nil {
		t.Fatal(err)
	}
	buffers := batch.Bytes[batch.Vector(flatbuffers.UOffsetT(batch.Offset(batchBuffers))):]
	const offset, size = 0, 8
	for _, c := range []struct {
		name          string
		buffer, field int
		value         uint64
		ok            bool
		problem       string
	}{
		{"validity just long enough", 0, size, 2, true, ""},
		{"validity", 0, size, 1, false, "column 1 has 1 bytes in buffer 1, too few for its 9 cells"},
		{"numbers just long enough", 1, size, 72, true, ""},
		{"numbers", 1, size, 71, false, "column 1 has 71 bytes in buffer 2, too few for its 9 cells"},
		{"offsets just long enough", 3, size, 40, true, ""},
		{"offsets", 3, size, 39, false, "column 2 has 39 bytes in buffer 2, too few for its 9 cells"},
		{"an odd place", 1, offset, 4, false, ""},
	} {
		at := buffers[16*c.buffer+c.field:]
		before := binary.LittleEndian.Uint64(at)
		binary.LittleEndian.PutUint64(at, c.value)
		_, ok, err := blocks[0].straight(schema)
		if ok != c.ok || err == nil && c.problem != "" || err != nil && err.Error() != c.problem {
			t.Errorf("%s: %v %v", c.name, ok, err)
		}
		binary.LittleEndian.PutUint64(at, before)
	}
	more := arrow.NewSchema(append(schema.Fields(), arrow.Field{Name: "c", Type: types[0]}), nil)
	if _, ok, err := blocks[0].straight(more); ok || err == nil || err.Error() != "column 3 is not in it" {
		t.Error("a column that the batch does not have:", ok, err)
	}
	if isStraight(arrow.NewSchemaWithEndian(schema.Fields(), nil, endian.NonNativeEndian)) {
		t.Error("the other order of bytes: read straight")
	}
}
