package parquet

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unsafe"

	"github.com/google/go-cmp/cmp"
	library "github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"

	"downlock/ingest/parquet/crafted"
)

var codecs = []format.CompressionCodec{format.Uncompressed, format.Snappy, format.Gzip, format.Brotli, format.Zstd, format.Lz4Raw}

// columns are columns of each type in each encoding it may have, of so many rows.
func columns(rows int) (all []crafted.Column) {
	doubles, floats, int32s, int64s := make([]float64, rows), make([]float32, rows), make([]int32, rows), make([]int64, rows)
	bools, texts, present := make([]bool, rows), make([]string, rows), make([]bool, rows)
	for i := range rows {
		doubles[i], floats[i] = math.Sin(float64(i)), float32(i)/8
		int32s[i], int64s[i] = int32(i*i-300), int64(i)<<40-7
		bools[i], texts[i], present[i] = i%7 < 3, fmt.Sprintf("state %d", i*i%90), i%5 != 2
	}
	kinds := []crafted.Column{{Name: "double", Doubles: doubles}, {Name: "float", Floats: floats}, {Name: "int32", Int32s: int32s}, {Name: "int64", Int64s: int64s},
		{Name: "bool", Bools: bools}, {Name: "text", Texts: texts}}
	encodings := map[string][]format.Encoding{
		"double": {format.Plain, format.ByteStreamSplit, format.RLEDictionary}, "float": {format.Plain, format.ByteStreamSplit, format.RLEDictionary},
		"int32": {format.Plain, format.DeltaBinaryPacked, format.ByteStreamSplit, format.RLEDictionary}, "int64": {format.Plain, format.DeltaBinaryPacked, format.ByteStreamSplit, format.RLEDictionary},
		"bool": {format.Plain, format.RLE}, "text": {format.Plain, format.DeltaLengthByteArray, format.DeltaByteArray, format.RLEDictionary},
	}
	for _, kind := range kinds {
		for _, encoding := range encodings[kind.Name] {
			for _, optional := range []bool{false, true} {
				c := kind
				c.Encoding, c.Optional = encoding, optional
				c.Name = fmt.Sprint(c.Name, " ", encoding, " ", optional)
				if optional {
					c.Present = present
				}
				if encoding == format.RLEDictionary {
					for i := range rows {
						c.Places = append(c.Places, int32(i*3%rows))
					}
				}
				all = append(all, c)
			}
		}
	}
	return all
}

// cells are the cells of a column as the test made it; nil for a null.
func cells(c *crafted.Column, rows int) (out []any) {
	next := 0
	for i := range rows {
		if c.Present != nil && !c.Present[i] {
			out = append(out, nil)
			continue
		}
		at := next
		if c.Places != nil {
			at = int(c.Places[next])
		}
		next++
		switch {
		case c.Doubles != nil:
			out = append(out, c.Doubles[at])
		case c.Floats != nil:
			out = append(out, c.Floats[at])
		case c.Int32s != nil:
			out = append(out, c.Int32s[at])
		case c.Int64s != nil:
			out = append(out, c.Int64s[at])
		case c.Bools != nil:
			out = append(out, c.Bools[at])
		default:
			out = append(out, c.Texts[at])
		}
	}
	return out
}

// read reads the cells of a column through Pages.
func read(f *File, column int) (out []any, err error) {
	var distinct []any
	for group := range f.Groups() {
		for page, err := range f.Pages(&f.Columns[column], group) {
			if err != nil {
				return out, err
			}
			if page.Dictionary {
				distinct = list(page)
				continue
			}
			values := list(page)
			if page.Indexed {
				values = nil
				for _, at := range page.Places {
					values = append(values, distinct[at])
				}
			}
			if len(values) != page.Present {
				return out, fmt.Errorf("%d values, %d present", len(values), page.Present)
			}
			if page.Levels == nil {
				out = append(out, values...)
				continue
			}
			for _, level := range page.Levels {
				if level == 0 {
					out = append(out, nil)
					continue
				}
				out, values = append(out, values[0]), values[1:]
			}
		}
	}
	return out, nil
}

