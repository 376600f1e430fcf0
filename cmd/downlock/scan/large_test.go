package scan

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// largeColumns is how many columns a large export has; the profile maps them all.
const largeColumns = 64

// frame says how often the columns of a large export are sampled.
type frame string

const (
	mixed  frame = "mixed"  // at 8, 4, 2 or 1 Hz, each from a moment of its own: most cells of slower columns are blank
	filled frame = "filled" // at 8 Hz, every cell is filled
)

var mappedNumber = regexp.MustCompile(`(?m)^  (\w+): \{column: ([^,]+), (unit: [^}]+)\}$`)

// largeExport is the shipped profile with further sources for numbers, for 64
// columns in all, and two-hour flights of its type, one after the other.
type largeExport struct {
	profile []byte
	header  []byte
	flights [][][]byte // rows of each, from their first comma on
}

func newLargeExport(f frame) (*largeExport, error) {
	e := &largeExport{}
	for seed := range uint64(3) {
		flight, err := simulator.LongFlight(seed, 7100)
		if err != nil {
			return nil, err
		}
		flight.Scenario.Sampling = map[string]simulator.Sampling{}
		for i, c := range flight.Channels() {
			rate := 8
			if f == mixed {
				rate = []int{2, 4, 1, 8}[i%4] // radio height and normal acceleration at 8 Hz
			}
			flight.Scenario.Sampling[c.Column] = simulator.Sampling{PerSecond: float64(rate), Offset: float64(i/4%(8/rate)) / 8}
		}
		table := flight.Record()
		table.Epoch = time.Time{} // the clock of a flight would be that of every flight
		if err := e.add(table, seed); err != nil {
			return nil, err
		}
	}
	return e, nil
}

// add adds a flight, and to its numbers a standby source with noise of its own,
// until there are 64 columns.
func (e *largeExport) add(table export.Table, seed uint64) error {
	noise := rand.New(rand.NewPCG(seed, 7))
	standby := map[string]bool{}
	for i := 0; len(table.Columns) < largeColumns; i++ {
		c := table.Columns[i]
		if c.Numbers == nil || c.Unit == "" {
			continue
		}
		standby[c.Name] = true
		c.Name += " standby"
		c.Decimals = max(c.Decimals, 1)
		numbers := make([]float64, len(c.Numbers))
		for k, v := range c.Numbers {
			numbers[k] = v + float64(noise.IntN(7)-3)*math.Pow10(-c.Decimals)
		}
		c.Numbers = numbers
		table.Columns = append(table.Columns, c)
	}
	e.profile = mappedNumber.ReplaceAllFunc(schemas.ShippedProfileText(), func(line []byte) []byte {
		m := mappedNumber.FindStringSubmatch(string(line))
		if !standby[m[2]] {
			return line
		}
		return fmt.Appendf(nil, "  %s: [{column: %s, %s}, {column: %s standby, %s}]", m[1], m[2], m[3], m[2], m[3])
	})
	var text bytes.Buffer
	if err := export.Write(&text, export.Format{Layout: export.WideCSV}, table); err != nil {
		return err
	}
	lines := bytes.SplitAfter(text.Bytes(), []byte("\n"))
	e.header = lines[0]
	var rows [][]byte
	for _, line := range lines[1 : len(lines)-1] {
		rows = append(rows, line[bytes.IndexByte(line, ','):])
	}
	e.flights = append(e.flights, rows)
	return nil
}

// write writes flight after flight until there are so many bytes, and returns how
// many flights were begun.
func (e *largeExport) write(to io.Writer, size int64) (flights int, err error) {
	w := bufio.NewWriterSize(to, 1<<20)
	n, _ := w.Write(e.header)
	size -= int64(n)
	var at []byte
	for row := 0; ; flights++ {
		for _, rest := range e.flights[flights%len(e.flights)] {
			at = strconv.AppendFloat(at[:0], float64(row)/8, 'f', 3, 64)
			row++
			w.Write(at)
			w.Write(rest)
			if size -= int64(len(at) + len(rest)); size < 0 {
				return flights + 1, w.Flush()
			}
		}
	}
}

// peakProcess is the name of scan in a process of its own that leaves its peak of memory, in KiB, in
// the file PEAK names.
const peakProcess = "downlock-scan-peak"

