package ingest

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	flatbuffers "github.com/google/flatbuffers/go"
	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// The places of a batch in a file of a hundred bytes: its message of eight or more, and its body.
func TestArrowBlocks(t *testing.T) {
	t.Parallel()
	content := make([]byte, 100)
	for i := range content {
		content[i] = byte(i)
	}
	type place struct {
		offset  int64
		message int32
		body    int64
	}
	table := func(places ...place) flatbuffers.Table {
		b := flatbuffers.NewBuilder(0)
		b.StartVector(24, len(places), 8)
		for i := len(places) - 1; i >= 0; i-- { // written from behind
			b.Prep(8, 24)
			b.PrependInt64(places[i].body)
			b.Pad(4)
			b.PrependInt32(places[i].message)
			b.PrependInt64(places[i].offset)
		}
		vector := b.EndVector(len(places))
		b.StartObject(1)
		b.PrependUOffsetTSlot(0, vector, 0)
		b.Finish(b.EndObject())
		data := b.FinishedBytes()
		return flatbuffers.Table{Bytes: data, Pos: flatbuffers.GetUOffsetT(data)}
	}
	for _, c := range []struct {
		place
		ok bool
	}{
		{place{0, 8, 92}, true}, {place{0, 8, 93}, false}, {place{92, 8, 0}, true}, {place{93, 8, 0}, false}, {place{100, 8, 0}, false}, {place{101, 8, 0}, false}, {place{0, 7, 0}, false}, {place{0, -8, 0}, false},
		{place{-1, 8, 0}, false}, {place{0, 8, -1}, false}, {place{0, 100, 0}, true}, {place{0, 101, 0}, false}, {place{10, 40, 50}, true}, {place{10, 40, 51}, false}, {place{10, 40, 1 << 62}, false},
	} {
		blocks, err := checkArrowBlocks(content, table(c.place), 4)
		if !c.ok {
			if err == nil || err.Error() != "its footer is damaged: batch 1 of 1 lies outside the file" {
				t.Errorf("%+v: %v", c.place, err)
			}
			continue
		}
		if err != nil || len(blocks) != 1 || len(blocks[0].message) != int(c.message) || len(blocks[0].body) != int(c.body) || blocks[0].message[0] != byte(c.offset) ||
			c.body > 0 && blocks[0].body[0] != byte(c.offset)+byte(c.message) {
			t.Errorf("%+v: %v, %v", c.place, blocks, err)
		}
	}
	if _, err := checkArrowBlocks(content, table(place{0, 8, 0}, place{50, 50, 1}), 4); err == nil || err.Error() != "its footer is damaged: batch 2 of 2 lies outside the file" {
		t.Errorf("%v", err)
	}
	if blocks, err := checkArrowBlocks(content, table(place{0, 8, 0}), 6); blocks != nil || err != nil { // no such field
		t.Errorf("%v, %v", blocks, err)
	}
	// A count of blocks beyond the end of the footer.
	damaged := table(place{0, 8, 0})
	at := damaged.Vector(flatbuffers.UOffsetT(damaged.Offset(4))) - 4
	binary.LittleEndian.PutUint32(damaged.Bytes[at:], 1000)
	if _, err := checkArrowBlocks(content, damaged, 4); err == nil || err.Error() != "its footer is damaged" {
		t.Errorf("%v", err)
	}
}

// Room is taken and given back to the byte; what goes beyond is refused with the problem stated.
func TestBoundedAllocator(t *testing.T) {
	t.Parallel()
	a := &boundedAllocator{left: 100, tooLarge: &schemas.Problem{Cause: "too large"}}
	refused := func(do func()) (is bool) {
		defer func() { is = recover() == a.tooLarge }()
		do()
		return false
	}
	b := a.Allocate(60)
	if len(b) != 60 || a.left != 40 || a.taken != 60 {
		t.Errorf("%d left, %d taken", a.left, a.taken)
	}
	if !refused(func() { a.Allocate(41) }) || !refused(func() { a.Allocate(-1) }) || a.left != 40 || a.taken != 60 {
		t.Errorf("41 or -1 of 40 bytes are given; %d left, %d taken", a.left, a.taken)
	}
	c := a.Allocate(40)
	if a.left != 0 || !refused(func() { a.Allocate(1) }) {
		t.Errorf("%d left", a.left)
	}
	a.Free(c)
	if b = a.Reallocate(100, b); len(b) != 100 || a.left != 0 || a.taken != 100 {
		t.Errorf("grown: %d left, %d taken", a.left, a.taken)
	}
	if b = a.Reallocate(50, b); len(b) != 50 || a.left != 0 || a.taken != 100 {
		t.Errorf("made smaller: %d left, %d taken", a.left, a.taken)
	}
	a = &boundedAllocator{left: 99, tooLarge: a.tooLarge}
	b = a.Allocate(60)
	if !refused(func() { a.Reallocate(100, b) }) {
		t.Error("a hundred bytes of 99 are given")
	}
}