func list(page *Page) (out []any) {
	if page.Indexed {
		return nil
	}
	v := page.Values
	switch fmt.Sprint(v.Kind()) {
	case "DOUBLE":
		for _, x := range v.Double() {
			out = append(out, x)
		}
	case "FLOAT":
		for _, x := range v.Float() {
			out = append(out, x)
		}
	case "INT32":
		for _, x := range v.Int32() {
			out = append(out, x)
		}
	case "INT64":
		for _, x := range v.Int64() {
			out = append(out, x)
		}
	case "BOOLEAN":
		for i := range page.Present {
			out = append(out, v.Boolean()[i/8]>>(i%8)&1 == 1)
		}
	case "BYTE_ARRAY":
		data, offsets := v.ByteArray()
		for i := range page.Present {
			out = append(out, string(data[offsets[i]:offsets[i+1]]))
		}
	}
	return out
}

// libraryCells reads a column with the reader of parquet-go.
func libraryCells(data []byte, column int) (out []any, err error) {
	f, err := library.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	rows := f.RowGroups()[0].Rows()
	defer rows.Close()
	buffer := make([]library.Row, 64)
	for {
		n, err := rows.ReadRows(buffer)
		for _, row := range buffer[:n] {
			switch v := row[column]; {
			case v.IsNull():
				out = append(out, nil)
			case v.Kind() == library.Double:
				out = append(out, v.Double())
			case v.Kind() == library.Float:
				out = append(out, v.Float())
			case v.Kind() == library.Int32:
				out = append(out, v.Int32())
			case v.Kind() == library.Int64:
				out = append(out, v.Int64())
			case v.Kind() == library.Boolean:
				out = append(out, v.Boolean())
			default:
				out = append(out, string(v.ByteArray()))
			}
		}
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return out, err
		}
	}
}

// Each type in each encoding, codec and version of pages comes out as it went in, and as
// the library's own reader has it. The dictionaries are the columns' values.
func TestEveryCodecAndEncoding(t *testing.T) {
	t.Parallel()
	const rows = 200
	for _, codec := range codecs {
		for _, second := range []bool{false, true} {
			for _, perPage := range []int{0, 37} {
				file := crafted.File{Codec: codec, Second: second, Rows: rows, PerPage: perPage, Columns: columns(rows)}
				data, err := file.Bytes()
				if err != nil {
					t.Fatal(err)
				}
				f, err := Open(data, 1<<20)
				if err != nil {
					t.Fatal(err)
				}
				for i := range file.Columns {
					name := fmt.Sprint(codec, " ", second, " ", perPage, " ", file.Columns[i].Name)
					got, err := read(f, i)
					if err != nil {
						t.Errorf("%s: %v", name, err)
						continue
					}
					if diff := cmp.Diff(cells(&file.Columns[i], rows), got); diff != "" {
						t.Errorf("%s (-want +got):\n%s", name, diff)
					}
					// The library (v0.32.0) loses what LZ4_RAW unpacks to if it makes room for it itself.
					if perPage == 0 && codec != format.Lz4Raw {
						if other, err := libraryCells(data, i); err != nil || !slices.Equal(other, got) {
							t.Errorf("%s: the library has %d cells (%v), unlike these", name, len(other), err)
						}
					}
				}
			}
		}
	}
}

// uvarint is a number as runs and differences begin with.
func uvarint(values ...uint64) (out []byte) {
	for _, v := range values {
		out = binary.AppendUvarint(out, v)
	}
	return out
}

