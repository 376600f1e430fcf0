package ingest

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
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

// The entries of all lists together are no more than there is room for.
func TestArrowFooterRoom(t *testing.T) {
	t.Parallel()
	list := func(n int) flatbuffers.Table {
		b := flatbuffers.NewBuilder(0)
		b.StartVector(4, n, 4)
		for range n {
			b.PrependInt32(0)
		}
		vector := b.EndVector(n)
		b.StartObject(1)
		b.PrependUOffsetTSlot(0, vector, 0)
		b.Finish(b.EndObject())
		data := b.FinishedBytes()
		return flatbuffers.Table{Bytes: data, Pos: flatbuffers.GetUOffsetT(data)}
	}
	c := footerCheck{room: 5}
	for i, step := range []struct {
		n, left int
		ok      bool
	}{{3, 2, true}, {3, 2, false}, {2, 0, true}, {1, 0, false}, {0, 0, true}} {
		if err := c.list(list(step.n), 4); (err == nil) != step.ok || c.room != step.left {
			t.Errorf("step %d: %v, room for %d", i, err, c.room)
		}
	}
	if err := c.list(list(9), 6); err != nil { // no such field
		t.Error(err)
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

// A packed buffer says its size first: no more than its bytes can make, and no more than there is
// room for. A byte of LZ4 makes 255 at most and 64 are allowed beside; four of zstd make 128 KiB.
func TestArrowBufferSizes(t *testing.T) {
	t.Parallel()
	// One byte, as RFC 8878 writes it: magic number, one segment with its size, last block of one raw byte.
	frame := []byte{0x28, 0xb5, 0x2f, 0xfd, 0x20, 1, 9, 0, 0, 'a'}
	sized := func(size int64, data []byte) []byte {
		return append(binary.LittleEndian.AppendUint64(nil, uint64(size)), data...)
	}
	ten, none := make([]byte, 10), []byte(nil)
	for _, c := range []struct {
		data  []byte
		codec int
		room  int64
		want  string
	}{
		{sized(5, none)[:7], codecLZ4, 100, "it has no size"}, {sized(-1, none), 9, 0, ""}, {sized(0, none), codecLZ4, 0, ""}, {sized(-2, ten), codecLZ4, 100, "10 bytes that claim to unpack to -2"},
		{sized(2614, ten), codecLZ4, 1e6, ""}, {sized(2615, ten), codecLZ4, 1e6, "10 bytes that claim to unpack to 2615"}, {sized(64, none), codecLZ4, 64, ""}, {sized(65, none), codecLZ4, 100, "0 bytes that claim to unpack to 65"},
		{sized(100, ten), codecLZ4, 100, ""}, {sized(101, ten), codecLZ4, 100, "too large"}, {sized(1, ten), 2, 100, "codec 2 is not supported"},
		{sized(1, frame), codecZstd, 1, ""}, {sized(393216, frame), codecZstd, 1e6, ""}, {sized(393217, frame), codecZstd, 1e6, "10 bytes that claim to unpack to 393217"}, {sized(1, ten), codecZstd, 100, "magic"},
	} {
		err := checkArrowBuffer(c.data, c.codec, c.room)
		if c.want == "" && err != nil || c.want == "too large" && err == nil || c.want != "" && c.want != "too large" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%d bytes of codec %d: %v, want %q", len(c.data), c.codec, err, c.want)
		}
	}
	repeated := []byte{0x28, 0xb5, 0x2f, 0xfd, 0x20, 5, 5<<3 | 1<<1 | 1, 0, 0, 'a'}                         // a block that repeats one byte five times
	checked := append([]byte{0x28, 0xb5, 0x2f, 0xfd, 0x24}, append(slices.Clone(frame[5:]), 1, 2, 3, 4)...) // with a checksum
	blocks := append([]byte{0x28, 0xb5, 0x2f, 0xfd, 0x20, 2, 1 << 3, 0, 0, 'a'}, frame[6:]...)              // two blocks
	skipped := append([]byte{0x50, 0x2a, 0x4d, 0x18, 3, 0, 0, 0, 7, 7, 7}, frame...)                        // behind one to be skipped
	windowed := []byte{0x28, 0xb5, 0x2f, 0xfd, 0, 0, 9, 0, 0, 'a'}                                          // a window of 1 KiB
	for name, c := range map[string]struct {
		data []byte
		most int64 // that is enough
	}{"one": {frame, 1}, "repeated": {repeated, 5}, "checked": {checked, 1}, "blocks": {blocks, 2}, "skipped": {skipped, 1}, "windowed": {windowed, 1024}, "several": {slices.Concat(frame, checked, skipped), 1}} {
		if err := checkZstdFrames(c.data, c.most); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := checkZstdFrames(c.data, c.most-1); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("a window of %d bytes for data of at most %d", c.most, c.most-1)) {
			t.Errorf("%s, with less room: %v", name, err)
		}
		if name == "several" {
			continue
		}
		for cut := 1; cut < len(c.data); cut++ {
			if name == "skipped" && cut == 11 { // the first frame alone
				continue
			}
			if err := checkZstdFrames(c.data[:cut], c.most); err == nil {
				t.Errorf("%s: the first %d bytes are taken", name, cut)
			}
		}
	}
}

// Cells of several batches, with nulls from the beginning, later on, or never.
func TestArrowBatches(t *testing.T) {
	t.Parallel()
	for _, batches := range [][][]string{
		{{"1", "2"}, {"3"}}, {{"1", ""}, {"3", "4"}, {"", ""}, {"7"}}, {{"", "2"}, {"3"}}, {{"1", "2"}, {}, {"3", "", "5"}}, {{""}, {""}}, {{"1", "2"}, {"3", "4"}, {"", "6"}},
	} {
		var want []string
		for _, cells := range batches {
			want = append(want, cells...)
		}
		for _, kind := range []arrow.DataType{arrow.PrimitiveTypes.Float64, arrow.PrimitiveTypes.Int16, arrow.BinaryTypes.String, &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}} {
			c := &column{}
			for _, cells := range batches {
				b := array.NewBuilder(memory.DefaultAllocator, kind)
				for _, cell := range cells {
					if cell == "" {
						b.AppendNull()
					} else if err := b.AppendValueFromString(cell); err != nil {
						t.Fatal(err)
					}
				}
				if err := c.appendArrow(b.NewArray(), len(want)); err != nil {
					t.Fatal(err)
				}
			}
			c.spread()
			var got []string
			for i := range want {
				switch {
				case !c.has(i):
					got = append(got, "")
				case c.texts != nil:
					got = append(got, c.texts[i])
				default:
					got = append(got, fmt.Sprint(c.numbers[i]))
				}
			}
			if !slices.Equal(got, want) || c.rows() != len(want) {
				t.Errorf("%v: %q in %d rows, want %q", kind, got, c.rows(), want)
			}
		}
	}
	list := array.NewBuilder(memory.DefaultAllocator, arrow.ListOf(arrow.PrimitiveTypes.Int8))
	list.AppendNull()
	if err := (&column{}).appendArrow(list.NewArray(), 1); err == nil || !strings.Contains(err.Error(), "are not supported; write it as float64 or utf8") {
		t.Errorf("%v", err)
	}
}