// What a cell of each type takes, for the limit: a number, a text that may be shared, a time in words.
func TestArrowCellBytes(t *testing.T) {
	t.Parallel()
	types := []struct {
		of   arrow.DataType
		want int64
	}{
		{arrow.PrimitiveTypes.Float64, numberBytes}, {arrow.PrimitiveTypes.Int8, numberBytes}, {arrow.BinaryTypes.String, sharedBytes}, {arrow.BinaryTypes.LargeString, sharedBytes},
		{arrow.FixedWidthTypes.Boolean, sharedBytes}, {arrow.Null, sharedBytes}, {arrow.FixedWidthTypes.Timestamp_s, timeBytes}, {arrow.FixedWidthTypes.Date32, timeBytes}, {arrow.FixedWidthTypes.Time32s, timeBytes},
		{&arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}, sharedBytes}, {&arrow.Decimal128Type{Precision: 10, Scale: 2}, timeBytes},
	}
	var fields []arrow.Field
	for i, c := range types {
		fields = append(fields, arrow.Field{Name: fmt.Sprint("c", i), Type: c.of, Nullable: true})
	}
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, nil))
	for i := range types {
		b.Field(i).AppendNull()
	}
	var out bytes.Buffer
	if err := writeArrow(&out, b.NewRecord()); err != nil {
		t.Fatal(err)
	}
	r, err := newReading("f", profileOf(t, "column: time", testColumns))
	if err != nil {
		t.Fatal(err)
	}
	file, err := r.openArrow(out.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range types {
		if got := file.cellBytes(i); got != c.want {
			t.Errorf("%v: %d bytes, want %d", c.of, got, c.want)
		}
	}
}

// Canonical columns in Arrow are those of Parquet; without one of the columns, or with a null,
// they are refused.
func TestCanonicalArrow(t *testing.T) {
	t.Parallel()
	f := usualCanonical()
	profile := profileOf(t, "column: time", testColumns)
	stated, err := json.Marshal(f.stated)
	if err != nil {
		t.Fatal(err)
	}
	made := func(without string, null int) []byte {
		kinds := map[string]arrow.DataType{"stretch": arrow.PrimitiveTypes.Int32, "parameter": arrow.BinaryTypes.String, "source_rank": arrow.PrimitiveTypes.Int32, "time_s": arrow.PrimitiveTypes.Float64, "value": arrow.PrimitiveTypes.Float64}
		var fields []arrow.Field
		for _, name := range canonicalColumns {
			if name != without {
				fields = append(fields, arrow.Field{Name: name, Type: kinds[name], Nullable: true})
			}
		}
		metadata := arrow.NewMetadata([]string{schemas.CanonicalKey}, []string{string(stated)})
		b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, &metadata))
		for i, row := range f.rows {
			cells := map[string]string{"stretch": fmt.Sprint(row.Stretch), "parameter": row.Parameter, "source_rank": fmt.Sprint(row.SourceRank), "time_s": fmt.Sprint(row.TimeS), "value": fmt.Sprint(row.Value)}
			for k, field := range fields {
				if i == null && field.Name == "value" {
					b.Field(k).AppendNull()
				} else if err := b.Field(k).AppendValueFromString(cells[field.Name]); err != nil {
					t.Fatal(err)
				}
			}
		}
		var out bytes.Buffer
		if err := writeArrow(&out, b.NewRecord()); err != nil {
			t.Fatal(err)
		}
		return out.Bytes()
	}
	one, err := ReadBytes("f", made("", -1), profile)
	if err != nil {
		t.Fatal(err)
	}
	other, err := ReadBytes("f", f.bytes(t), profile)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range one.Stretches() {
		if d := cmp.Diff(samplesOf(other.Stretches()[i]), samplesOf(r)); d != "" || r.Start != other.Stretches()[i].Start {
			t.Errorf("stretch %d (-Parquet +Arrow):\n%s", i, d)
		}
	}
	if one.Format != "canonical columns, Arrow" || len(samplesOf(one)) != 3 {
		t.Errorf("%s, %v", one.Format, samplesOf(one))
	}
	for _, name := range canonicalColumns {
		if _, err := ReadBytes("f", made(name, -1), profile); err == nil || len(problemsOf(t, err)) != 1 {
			t.Errorf("without %s: %v", name, err)
		}
	}
	for i := range f.rows {
		if _, err := ReadBytes("f", made("", i), profile); err == nil {
			t.Errorf("a null in row %d is read", i+1)
		}
	}
}