// Claims that nothing stands behind are refused with their place, and take no memory. The
// layouts are those of the format's Encodings.md; a count of 2,147,483,647 is the most that
// a header can state.
func TestClaims(t *testing.T) {
	const most = math.MaxInt32
	texts := crafted.Column{Name: "a", Texts: []string{"abc", "abd", "x"}}
	doubles := crafted.Column{Name: "a", Doubles: []float64{1, 2, 3}}
	int64s := crafted.Column{Name: "a", Int64s: []int64{1, 2, 3}, Encoding: format.DeltaBinaryPacked}
	with := func(c crafted.Column, by format.Encoding) crafted.Column {
		c.Encoding = by
		if by == format.RLEDictionary {
			c.Places = []int32{0, 1, 2}
		}
		return c
	}
	optional := func(c crafted.Column) crafted.Column { c.Optional = true; return c }
	instead := func(data ...byte) func([]byte) []byte { return func([]byte) []byte { return data } }
	long := func(head []byte, n int) []byte { return append(head, make([]byte, n)...) }
	// places replaces the places of a page and leaves the dictionary as it is.
	places := func(data []byte) func([]byte) []byte {
		n := 0
		return func(old []byte) []byte {
			if n++; n == 1 {
				return old
			}
			return data
		}
	}
	zeros, err := library.Zstd.Encode(nil, make([]byte, 64<<20))
	if err != nil {
		t.Fatal(err)
	}
	gzipped, err := library.Gzip.Encode(nil, make([]byte, 64<<20))
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name, want string
		file       crafted.File
	}{
		{"a run of places", "row group 1, page 2: its RLE_DICTIONARY values are damaged: a run of 2147483647 values after 0 in a page of 3",
			crafted.File{Columns: []crafted.Column{with(texts, format.RLEDictionary)}, Values: places(append([]byte{2}, append(uvarint(most<<1), 0)...))}},
		{"a packed run of places", "a run of 2147483640 values",
			crafted.File{Columns: []crafted.Column{with(texts, format.RLEDictionary)}, Values: places(append([]byte{0}, uvarint(most>>3<<1|1)...))}},
		{"packed places that are not there", "a run of 16 bytes where 1 are left",
			crafted.File{Columns: []crafted.Column{with(texts, format.RLEDictionary)}, Values: places([]byte{16, 3, 1})}},
		{"places too wide", "they have no width", crafted.File{Columns: []crafted.Column{with(texts, format.RLEDictionary)}, Values: places([]byte{33, 3, 1})}},
		{"a place beyond the dictionary", "place 3 in a dictionary of 3", crafted.File{Columns: []crafted.Column{with(texts, format.RLEDictionary)}, Values: places([]byte{2, 6, 3})}},
		{"a run of levels", "its levels are damaged: a run of 2147483647 values", crafted.File{Columns: []crafted.Column{optional(doubles)}, Levels: instead(append(uvarint(most<<1), 1)...)}},
		{"a level that is none", "a level of 2", crafted.File{Columns: []crafted.Column{optional(doubles)}, Levels: instead(6, 2)}},
		{"levels that end", "2 values where the page has 3", crafted.File{Columns: []crafted.Column{optional(doubles)}, Levels: instead(4, 1)}},
		{"differences", "its DELTA_BINARY_PACKED values are damaged: 2147483647 differences for 3 values", crafted.File{Columns: []crafted.Column{int64s}, Values: instead(uvarint(128, 4, most, 0)...)}},
		{"blocks of differences", "blocks of 2147483648 differences in 4 parts", crafted.File{Columns: []crafted.Column{int64s}, Values: instead(uvarint(1<<31, 4, 3, 0)...)}},
		{"wide differences", "differences of 200 bits", crafted.File{Columns: []crafted.Column{int64s}, Values: instead(long(append(uvarint(128, 4, 3, 0, 0), 200, 0, 0, 0), 2000)...)}},
		{"differences that end", "differences of 64 bits where 7 bytes are left", crafted.File{Columns: []crafted.Column{int64s}, Values: instead(long(append(uvarint(128, 4, 3, 0, 0), 64, 0, 0, 0), 7)...)}},
		{"texts that share", "of them shared", crafted.File{Columns: []crafted.Column{with(texts, format.DeltaByteArray)},
			// prefixes of 0, 1 << 30 and 1 << 30 bytes, and no suffixes
			Values: instead(slices.Concat(uvarint(128, 4, 3, 0, 0), []byte{32, 0, 0, 0}, binary.LittleEndian.AppendUint32(nil, 1<<30), make([]byte, 124), uvarint(128, 4, 3, 0, 0), make([]byte, 4))...)}},
		{"texts that share a byte more than a page may have", "texts of 134217729 bytes, 134217729 of them shared", crafted.File{Columns: []crafted.Column{with(texts, format.DeltaByteArray)},
			// prefixes of 0, 1 << 26 and 1 << 26 + 1 bytes
			Values: instead(slices.Concat(uvarint(128, 4, 3, 0, 0), []byte{32, 0, 0, 0}, binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, 1<<26), 1), make([]byte, 120), uvarint(128, 4, 3, 0, 0), make([]byte, 4))...)}},
		{"lengths of texts", "texts of 1073741824 bytes where 0 are left", crafted.File{Columns: []crafted.Column{with(texts, format.DeltaLengthByteArray)},
			Values: instead(slices.Concat(uvarint(128, 4, 3, 0, 0), []byte{32, 0, 0, 0}, binary.LittleEndian.AppendUint32(nil, 1<<29), make([]byte, 124))...)}},
		{"a text", "a text of 4294967295 bytes where 8 are left", crafted.File{Columns: []crafted.Column{texts}, Values: instead(255, 255, 255, 255, 1, 2, 3, 4, 5, 6, 7, 8)}},
		{"numbers that are not there", "fewer bytes than its values take", crafted.File{Columns: []crafted.Column{doubles}, Values: instead(make([]byte, 23)...)}},
		{"cells", "row group 1, page 1: its header is damaged: 2147483647 cells where 3 are left", crafted.File{Columns: []crafted.Column{doubles},
			Header: func(h *format.PageHeader) { h.DataPageHeader.V.NumValues = most }}},
		{"entries of a dictionary", "fewer bytes than its values take", crafted.File{Columns: []crafted.Column{with(texts, format.RLEDictionary)},
			Header: func(h *format.PageHeader) { h.DictionaryPageHeader.V.NumValues = most }}},
		{"a page of two gigabytes", "its header is damaged: 24 bytes of 24, 2147483647 unpacked", crafted.File{Columns: []crafted.Column{doubles},
			Header: func(h *format.PageHeader) { h.UncompressedPageSize = most }}},
		{"a page of a byte more than 128 MiB", "its header is damaged: 24 bytes of 24, 134217729 unpacked", crafted.File{Columns: []crafted.Column{doubles},
			Header: func(h *format.PageHeader) { h.UncompressedPageSize = 128<<20 + 1 }}},
		{"a page said to have 128 MiB", "they do not unpack to the size that the page states", crafted.File{Columns: []crafted.Column{doubles},
			Header: func(h *format.PageHeader) { h.UncompressedPageSize = 128 << 20 }}},
		{"a page beyond the end", "its header is damaged: 25 bytes of 24", crafted.File{Columns: []crafted.Column{doubles}, Header: func(h *format.PageHeader) { h.CompressedPageSize++ }}},
		{"a checksum", "row group 1, page 1: its checksum does not match its data", crafted.File{Columns: []crafted.Column{doubles}, Header: func(h *format.PageHeader) { h.CRC = 1 }}},
		{"LZ4 without end", "its LZ4_RAW data are damaged", crafted.File{Codec: format.Lz4Raw, Columns: []crafted.Column{doubles}, Packed: instead(0xff, 0xff, 0xff, 0xff)}},
		{"a snappy size", "its SNAPPY data are damaged", crafted.File{Codec: format.Snappy, Columns: []crafted.Column{doubles}, Packed: instead(uvarint(1<<32-1, 0)...)}},
		{"zstd that grows", "its ZSTD data are damaged", crafted.File{Codec: format.Zstd, Columns: []crafted.Column{doubles}, Packed: instead(zeros...)}},
		// a frame header of RFC 8878, 3.1.1.1: no size, a window of 2^41 bytes
		{"a zstd window", "its ZSTD data are damaged", crafted.File{Codec: format.Zstd, Columns: []crafted.Column{doubles}, Packed: instead(0x28, 0xb5, 0x2f, 0xfd, 0, 31<<3, 1, 0, 0)}},
		{"snappy that is short", "they do not unpack to the size that the page states", crafted.File{Codec: format.Snappy, Columns: []crafted.Column{doubles}, Packed: instead(3, 2<<2, 1, 2, 3)}},
		{"zstd that is short", "they do not unpack to the size that the page states", crafted.File{Codec: format.Zstd, Columns: []crafted.Column{doubles}, Packed: instead(0x28, 0xb5, 0x2f, 0xfd, 0, 0, 3<<3|1, 0, 0, 1, 2, 3)}},
		{"gzip that grows", "they do not unpack to the size that the page states", crafted.File{Codec: format.Gzip, Columns: []crafted.Column{doubles}, Packed: instead(gzipped...)}},
		{"a codec that is not read", "pages compressed with LZO are not supported", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.RowGroups[0].Columns[0].MetaData.Codec = format.LZO }}},
		{"another type", "its pages are of type INT32, the column is DOUBLE", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.RowGroups[0].Columns[0].MetaData.Type = format.Int32 }}},
		{"pages elsewhere", "its pages lie outside the file", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.RowGroups[0].Columns[0].MetaData.TotalCompressedSize = math.MaxInt64 }}},
		{"rows", "it claims 4 rows, its row groups have 3", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.NumRows++ }}},
		{"cells that are missing", "its pages lack 1 of 4 cells", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.NumRows++; f.RowGroups[0].NumRows++ }}},
		{"columns of a row group", "row group 1 has 0 columns of 1", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.RowGroups[0].Columns = nil }}},
		{"children", "its schema of 2 entries lacks some", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) { f.Schema[0].NumChildren = thrift.New(int32(most)) }}},
		{"columns that nest", "its columns nest deeper than 64", crafted.File{Columns: []crafted.Column{doubles}, Footer: func(f *format.FileMetaData) {
			for range 100 {
				f.Schema = slices.Insert(f.Schema, 1, format.SchemaElement{Name: "g", NumChildren: thrift.New(int32(1))})
			}
		}}},
		// Thrift's compact protocol: field 2, a list of structs, of a count that follows
		{"a list in the footer", "a list of 2147483647 entries in 8 bytes", crafted.File{Columns: []crafted.Column{doubles}, Raw: instead(slices.Concat([]byte{0x29, 0xfc}, uvarint(most), make([]byte, 8))...)}},
		{"chunks without content", "more row groups and columns than are read", crafted.File{Columns: []crafted.Column{doubles},
			Raw: instead(slices.Concat([]byte{0x49, 0x1c, 0x19, 0xfc}, uvarint(1<<20), make([]byte, 1<<20))...)}},
		{"lists in lists", "it nests deeper than 24", crafted.File{Columns: []crafted.Column{doubles}, Raw: instead(append([]byte{0x99}, bytes.Repeat([]byte{0x19}, 1<<20)...)...)}},
		{"structs in structs", "it nests deeper than 24", crafted.File{Columns: []crafted.Column{doubles}, Raw: instead(bytes.Repeat([]byte{0x9c}, 1<<20)...)}},
		{"a text in the footer", "a value of 2147483647 bytes where 0 are left", crafted.File{Columns: []crafted.Column{doubles}, Raw: instead(append([]byte{0x68}, uvarint(most)...)...)}},
	} {
		tt.file.Rows = 3
		data, err := tt.file.Bytes()
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f, err := Open(data, 1<<30)
		if err == nil {
			_, err = read(f, 0)
		}
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), tt.want) || strings.ContainsAny(err.Error(), "\n") {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
		if took := after.TotalAlloc - before.TotalAlloc; took > 12<<20 {
			t.Errorf("%s takes %d MiB", tt.name, took>>20)
		}
	}
}

