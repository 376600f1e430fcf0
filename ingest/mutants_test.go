package ingest

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/klauspost/compress/zlib"
	"github.com/parquet-go/parquet-go/format"

	"downlock/ingest/parquet/crafted"
	"downlock/testdata/effort"
)

// mutantsChild says how many mutants the child process is to read, and the seed.
const mutantsChild = "DOWNLOCK_MUTANTS_CHILD"

// mutantsWanted asks for another number of mutants, and another seed, as in "50000 3".
const mutantsWanted = "DOWNLOCK_MUTANTS"

// The child reads within a limit of 64 MiB; whatever the input, it may take a gigabyte beyond.
const (
	mutantLimit  = 64 << 20
	mutantMostKB = (mutantLimit + 1<<30) >> 10
)

// Damaged files, two thousand in a long run, of every format, codec and encoding, and files made to unpack to
// far more than they are, one after the other in a process with a limit on its memory: each
// is read, or refused with a cause for people. `go test ./ingest -run Mutants -v` prints the
// figures.
func TestMutants(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("the limit is set by the shell, and the peak of a process is read from /proc")
	}
	count, seed := effort.Of(200, 600, 2000), 11
	fmt.Sscan(os.Getenv(mutantsWanted), &count, &seed)
	// The address space of a Go program is larger than its memory, so its limit is for what
	// blows up, and the peak of the memory is measured beside. The space of a program that
	// looks for data races is so large that it cannot be limited.
	space, err := statusKB("VmSize:")
	if err != nil {
		t.Fatal(err)
	}
	limit := "unlimited"
	if space < 16<<20 {
		limit = strconv.Itoa(space + 2*mutantMostKB)
	}
	child := exec.Command("sh", "-c", `ulimit -v `+limit+` && exec "$0" -test.run '^TestReadMutants$' -test.v`, os.Args[0])
	child.Env = append(os.Environ(), fmt.Sprintf("%s=%d %d %s", mutantsChild, count, seed, inflatedFiles(t)))
	out, err := child.CombinedOutput()
	if err != nil {
		death := bytes.Index(out, []byte("fatal error"))
		if death < 0 {
			death = len(out)
		}
		t.Errorf("%v, with address space of %s KiB:\n%s", err, limit, out[max(death-2000, 0):min(death+2000, len(out))])
	}
	for line := range strings.Lines(string(out)) {
		if strings.Contains(line, "mutants_test.go") {
			t.Log(strings.TrimSpace(line))
		}
	}
}

// TestReadMutants is the child of TestMutants.
func TestReadMutants(t *testing.T) {
	var count int
	var seed int64
	var folder string
	if n, _ := fmt.Sscan(os.Getenv(mutantsChild), &count, &seed, &folder); n < 3 {
		t.Skip("runs as a child of TestMutants")
	}
	limits := Limits{MaxBytes: mutantLimit, PackAbove: ManySamples}
	debug.SetMemoryLimit(mutantLimit + 896<<20) // as scan does
	began := time.Now()
	files, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	profile := profileOf(t, "column: time", testColumns)
	for _, file := range files {
		fmt.Printf("reading %s\n", file.Name()) // the last one stands before what kills the process
		r, err := limits.Read(filepath.Join(folder, file.Name()), profile)
		if err != nil {
			checkMessages(t, file.Name(), err)
		}
		peak, _ := statusKB("VmHWM:")
		t.Logf("%s: peak so far %d MiB, read: %v; %v", file.Name(), peak>>10, r != nil, err)
	}
	all := append(specimens(t), craftedSpecimens(t)...)
	random := rand.New(rand.NewSource(seed))
	refused, took := map[string]int{}, map[string]int{}
	for i := range count {
		s := all[i%len(all)]
		damaged := mutant(random, s.data)
		fmt.Printf("reading mutant %d of %s\n", i, s.name)
		r, err := limits.read("mutant", bytes.NewReader(damaged), int64(len(damaged)), s.profile, nopHash())
		kind, _, _ := strings.Cut(s.name, ",")
		took[kind]++
		if raw, err := OpenRawBytes("mutant", damaged); err != nil {
			checkMessages(t, s.name+", surveyed", err)
		} else if err := raw.Walk(&noVisit{}); err != nil {
			checkMessages(t, s.name+", walked", err)
		}
		if err == nil {
			checkSound(t, r)
			continue
		}
		refused[kind]++
		checkMessages(t, s.name, err)
	}
	peak, err := statusKB("VmHWM:")
	if err != nil {
		t.Fatal(err)
	}
	total := 0
	for _, kind := range slices.Sorted(maps.Keys(took)) {
		t.Logf("%-24s %4d mutants, %4d refused", kind, took[kind], refused[kind])
		total += refused[kind]
	}
	t.Logf("%d mutants of %d files, %d refused, peak %d MiB, %.1f s", count, len(all), total, peak>>10, time.Since(began).Seconds())
	if peak > mutantMostKB {
		t.Errorf("%d MiB at its peak; at most %d are allowed", peak>>10, mutantMostKB>>10)
	}
	if total < count/4 {
		t.Errorf("only %d of %d mutants were refused", total, count)
	}
}

