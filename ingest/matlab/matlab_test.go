package matlab

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/klauspost/compress/zlib"
)

const testdata = "../../testdata/mat"

func content(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(testdata, name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// arrays reads every variable of a file.
func arrays(data []byte) (map[string]*Array, error) {
	file, err := Open(data, 1<<20)
	if err != nil {
		return nil, err
	}
	out := map[string]*Array{}
	for v, err := range file.Variables() {
		if err != nil {
			return out, err
		}
		if out[v.Name], err = v.Array(); err != nil {
			return out, err
		}
	}
	return out, nil
}

func numbers(a *Array) (list []float64) {
	for i := range a.Len() {
		list = append(list, a.Number(i))
	}
	return list
}

// The files were written by SciPy, or byte by byte and read back by SciPy
// (generate.py beside them). The values are those of generate.py.
func TestClassesAndByteOrders(t *testing.T) {
	t.Parallel()
	got, err := arrays(content(t, "classes.mat"))
	if err != nil {
		t.Fatal(err)
	}
	big, err := arrays(content(t, "big-endian.mat"))
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]float64{
		"INT8": {-128, 1, 127}, "UINT8": {0, 1, 255}, "INT16": {-32768, 1, 32767}, "UINT16": {0, 1, 65535},
		"INT32": {-2147483648, 1, 2147483647}, "UINT32": {0, 1, 4294967295},
		"INT64": {-9223372036854775808, 1, 9223372036854775807}, "UINT64": {0, 1, 18446744073709551615},
		"SINGLE": {-1.5, float64(float32(0.1)), 3.25}, "DOUBLE": {-1.5, 0.1, math.NaN()},
	} {
		if diff := cmp.Diff(want, numbers(got[name].Fields["data"]), cmpopts.EquateNaNs()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	if a := got["DOUBLE"].Fields; a["Rate"].Number(0) != 0.25 || a["Units"].Text() != "°" || a["Description"].Text() != "a column" {
		t.Errorf("rate %v, unit %q, description %q", a["Rate"].Number(0), a["Units"].Text(), a["Description"].Text())
	}
	if diff := cmp.Diff([]int{1, 3}, got["SINGLE"].Fields["data"].Dims); diff != "" {
		t.Errorf("dimensions of a row: %s", diff)
	}
	for name, want := range map[string][]float64{"ALT": {-2, 340, 12000}, "CAS": {0, 140, 255, 7, 8}, "WOW": {0, 1}} {
		if diff := cmp.Diff(want, numbers(big[name].Fields["data"])); diff != "" {
			t.Errorf("big-endian %s (-want +got):\n%s", name, diff)
		}
	}
	if a := big["CAS"].Fields; a["Rate"].Number(0) != 2 || a["Units"].Text() != "KNOTS" || a["data"].Class != Double {
		t.Errorf("rate %v, unit %q, class %d", a["Rate"].Number(0), a["Units"].Text(), a["data"].Class)
	}
}

// fileOf makes a file of whole elements, in little-endian order.
func fileOf(elements ...[]byte) []byte {
	head := append([]byte("MATLAB 5.0 MAT-file"), make([]byte, headerBytes-19)...)
	copy(head[markOffset:], "\x00\x01IM")
	return append(head, bytes.Join(elements, nil)...)
}

func tagged(kind uint32, data []byte) []byte {
	out := binary.LittleEndian.AppendUint32(nil, kind)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(data)))
	return append(out, data...)
}

func packed(data []byte) []byte {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	z.Write(data)
	z.Close()
	return tagged(typeCompressed, b.Bytes())
}

// head is an array's flags, dimensions and name, without its tag.
func head(class byte, name string, dims ...int32) []byte {
	out := tagged(typeUint32, []byte{class, 0, 0, 0, 0, 0, 0, 0})
	var d []byte
	for _, n := range dims {
		d = binary.LittleEndian.AppendUint32(d, uint32(n))
	}
	out = append(out, tagged(typeInt32, d)...)
	out = append(out, make([]byte, (8-len(d)%8)%8)...)
	out = append(out, tagged(typeInt8, []byte(name))...)
	return append(out, make([]byte, (8-len(name)%8)%8)...)
}

// Every place is counted by hand from the format's published description: a header of
// 128 bytes, tags of 8, flags of 16, dimensions of 16, names of 16.
func TestProblemsWithTheirPlaces(t *testing.T) {
	t.Parallel()
	double := func(n int) []byte { return tagged(typeDouble, make([]byte, 8*n)) }
	matrix := func(parts ...[]byte) []byte { return tagged(typeMatrix, bytes.Join(parts, nil)) }
	for _, tt := range []struct {
		name, want string
		data       []byte
	}{
		{"no header", "at byte 0: no header of a level 5 MAT-file", []byte("MATLAB 5.0")},
		{"half a tag", "at byte 128: 3 bytes where the tag of an element takes 8", fileOf([]byte{14, 0, 0})},
		{"a lying size", "at byte 128: an element of 4294967295 bytes where 0 are left", fileOf([]byte{14, 0, 0, 0, 255, 255, 255, 255})},
		{"a lying small size", "at byte 128: an element of 9 bytes in a tag, which has room for 4", fileOf([]byte{14, 0, 9, 0, 0, 0, 0, 0})},
		{"no variable", "at byte 128: an element of type 9 where a variable is expected", fileOf(double(1))},
		{"nested compression", "at byte 128, 0 bytes into the data packed there: an element of type 15 where a variable is expected", fileOf(packed(packed(matrix(head(6, "A", 1, 1), double(1)))))},
		{"compressed data that is none", "at byte 128: compressed data that cannot be unpacked: zlib: invalid header", fileOf(tagged(typeCompressed, []byte("junkjunk")))},
		{"compressed data cut off", "at byte 128: compressed data that ends before its tag", fileOf(packed(tagged(typeMatrix, nil)[:4]))},
		{"a packed size that lies", "at byte 128: compressed data that ends after 56 of 5000 bytes (EOF)", fileOf(packed(append([]byte{14, 0, 0, 0, 0x88, 0x13, 0, 0}, append(head(6, "A", 1, 1), double(0)...)...)))},
		{"a packed size beyond the limit", "at byte 128: a variable of 1879048192 bytes; 1048568 more are read of this file", fileOf(packed(append([]byte{14, 0, 0, 0, 0, 0, 0, 112}, head(6, "A", 1, 1)...)))},
		{"a packed size that no data make", "at byte 128: a variable of 1000000 bytes, packed in ", fileOf(tagged(typeCompressed, packed([]byte{14, 0, 0, 0, 0x40, 0x42, 0x0f, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9})[8:]))},
		{"a negative dimension", "at byte 164: a dimension of -1", fileOf(matrix(head(6, "A", 1, -1), double(1)))},
		{"dimensions beyond all bounds", "at byte 164: a dimension of 2147483647", fileOf(matrix(head(6, "A", 2147483647, 2147483647), double(1)))},
		{"too few numbers", "at byte 184: 3 elements of 8 bytes in 16 bytes", fileOf(matrix(head(6, "A", 3, 1), double(2)))},
		{"too few numbers, packed", "at byte 128, 56 bytes into the data packed there: 3 elements of 8 bytes in 16 bytes", fileOf(packed(matrix(head(6, "A", 3, 1), double(2))))},
		{"numbers of no type", "at byte 184: numbers of type 8", fileOf(matrix(head(6, "A", 1, 1), tagged(8, make([]byte, 8))))},
		{"one dimension", "at byte 160: dimensions of 4 bytes; 2 to 8 dimensions are read", fileOf(matrix(head(6, "A", 1), double(1)))},
		{"no flags", "at byte 136: array flags of type 9, not 6", fileOf(matrix(double(1)))},
		{"fields without end", "at byte 192: field names of 3 bytes, 2 each; at most 200 fields are read", fileOf(matrix(head(2, "S", 1, 1), tagged(typeInt32, []byte{2, 0, 0, 0}), make([]byte, 4), tagged(typeInt8, []byte("abc"))))},
	} {
		_, err := arrays(tt.data)
		var where *Error
		if !errors.As(err, &where) || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
	}
}

func TestLimitOfUnpackedBytes(t *testing.T) {
	t.Parallel()
	one := tagged(typeMatrix, append(head(6, "A", 100, 1), tagged(typeDouble, make([]byte, 800))...))
	data := fileOf(packed(one), packed(one))
	for limit, want := range map[int64]int{int64(2 * len(one)): 2, int64(2*len(one)) - 1: 1, int64(len(one)) - 1: 0} {
		file, err := Open(data, limit)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for v, err := range file.Variables() {
			if err != nil {
				break
			}
			if _, err := v.Array(); err == nil {
				n++
			}
		}
		if n != want {
			t.Errorf("limit %d: %d variables, want %d", limit, n, want)
		}
	}
}

// A variable that nobody reads is unpacked for its checksum, and not kept: the walk says so
// after it, and takes less memory than it has bytes.
func TestVariableThatIsNotRead(t *testing.T) {
	large := tagged(typeMatrix, append(head(6, "A", 100_000, 1), tagged(typeDouble, make([]byte, 800_000))...))
	sound, small := packed(large), packed(tagged(typeMatrix, append(head(6, "B", 1, 1), tagged(typeDouble, make([]byte, 8))...)))
	walk := func(data []byte) (names []string, err error) {
		file, err := Open(data, 1<<20)
		if err != nil {
			t.Fatal(err)
		}
		for v, err := range file.Variables() {
			if err != nil {
				return names, err
			}
			names = append(names, v.Name)
		}
		return names, nil
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	names, err := walk(fileOf(sound, small))
	runtime.ReadMemStats(&after)
	if err != nil || strings.Join(names, " ") != "A B" {
		t.Errorf("%q, %v", names, err)
	}
	if took := after.TotalAlloc - before.TotalAlloc; took > 400_000 {
		t.Errorf("the walk takes %d bytes", took)
	}
	damaged := bytes.Clone(sound)
	damaged[len(damaged)-1] ^= 1 // of its checksum
	names, err = walk(fileOf(damaged, small))
	if err == nil || !strings.Contains(err.Error(), "at byte 128: compressed data that does not end after 800") || strings.Join(names, " ") != "A" {
		t.Errorf("%q, %v", names, err)
	}
}

// A file cut anywhere returns an error and no wrong value. A file with any byte
// changed returns an error or values, and takes no memory for absent data.
func TestDamage(t *testing.T) {
	for _, name := range []string{"classes.mat", "big-endian.mat", "circuit.mat"} {
		whole := content(t, name)
		step := 1 + len(whole)/800
		if testing.Short() {
			step *= 10
		}
		ends := map[int]bool{headerBytes: true} // a file cut between variables is complete
		file, _ := Open(whole, 1<<20)
		for v := range file.Variables() {
			ends[int(v.Offset())] = true
		}
		for n := headerBytes; n < len(whole); n += step {
			if _, err := arrays(whole[:n]); err == nil && !ends[n] && !onlyPadding(whole[n:]) && !ends[(n+7)&^7] {
				t.Errorf("%s cut at %d: no error", name, n)
			}
		}
		var before, after runtime.MemStats
		for at := headerBytes; at < len(whole); at += step {
			for _, b := range []byte{0, 0xff, whole[at] ^ 1} {
				damaged := bytes.Clone(whole)
				damaged[at] = b
				runtime.ReadMemStats(&before)
				arrays(damaged)
				runtime.ReadMemStats(&after)
				if took := after.TotalAlloc - before.TotalAlloc; took > 20<<20 {
					t.Fatalf("%s with %d at byte %d takes %d MiB", name, b, at, took>>20)
				}
			}
		}
	}
}

func onlyPadding(rest []byte) bool { return len(rest) < 8 && len(bytes.Trim(rest, "\x00")) == 0 }

func TestIs(t *testing.T) {
	t.Parallel()
	if !Is(content(t, "circuit.mat")) || !Is(content(t, "big-endian.mat")) || Is([]byte("MATLAB 5.0 MAT-file")) {
		t.Error("a MAT-file is not known, or another file is taken for one")
	}
	if !IsHDF5([]byte("MATLAB 7.3 MAT-file, Platform")) || !IsHDF5([]byte("\x89HDF\r\n\x1a\n")) || IsHDF5(content(t, "circuit.mat")) {
		t.Error("version 7.3 is not told from version 5")
	}
}

func FuzzVariables(f *testing.F) {
	for _, name := range []string{"classes.mat", "big-endian.mat"} {
		f.Add(content(f, name))
	}
	f.Add(fileOf(packed(tagged(typeMatrix, append(head(4, "T", 1, 2), tagged(typeUTF8, []byte("é"))...)))))
	f.Add(fileOf(tagged(typeMatrix, append(head(2, "S", 1, 1), tagged(typeInt32, []byte{1, 0, 0, 0})...))))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := arrays(data)
		var where *Error
		if err != nil && (!errors.As(err, &where) || where.Offset < 0 || where.Offset > int64(len(data))) {
			t.Fatalf("%v is not a place in %d bytes", err, len(data))
		}
		for _, a := range got {
			if a == nil {
				continue
			}
			for _, field := range a.Fields {
				if field.Numeric() {
					numbers(field)
				}
				io.WriteString(io.Discard, field.Text())
			}
		}
	})
}