func runForPeak() {
	command.SetCollector()
	code := Command(os.Args[1:], os.Stdout, os.Stderr)
	status, err := os.ReadFile("/proc/self/status")
	if err == nil {
		_, after, _ := strings.Cut(string(status), "VmHWM:")
		err = os.WriteFile(os.Getenv("PEAK"), []byte(strings.Fields(after)[0]), 0o600)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = command.ExitOutput
	}
	os.Exit(code)
}

// scanForPeak scans a large export in a process of its own, reports and tables
// included, and returns its peak of memory in MiB.
func scanForPeak(t testing.TB, file, profile string, flights int) (peak float64) {
	t.Helper()
	dir := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	left := filepath.Join(dir, "peak")
	child := exec.Command(self)
	child.Args = []string{peakProcess, "--quiet", "--profile", profile, "--out", filepath.Join(dir, "out"), "--archive", filepath.Join(dir, "fleet"), file}
	child.Env = append(os.Environ(), "PEAK="+left)
	out, err := child.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if got := bytes.Count(out, []byte("\n")) - 1; got != flights {
		t.Errorf("%d flights, want %d", got, flights)
	}
	text, err := os.ReadFile(left)
	if err != nil {
		t.Fatal(err)
	}
	kib, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		t.Fatal(err)
	}
	return kib / 1024
}

// writeLarge writes an export and its profile into a folder.
func writeLarge(t testing.TB, f frame, size int64) (file, profile string, flights int) {
	t.Helper()
	e, err := newLargeExport(f)
	if err != nil {
		t.Fatal(err)
	}
	file, profile = filepath.Join(t.TempDir(), "large.csv"), filepath.Join(t.TempDir(), "large.yaml")
	out, err := os.Create(file)
	if err == nil {
		flights, err = e.write(out, size)
	}
	if err == nil {
		err = out.Close()
	}
	if err == nil {
		err = os.WriteFile(profile, e.profile, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return file, profile, flights
}

// BenchmarkScanMemory scans a wide CSV export of 1 GiB whose 64 columns are all
// mapped, from file to reports and tables. More than 400 MiB at its peak fails.
// encoding/csv merely reads the same file. A short run does the export with every cell filled.
//
// `BenchmarkScanMemory` scans 1 GiB of CSV with 64 columns, all mapped, in a process of its own: 291 to 319 MiB at its peak with
// columns at 8 to 1 Hz, 303 to 369 with every cell filled at 8 Hz (some hundred and 69 flights of two hours). It took
// 1.6 to 2 and 2.4 to 3.4 times as long as `encoding/csv` merely reading the same file, measured while the machine did other things too; with 93 rules, 2.4 and 4.9 times.
func BenchmarkScanMemory(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("the peak of a process is read from /proc")
	}
	const size = 1 << 30
	for _, f := range []frame{filled, mixed}[:effort.Of(1, 2, 2)] {
		file, profile, flights := writeLarge(b, f, size)
		b.Run(string(f), func(b *testing.B) {
			b.SetBytes(size)
			for b.Loop() {
				peak := scanForPeak(b, file, profile, flights)
				if b.ReportMetric(peak, "MiB-peak"); peak > 400 {
					b.Errorf("%.0f MiB at its peak, at most 400 are allowed", peak)
				}
			}
		})
		b.Run(string(f)+"_encoding_csv", func(b *testing.B) {
			if testing.Short() {
				b.Skip("is there to compare times")
			}
			b.SetBytes(size)
			for b.Loop() {
				if err := readCSV(file); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestScanMemory is a tenth of it in every run of the tests. What is fixed (the
// program, its tables, the samples until packing begins) does not shrink with it.
func TestScanMemory(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("the peak of a process is read from /proc")
	}
	if testing.Short() {
		t.Skip("takes a few seconds")
	}
	file, profile, flights := writeLarge(t, filled, 100<<20)
	if peak := scanForPeak(t, file, profile, flights); peak > 160 {
		t.Errorf("%.0f MiB at its peak for an export of 100 MiB", peak)
	} else {
		t.Logf("%.0f MiB at its peak", peak)
	}
}