// noVisit looks at nothing.
type noVisit struct{}

func (*noVisit) Row(float64)   {}
func (*noVisit) Cell(*RawCell) {}

// forProgrammers are words of a panic or of a library that tell a user nothing.
var forProgrammers = regexp.MustCompile(`runtime error|slice bounds|index out of range|nil pointer|makeslice|interface conversion|reflect:|goroutine`)

func checkMessages(t *testing.T, name string, err error) {
	t.Helper()
	for _, p := range problemsOf(t, err) {
		if forProgrammers.MatchString(p.Cause + p.Hint) {
			t.Errorf("%s: %s", name, p.Cause)
		}
	}
}

// statusKB is an entry of the process's status, in KiB.
func statusKB(entry string) (int, error) {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0, err
	}
	_, after, found := bytes.Cut(status, []byte(entry))
	if !found {
		return 0, fmt.Errorf("no %s in %s", entry, status)
	}
	return strconv.Atoi(string(bytes.Fields(after)[0]))
}

// mutant damages a file: a few bits or bytes, a count or size made as large as it can be,
// bytes put in or taken out, or its end cut off. Half of the damage is near the end, where
// the footers of columnar files are.
func mutant(random *rand.Rand, data []byte) []byte {
	out := bytes.Clone(data)
	place := func() int {
		if near := 2000; random.Intn(2) == 0 && len(out) > near {
			return len(out) - 1 - random.Intn(near)
		}
		return random.Intn(max(len(out), 1))
	}
	for range 1 + random.Intn(3) {
		if len(out) == 0 {
			return out
		}
		at := place()
		switch random.Intn(8) {
		case 0, 1, 2:
			out[at] ^= 1 << random.Intn(8)
		case 3:
			out[at] = byte(random.Intn(256))
		case 4: // a number of 7 bits a byte, as Parquet has them
			copy(out[at:], binary.AppendUvarint(nil, []uint64{math.MaxInt32, math.MaxUint32, 1 << 40, 1 << 24, math.MaxUint64}[random.Intn(5)]))
		case 5: // a number of four or eight bytes, as Arrow and MATLAB have them
			copy(out[at:], binary.LittleEndian.AppendUint64(nil, []uint64{math.MaxInt32, 1 << 27, 1 << 40, math.MaxUint64, 1 << 62}[random.Intn(5)])[:4<<random.Intn(2)])
		case 6:
			n := min(1+random.Intn(8), len(out)-at)
			if random.Intn(2) == 0 {
				out = slices.Delete(out, at, at+n)
			} else {
				out = slices.Insert(out, at, out[at:at+n]...)
			}
		case 7:
			if random.Intn(4) == 0 {
				out = out[:at]
			} else {
				clear(out[at:min(at+1+random.Intn(16), len(out))])
			}
		}
	}
	return out
}

var mutantCodecs = []format.CompressionCodec{format.Uncompressed, format.Snappy, format.Gzip, format.Brotli, format.Zstd, format.Lz4Raw}

// craftedSpecimens are Parquet files of every codec, encoding and version of pages, without
// checksums that would find the damage first, and Arrow files of every codec.
func craftedSpecimens(t testing.TB) (all []specimen) {
	t.Helper()
	profile := profileOf(t, "column: time", testColumns)
	const rows = 400
	for _, codec := range mutantCodecs {
		for _, second := range []bool{false, true} {
			for _, by := range []format.Encoding{format.Plain, format.RLEDictionary, format.DeltaBinaryPacked} {
				file := parquetOf(rows, by)
				file.Codec, file.Second = codec, second
				data, err := file.Bytes()
				if err != nil {
					t.Fatal(err)
				}
				all = append(all, specimen{name: fmt.Sprintf("Parquet %s, %s, second %v", codec, by, second), data: data, profile: profile})
			}
		}
	}
	for name, option := range map[string]ipc.Option{"LZ4": ipc.WithLZ4(), "ZSTD": ipc.WithZstd()} {
		all = append(all, specimen{name: "Arrow " + name + ", dictionary", data: arrowOf(t, rows, option), profile: profile})
	}
	slices.SortFunc(all, func(a, b specimen) int { return strings.Compare(a.name, b.name) })
	return all
}

