package ingest

import (
	"bytes"
	"encoding/binary"
	"math"
	"runtime"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/ipc"
	flatbuffers "github.com/google/flatbuffers/go"
	"github.com/klauspost/compress/zip"

	"downlock/ingest/export"
	"downlock/testdata/effort"
)

// Every eight bytes of the messages and footers of Arrow files, made as large as can be: an
// error or a recording, and no memory for what is not there.
func TestArrowClaims(t *testing.T) {
	profile := profileOf(t, "column: time", testColumns)
	step := effort.Of(40, 16, 8)
	for name, options := range map[string][]ipc.Option{"plain": nil, "LZ4": {ipc.WithLZ4()}, "ZSTD": {ipc.WithZstd()}} {
		sound := arrowOf(t, 40, options...)
		refused := 0
		for at := 8; at+8 <= len(sound); at += step {
			for _, claim := range []uint64{1 << 31, 1 << 40, math.MaxInt64, math.MaxUint64 - 1, 1 << 24} {
				damaged := bytes.Clone(sound)
				binary.LittleEndian.PutUint64(damaged[at:], claim)
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				_, err := ReadBytes("f", damaged, profile)
				runtime.ReadMemStats(&after)
				if took := after.TotalAlloc - before.TotalAlloc; took > 40<<20 {
					t.Errorf("%s: %d at byte %d takes %d MiB", name, claim, at, took>>20)
				}
				if err != nil {
					refused++
					checkMessages(t, name, err)
				}
			}
		}
		if refused == 0 {
			t.Errorf("%s: nothing was refused", name)
		}
	}
}

// Frames by hand from RFC 8878: magic, descriptor, window, then a block of three bytes, its
// size shifted by three, its kind by one, and whether it is the last.
func TestZstdFrames(t *testing.T) {
	t.Parallel()
	magic := []byte{0x28, 0xb5, 0x2f, 0xfd}
	frame := func(window byte, block ...byte) []byte {
		return append(append(bytes.Clone(magic), 0, window), block...)
	}
	repeated := []byte{1<<3 | 1<<1 | 1, 0, 0, 'a'} // one byte, once
	small := frame(0, repeated...)                 // a window of 1 KiB
	for name, tt := range map[string]struct {
		data []byte
		want string
	}{
		"a small frame":       {small, ""},
		"two":                 {append(bytes.Clone(small), small...), ""},
		"a large one later":   {append(bytes.Clone(small), frame(20<<3, repeated...)...), "a window of 1073741824 bytes for data of at most 8388608"},
		"a block cut off":     {frame(0, 9<<3|1, 0, 0, 1, 2), "it ends too soon"},
		"no last block":       {frame(0, 1<<3|1<<1, 0, 0, 'a'), "it ends too soon"},
		"one that is skipped": {append([]byte{0x50, 0x2a, 0x4d, 0x18, 2, 0, 0, 0, 9, 9}, small...), ""},
		"a skipped one cut":   {[]byte{0x50, 0x2a, 0x4d, 0x18, 3, 0, 0, 0, 9, 9}, "it ends too soon"},
	} {
		err := checkZstdFrames(tt.data, 8<<20)
		if tt.want == "" && err != nil || tt.want != "" && (err == nil || err.Error() != tt.want) {
			t.Errorf("%s: %v, want %s", name, err, tt.want)
		}
	}
}

// A column of views has further buffers; a count of them beyond those of the batch is a claim.
func TestBuffersOfViews(t *testing.T) {
	t.Parallel()
	for count, want := range map[int64]bool{2: true, 3: false, math.MaxInt64: false, -1: false} {
		b := flatbuffers.NewBuilder(0)
		b.StartVector(8, 1, 8)
		b.PrependInt64(count)
		counts := b.EndVector(1)
		b.StartObject(5)
		b.PrependUOffsetTSlot(4, counts, 0)
		b.Finish(b.EndObject())
		data := b.FinishedBytes()
		err := checkVariadic(flatbuffers.Table{Bytes: data, Pos: flatbuffers.GetUOffsetT(data)}, 2)
		if (err == nil) != want {
			t.Errorf("a column of %d buffers in a batch of 2: %v", count, err)
		}
	}
}

