package scan

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// benchFlights is how many two-hour flights a run of the benchmark scans.
const benchFlights = 64

// benchExports are wide CSV exports of a few two-hour flights of the TH-120,
// widened to 64 columns by columns no profile maps.
var benchExports = sync.OnceValues(func() ([][]byte, error) {
	var out [][]byte
	for seed := range uint64(4) {
		f, err := simulator.LongFlight(seed, 7100)
		if err != nil {
			return nil, err
		}
		table := f.RecordRough()
		for i := 0; len(table.Columns) < 64; i++ {
			extra := table.Columns[i]
			extra.Name = fmt.Sprintf("unread %d", i)
			table.Columns = append(table.Columns, extra)
		}
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: export.WideCSV}, table); err != nil {
			return nil, err
		}
		out = append(out, b.Bytes())
	}
	return out, nil
})

func writeBenchExports(b *testing.B, flights int) (files []string, size int64) {
	b.Helper()
	exports, err := benchExports()
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	for i := range flights {
		data := exports[i%len(exports)]
		path := filepath.Join(dir, fmt.Sprintf("flight-%02d.csv", i))
		if err := os.WriteFile(path, data, 0o666); err != nil {
			b.Fatal(err)
		}
		files, size = append(files, path), size+int64(len(data))
	}
	return files, size
}

// BenchmarkScan compares the whole scan of 64 two-hour flights, from files to
// reports, on all cores, with encoding/csv merely reading the same files on as
// many.
func BenchmarkScan(b *testing.B) {
	files, size := writeBenchExports(b, benchFlights)
	profile := filepath.Join(b.TempDir(), "th120.yaml")
	if err := os.WriteFile(profile, schemas.ShippedProfileText(), 0o666); err != nil {
		b.Fatal(err)
	}
	b.Run("downlock", func(b *testing.B) {
		b.SetBytes(size)
		for b.Loop() {
			args := append([]string{"--quiet", "--profile", profile, "--out", b.TempDir()}, files...)
			var messages bytes.Buffer
			if code := Command(args, io.Discard, &messages); code != command.ExitDone {
				b.Fatalf("exit code %d: %s", code, messages.String())
			}
		}
	})
	b.Run("encoding_csv", func(b *testing.B) {
		b.SetBytes(size)
		for b.Loop() {
			forEach(files, 2, readCSV, func(err error) bool {
				if err != nil {
					b.Fatal(err)
				}
				return true
			})
		}
	})
}

func readCSV(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.ReuseRecord = true
	for {
		if _, err := in.Read(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// BenchmarkStages splits the way of one two-hour flight: reading, finding
// flights and events, and the whole of it with the report.
func BenchmarkStages(b *testing.B) {
	exports, err := benchExports()
	if err != nil {
		b.Fatal(err)
	}
	profile, err := schemas.ShippedProfile()
	if err != nil {
		b.Fatal(err)
	}
	rules, err := detect.LoadRules()
	if err != nil {
		b.Fatal(err)
	}
	detector, err := detect.New(profile, rules)
	if err != nil {
		b.Fatal(err)
	}
	recording, err := ingest.ReadBytes("flight.csv", exports[0], profile)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("read", func(b *testing.B) {
		b.SetBytes(int64(len(exports[0])))
		for b.Loop() {
			if _, err := ingest.ReadBytes("flight.csv", exports[0], profile); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("detect", func(b *testing.B) {
		for b.Loop() {
			if got := detector.Detect(recording); len(got) != 1 {
				b.Fatalf("%d flights, want 1", len(got))
			}
		}
	})
}