// parquetOf is a wide export whose columns are in an encoding, or the one for their type
// that goes with it.
func parquetOf(rows int, by format.Encoding) *crafted.File {
	times, numbers, codes, texts, switches := make([]float64, rows), make([]float64, rows), make([]int32, rows), make([]string, rows), make([]bool, rows)
	places, present := make([]int32, rows), make([]bool, rows)
	for i := range rows {
		times[i], numbers[i], codes[i], texts[i], switches[i] = float64(i)/8, 100+float64(i%50), int32(1000+i), []string{"UP", "DN"}[i/100%2], i%90 < 45
		places[i], present[i] = int32(i), i%3 > 0
	}
	file := &crafted.File{Rows: rows, PerPage: 150, Columns: []crafted.Column{{Name: "time", Doubles: times}, {Name: "CAS", Doubles: numbers, Optional: true, Present: present},
		{Name: "ALT", Int32s: codes}, {Name: "LEVER", Texts: texts, Optional: true, Present: present}, {Name: "WOW", Bools: switches}}}
	for i := range file.Columns {
		c := &file.Columns[i]
		switch {
		case by == format.Plain:
		case by == format.RLEDictionary && c.Bools == nil:
			c.Encoding, c.Places = by, places
		case c.Doubles != nil:
			c.Encoding = format.ByteStreamSplit
		case c.Int32s != nil:
			c.Encoding = format.DeltaBinaryPacked
		case c.Bools != nil:
			c.Encoding = format.RLE
		case c.Optional:
			c.Encoding = format.DeltaByteArray
		default:
			c.Encoding = format.DeltaLengthByteArray
		}
	}
	return file
}

// arrowOf is a wide export in two batches, with a column whose texts are in a dictionary.
func arrowOf(t testing.TB, rows int, options ...ipc.Option) []byte {
	t.Helper()
	dictionary := &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}
	schema := arrow.NewSchema([]arrow.Field{{Name: "time", Type: arrow.PrimitiveTypes.Float64}, {Name: "CAS", Type: arrow.PrimitiveTypes.Float32, Nullable: true},
		{Name: "LEVER", Type: dictionary, Nullable: true}, {Name: "WOW", Type: arrow.FixedWidthTypes.Boolean}}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	var out bytes.Buffer
	w, err := ipc.NewFileWriter(&seekBuffer{Buffer: &out}, append(options, ipc.WithSchema(schema))...)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		for i := range rows / 2 {
			b.Field(0).(*array.Float64Builder).Append(float64(i) / 8)
			b.Field(1).(*array.Float32Builder).Append(float32(i))
			if err := b.Field(2).(*array.BinaryDictionaryBuilder).AppendString([]string{"UP", "DN"}[i/50%2]); err != nil {
				t.Fatal(err)
			}
			b.Field(3).(*array.BooleanBuilder).Append(i%90 < 45)
		}
		record := b.NewRecord()
		if err := w.Write(record); err != nil {
			t.Fatal(err)
		}
		record.Release()
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// inflatedFiles makes a folder of small files that hold, or claim to hold, far more than they
// are.
func inflatedFiles(t testing.TB) (folder string) {
	t.Helper()
	folder = t.TempDir()
	if testing.Short() { // they take most of the time
		return folder
	}
	add := func(name string, data []byte, err error) {
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, name), data, 0o600)
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	// fifty million rows, of one run of each column
	const many = maxRows
	for _, rows := range []int{many, 14_000_000} {
		run := append(append([]byte{1}, binary.AppendUvarint(nil, uint64(rows)<<1)...), 0)
		for _, kind := range []string{"numbers", "texts"} {
			file := crafted.File{Rows: 2, Columns: []crafted.Column{
				{Name: "time", Encoding: format.RLEDictionary, Doubles: []float64{0, 1}, Places: []int32{0, 0}},
				{Name: "CAS", Encoding: format.RLEDictionary, Doubles: []float64{0, 1}, Places: []int32{0, 0}}}}
			if kind == "texts" {
				file.Columns[1] = crafted.Column{Name: "LEVER", Encoding: format.RLEDictionary, Texts: []string{"UP", "DN"}, Places: []int32{0, 0}}
			}
			n := 0
			file.Values = func(old []byte) []byte {
				if n++; n%2 == 1 { // the dictionary
					return old
				}
				return run
			}
			file.Header = func(h *format.PageHeader) {
				if h.DataPageHeader.Valid {
					h.DataPageHeader.V.NumValues = int32(rows)
				}
			}
			file.Footer = func(f *format.FileMetaData) { f.NumRows, f.RowGroups[0].NumRows = int64(rows), int64(rows) }
			data, err := file.Bytes()
			add(fmt.Sprintf("Parquet of %d %s in a run", rows, kind), data, err)
		}
	}
	// two pages of 56 MiB, which are all that is read within the limit, and beyond it
	for _, codec := range []format.CompressionCodec{format.Snappy, format.Zstd, format.Lz4Raw} {
		zeros := make([]float64, 7<<20)
		file := crafted.File{Codec: codec, Rows: len(zeros), Columns: []crafted.Column{{Name: "time", Doubles: zeros}, {Name: "CAS", Doubles: zeros}}}
		if codec == format.Lz4Raw {
			file.Columns = append(file.Columns, crafted.Column{Name: "ALT", Doubles: zeros})
		}
		data, err := file.Bytes()
		add(fmt.Sprintf("Parquet of zeros, %s", codec), data, err)
	}
	add("MATLAB of 300 MB of zeros", matOfZeros(300_000_000), nil)
	add("MATLAB of 30 MB of zeros", matOfZeros(30_000_000), nil)
	add("MATLAB of 60 MB of zeros", matOfZeros(60_000_000), nil)
	add("Arrow of zeros, ZSTD", arrowOfZeros(t, 30_000_000, ipc.WithZstd()), nil)
	add("Arrow of zeros, LZ4", arrowOfZeros(t, 30_000_000, ipc.WithLZ4()), nil)
	add("Arrow of 5,000,000 zeros, LZ4", arrowOfZeros(t, 5_000_000, ipc.WithLZ4()), nil)
	return folder
}

