package ingest

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"downlock/schemas"
	"downlock/testdata/effort"
)

const (
	memoryChild  = "DOWNLOCK_MEMORY_CHILD" // packing and MiB; set for the child process
	memoryMiB    = 1024
	memoryMostKB = 400 << 10
)

// flightRows makes the text of a wide export of a full frame: 600
// columns, 8 rows a second, 25 of the columns mapped, at 8 to 1 Hz. No file of
// that size need exist.
type flightRows struct {
	left int64 // bytes
	n    int   // rows made
	rest []byte
}

const wideColumns = 600

// mappedColumns are the columns the profile maps, among those nobody reads.
func mappedColumns() (names []string) {
	for _, p := range schemas.Parameters() {
		if p.Kind == schemas.Continuous && p.Range[0] <= 0 && p.Range[1] >= 9 {
			names = append(names, p.Name)
		}
	}
	return names[:25]
}

func flightProfile() (*schemas.Profile, error) {
	var yaml strings.Builder
	yaml.WriteString("schema: downlock profile 1\naircraft: B\ntitle: benchmark\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\ncolumns:\n")
	for i, name := range mappedColumns() {
		p, _ := schemas.LookupParameter(name)
		fmt.Fprintf(&yaml, "  %s: {column: \"P%d\", unit: %q}\n", name, 24*i, p.Unit)
	}
	return schemas.ParseProfile("bench.yaml", []byte(yaml.String()))
}

func (f *flightRows) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if len(f.rest) == 0 {
			if f.left <= 0 {
				return n, io.EOF
			}
			f.row()
			f.left -= int64(len(f.rest))
		}
		k := copy(p[n:], f.rest)
		n, f.rest = n+k, f.rest[k:]
	}
	return n, nil
}

// row makes the next line: a column of every 8th, 4th or each row in turn.
func (f *flightRows) row() {
	f.rest = f.rest[:0]
	if f.n == 0 {
		f.rest = append(f.rest, "time"...)
		for i := range wideColumns {
			f.rest = fmt.Appendf(f.rest, ",P%d", i)
		}
	} else {
		f.rest = strconv.AppendFloat(f.rest, float64(f.n-1)/8, 'f', 3, 64)
		for i := range wideColumns {
			f.rest = append(f.rest, ',')
			if every := 1 << (i / 24 % 4); (f.n+i)%every == 0 {
				f.rest = strconv.AppendFloat(f.rest, float64((f.n>>3+i)%90)/10, 'f', 1, 64)
			}
		}
	}
	f.rest = append(f.rest, '\n')
	f.n++
}

// TestMain runs a measurement in place of the tests in a child process, whose
// peak of memory is its own.
func TestMain(m *testing.M) {
	what := os.Getenv(memoryChild)
	if what == "" {
		os.Exit(m.Run())
	}
	if err := measure(what); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// measure reads an export that is made on the way and prints the process's peak
// of memory in KiB, how many bytes it took from the system, the samples it kept.
func measure(what string) error {
	packing, size, _ := strings.Cut(what, " ")
	mib, err := strconv.Atoi(size)
	if err != nil {
		return err
	}
	profile, err := flightProfile()
	if err != nil {
		return err
	}
	var in io.Reader = &flightRows{left: int64(mib) << 20}
	if packing != "plain" {
		in = packedOnTheWay(packing, in)
	}
	r, err := Limits{PackAbove: ManySamples}.read("f", in, int64(mib)<<20, profile, sha256.New())
	if err != nil {
		return err
	}
	samples := 0
	for _, s := range r.Series {
		samples += s.Len()
	}
	peak, err := peakKB()
	var stats runtime.MemStats
	runtime.ReadMemStats(&stats)
	fmt.Println(peak, stats.Sys, samples)
	runtime.KeepAlive(r)
	return err
}

func packedOnTheWay(packing string, in io.Reader) io.Reader {
	out, w := io.Pipe()
	go func() {
		var packer io.WriteCloser = gzip.NewWriter(w)
		if packing == "zstd" {
			packer, _ = zstd.NewWriter(w, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedFastest))
		}
		_, err := io.Copy(packer, in)
		packer.Close()
		w.CloseWithError(err)
	}()
	return out
}

// peakKB is the most memory the process has had at once, in KiB.
func peakKB() (int, error) {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0, err
	}
	_, after, found := bytes.Cut(status, []byte("VmHWM:"))
	if !found {
		return 0, fmt.Errorf("no VmHWM in %s", status)
	}
	return strconv.Atoi(string(bytes.Fields(after)[0]))
}

// BenchmarkMemory reads a wide CSV export of 1 GiB, made on the way, in a child
// process and reports its peak of memory. More than 400 MiB fails. A short run does the one in gzip.
func BenchmarkMemory(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("the peak of a process is read from /proc")
	}
	for _, packing := range []string{"gzip", "plain", "zstd"}[:effort.Of(1, 3, 3)] {
		b.Run(packing, func(b *testing.B) {
			for b.Loop() {
				b.SetBytes(memoryMiB << 20)
				peak, samples := readInChild(b, packing, memoryMiB)
				if peak > memoryMostKB {
					b.Errorf("%d MiB at its peak, at most %d are allowed", peak>>10, memoryMostKB>>10)
				}
				b.ReportMetric(float64(peak)/1024, "MiB-peak")
				b.ReportMetric(float64(samples)*16/(1<<20), "MiB-kept")
			}
		})
	}
}

// An eighth of it in every run of the tests.
func TestMemoryOfAWideExport(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("the peak of a process is read from /proc")
	}
	if testing.Short() {
		t.Skip("takes a few seconds")
	}
	peak, samples := readInChild(t, "plain", 128)
	if samples < 100_000 {
		t.Errorf("only %d samples", samples)
	}
	if peak > 128<<10 {
		t.Errorf("%d MiB at its peak for a file of 128 MiB", peak>>10)
	}
}

func readInChild(t testing.TB, packing string, mib int) (peakKB, samples int) {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), fmt.Sprintf("%s=%s %d", memoryChild, packing, mib))
	out, err := child.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	sys := 0
	if _, err := fmt.Sscan(string(out), &peakKB, &sys, &samples); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return peakKB, samples
}