// A run may be filled up by seven values, as eight are packed together, and no more. A head
// is twice the count for a value that repeats, and twice the eighths and one for packed ones.
func TestRunsAtTheirBounds(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		data     []byte
		width, n int
		ok       bool
	}{
		{[]byte{20 << 1, 1}, 1, 20, true}, {[]byte{27 << 1, 1}, 1, 20, true}, {[]byte{28 << 1, 1}, 1, 20, false}, {[]byte{19 << 1, 1}, 1, 20, false},
		{[]byte{3<<1 | 1, 0, 0, 0}, 1, 17, true}, {[]byte{3<<1 | 1, 0, 0, 0}, 1, 16, false}, {[]byte{3<<1 | 1, 0, 0}, 1, 17, false}, {[]byte{2<<1 | 1, 0, 0}, 1, 17, false},
		{[]byte{17 << 1, 0, 1<<1 | 1, 0}, 1, 20, true}, {[]byte{17 << 1, 0, 1<<1 | 1, 0}, 1, 18, true}, {[]byte{17 << 1, 0, 11 << 1, 0}, 1, 20, false},
		{[]byte{20 << 1}, 0, 20, true}, {[]byte{3<<1 | 1}, 0, 20, true}, {[]byte{20 << 1}, 1, 20, false}, {nil, 1, 1, false}, {nil, 1, 0, true},
	} {
		if err := checkRuns(tt.data, tt.width, tt.n); (err == nil) != tt.ok {
			t.Errorf("% x of %d bits for %d values: %v", tt.data, tt.width, tt.n, err)
		}
	}
}