func arrowOfZeros(t testing.TB, rows int, options ...ipc.Option) []byte {
	t.Helper()
	schema := arrow.NewSchema([]arrow.Field{{Name: "time", Type: arrow.PrimitiveTypes.Float64}, {Name: "CAS", Type: arrow.PrimitiveTypes.Float64}}, nil)
	buffer := memory.NewBufferBytes(make([]byte, 8*rows))
	zeros := array.NewFloat64Data(array.NewData(arrow.PrimitiveTypes.Float64, rows, []*memory.Buffer{nil, buffer}, nil, 0, 0))
	var out bytes.Buffer
	w, err := ipc.NewFileWriter(&seekBuffer{Buffer: &out}, append(options, ipc.WithSchema(schema))...)
	if err == nil {
		err = w.Write(array.NewRecord(schema, []arrow.Array{zeros, zeros}, int64(rows)))
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// matOfZeros is a MATLAB file whose one variable is a packed struct with so many samples of
// a byte each, all zero. The layout is that of the format's published description.
func matOfZeros(n int) []byte {
	tag := func(kind uint32, size int) []byte {
		return binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, kind), uint32(size))
	}
	element := func(kind uint32, data []byte) []byte {
		return slices.Concat(tag(kind, len(data)), data, make([]byte, (8-len(data)%8)%8))
	}
	head := func(class byte, name string, columns int) []byte {
		return slices.Concat(element(6, []byte{class, 0, 0, 0, 0, 0, 0, 0}), element(5, binary.LittleEndian.AppendUint32([]byte{1, 0, 0, 0}, uint32(columns))), element(1, []byte(name)))
	}
	rate := slices.Concat(head(6, "", 1), element(9, binary.LittleEndian.AppendUint64(nil, math.Float64bits(8))))
	data := slices.Concat(head(9, "", n), tag(2, n)) // uint8, followed by n bytes
	variable := slices.Concat(head(2, "CAS", 1), element(5, []byte{8, 0, 0, 0}), element(1, []byte("Rate\x00\x00\x00\x00data\x00\x00\x00\x00")), element(14, rate), tag(14, len(data)+n), data)
	var packed bytes.Buffer
	z, _ := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	z.Write(tag(14, len(variable)+n))
	z.Write(variable)
	for left := n; left > 0; left -= 1 << 20 {
		z.Write(make([]byte, min(left, 1<<20)))
	}
	z.Close()
	file := append([]byte("MATLAB 5.0 MAT-file"), make([]byte, 128-19)...)
	copy(file[124:], "\x00\x01IM")
	return slices.Concat(file, tag(15, packed.Len()), packed.Bytes())
}