// Rows count by the memory they take: 9 bytes for the time of a row, 13 to decode a page, and
// 8 and a bit, as a byte, of each column held. 50,000,000 × 40 bytes are 1907 MiB, and
// 64 + 512 MiB hold 15,099,494 rows of that.
func TestRowsWithinTheLimit(t *testing.T) {
	t.Parallel()
	for rows, want := range map[int]string{
		maxRows:    "has 50000000 rows, which take 1907 MiB in memory; at most 64 MiB of one file are unpacked",
		15_099_495: "has 15099495 rows, which take 576 MiB in memory; at most 64 MiB of one file are unpacked",
		15_099_494: `column "time" has 0 cells, the file 15099494 rows`,
	} {
		r, err := newReading("f", profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Fatal(err)
		}
		r.limit = 64 << 20
		if p := problemsOf(t, r.readColumnar(emptyColumns{2, rows}, "test"))[0]; p.Cause != want {
			t.Errorf("%q, want %q", p.Cause, want)
		}
	}
}

// What fails on packed data whose checksum does not match is told as damage; with a checksum
// that does, as what it is. The checksums stand where the formats' descriptions say: eight
// bytes before the end of gzip (RFC 1952), at byte 14 of a zip entry and byte 16 of its place
// in the directory (APPNOTE 4.3), in the last four bytes of a frame of zstd (RFC 8878).
func TestChecksumBeforeAnyOtherProblem(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	const many = 400_000 // rows, so that the problem is found long before the end
	text := append([]byte("a,b\n"), bytes.Repeat([]byte("1234567,2345678\n"), many)...)
	pack := func(rows int, layout export.Layout, by export.Compression) []byte {
		table := export.Table{TimeName: "other", Columns: []export.Column{{Name: "x", Times: seq(rows), Numbers: seq(rows)}}}
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout, Compression: by}, table); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	zipFile := zipped(t, map[string][]byte{"a.csv": text})
	// A zip is written with its checksums behind each part; the directory's is the one that counts.
	directory := bytes.Index(zipFile, []byte("PK\x01\x02"))
	sheet := pack(5, export.WideXLSX, export.Plain)
	archive, err := zip.NewReader(bytes.NewReader(sheet), int64(len(sheet)))
	if err != nil {
		t.Fatal(err)
	}
	inSheet := 0
	for at := 0; inSheet == 0; {
		at += bytes.Index(sheet[at:], []byte("PK\x01\x02"))
		if bytes.HasPrefix(sheet[at+46:], []byte("xl/styles.xml")) || bytes.HasPrefix(sheet[at+46:], []byte(archive.File[0].Name)) {
			inSheet = at + 16
		}
		at++
	}
	gzipFile, zstdFile := pack(many, export.WideCSV, export.Gzip), pack(many, export.WideCSV, export.Zstd)
	for name, tt := range map[string]struct {
		data     []byte
		checksum int
	}{"gzip": {gzipFile, len(gzipFile) - 8}, "zstd": {zstdFile, len(zstdFile) - 4}, "zip": {zipFile, directory + 16}, "xlsx": {sheet, inSheet}} {
		_, err := ReadBytes("f", tt.data, profile)
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "has no time column") {
			t.Errorf("%s: %v", name, p)
		}
		damaged := bytes.Clone(tt.data)
		damaged[tt.checksum] ^= 1
		// What lies beyond the limit is not looked at.
		if name != "xlsx" {
			_, err = Limits{MaxBytes: 5 << 20}.read("f", bytes.NewReader(damaged), int64(len(damaged)), profile, nopHash())
			if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "has no time column") {
				t.Errorf("%s beyond the limit: %v", name, p)
			}
		}
		_, err = ReadBytes("f", damaged, profile)
		if p := problemsOf(t, err)[0]; p.Hint != damagedHint || !strings.Contains(p.Cause, "cannot be read") && !strings.Contains(p.Cause, "not a readable workbook") {
			t.Errorf("%s with a checksum that does not match: %v", name, p)
		}
	}
}

// A panic of a reader is told by the part that was being read.
func TestPanicOfAReader(t *testing.T) {
	t.Parallel()
	r := &reading{file: "f.parquet", part: `column "CAS"`}
	var none []int
	err := guarded(r, "Parquet", func() error { return []error{nil}[len(none)+1] })
	p := problemsOf(t, err)[0]
	if p.Cause != `is not a readable Parquet file: column "CAS" is damaged: sizes and positions in it do not match` || p.Hint != damagedHint {
		t.Errorf("%+v", *p)
	}
	if err := guarded(r, "Arrow", func() error { panic(tooLarge(r.file, 5)) }); !strings.Contains(err.Error(), "has more than 5 bytes") {
		t.Errorf("%v", err)
	}
}