// The pages of all columns together may unpack to the limit: 3 pages of 24 bytes each.
func TestLimitOfPages(t *testing.T) {
	t.Parallel()
	file := crafted.File{Rows: 3, Codec: format.Zstd, Columns: []crafted.Column{{Name: "a", Doubles: []float64{1, 2, 3}}, {Name: "b", Doubles: []float64{1, 2, 3}}, {Name: "c", Doubles: []float64{1, 2, 3}}}}
	data, err := file.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	for limit, want := range map[int64]error{72: nil, 71: ErrTooLarge} {
		f, err := Open(data, limit)
		if err != nil {
			t.Fatal(err)
		}
		for _, column := range []int{0, 0, 1, 1, 2} { // one read again does not count twice
			_, err = read(f, column)
		}
		if !errors.Is(err, want) {
			t.Errorf("limit %d: %v, want %v", limit, err, want)
		}
	}
}

// The sizes that the room for a footer is counted in are those in memory.
func TestFooterRoom(t *testing.T) {
	t.Parallel()
	if size := unsafe.Sizeof(format.ColumnChunk{}); size > chunkBytes {
		t.Errorf("a chunk takes %d bytes", size)
	}
	for _, size := range []uintptr{unsafe.Sizeof(format.PageEncodingStats{}), unsafe.Sizeof(format.KeyValue{}), unsafe.Sizeof(""), unsafe.Sizeof(format.BoundingBox{})} {
		if size > 2*entryBytes {
			t.Errorf("an entry takes %d bytes", size)
		}
	}
}

func FuzzPages(f *testing.F) {
	for _, codec := range codecs {
		data, err := (&crafted.File{Codec: codec, Second: codec%2 == 0, Rows: 9, PerPage: 5, Columns: columns(9)}).Bytes()
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Open(data, 1<<20)
		if err != nil {
			return
		}
		if file.Rows() > 1<<16 {
			return // more than the ingest would read of so few bytes
		}
		for i := range file.Columns {
			for group := range file.Groups() {
				left := file.GroupRows(group)
				for page, err := range file.Pages(&file.Columns[i], group) {
					if err != nil {
						left = 0
						break
					}
					if page.Dictionary {
						continue
					}
					if page.Levels != nil {
						left -= int64(len(page.Levels))
					} else {
						left -= int64(page.Present)
					}
				}
				if left != 0 {
					t.Errorf("column %d, row group %d: %d cells are missing without an error", i, group, left)
				}
			}
		}
	})
}
