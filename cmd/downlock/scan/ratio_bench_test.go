package scan

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"

	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// ruleProcess is the name under which encoding/csv reads files, in a process of its own,
// and evaluates one rule on them.
const ruleProcess = "encoding-csv-one-rule"

// oneRule counts the samples of an airspeed above 120 kt in wide and long files: the least
// a program has to do that finds an event in them.
func oneRule(files []string) (above int, err error) {
	for _, path := range files {
		f, err := os.Open(path)
		if err != nil {
			return 0, err
		}
		defer f.Close()
		var text io.Reader = f
		if strings.HasSuffix(path, ".gz") {
			if text, err = gzip.NewReader(f); err != nil {
				return 0, err
			}
		}
		in := csv.NewReader(text)
		in.ReuseRecord, in.FieldsPerRecord = true, -1
		column, long := -1, false
		for {
			record, err := in.Read()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				return 0, err
			}
			if column < 0 {
				if column = slices.Index(record, "airspeed"); column < 0 {
					column = slices.Index(record, export.ValueColumn)
					long = column >= 0
				}
				continue
			}
			if long && record[column-1] != "airspeed" {
				continue
			}
			if v, err := strconv.ParseFloat(record[column], 64); err == nil && v > 120 {
				above++
			}
		}
	}
	return above, nil
}

func runOneRule() {
	above, err := oneRule(os.Args[1:])
	if err != nil || above == 0 {
		fmt.Fprintln(os.Stderr, above, err)
		os.Exit(1)
	}
}

// BenchmarkRatio compares whole runs with encoding/csv evaluating one rule on the same
// files: processor time of a process each, the least of the runs of either. The flights are
// rough, with events in none; the many are of 1.5 MB, which is forty minutes.
func BenchmarkRatio(b *testing.B) {
	flight, err := simulator.LongFlight(1, 7100)
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	usual := filepath.Join(dir, "th120.yaml")
	if err := os.WriteFile(usual, schemas.ShippedProfileText(), 0o666); err != nil {
		b.Fatal(err)
	}
	many := nightOf(b, 100)
	one := func(name string, format export.Format) []string {
		var text bytes.Buffer
		if err := export.Write(&text, format, flight.RecordRough()); err != nil {
			b.Fatal(err)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, text.Bytes(), 0o666); err != nil {
			b.Fatal(err)
		}
		return []string{path}
	}
	for _, c := range []struct {
		name   string
		files  []string
		output string
	}{
		{"archive", many, "--archive"},
		{"reports", many, "--out"},
		{"one_wide", one("wide.csv", export.Format{Layout: export.WideCSV}), "--out"},
		{"one_long", one("long.csv", export.Format{Layout: export.LongCSV}), "--out"},
		{"one_gzip", one("wide.csv.gz", export.Format{Layout: export.WideCSV, Compression: export.Gzip}), "--out"},
		{"filled", []string{writeFilled(b, dir)}, "--archive"},
		{"start", []string{shortFile(b, one("begins.csv", export.Format{Layout: export.WideCSV})[0])}, "--out"},
	} {
		b.Run(c.name, func(b *testing.B) {
			profile := usual
			if c.name == "filled" {
				profile = filepath.Join(dir, "filled.yaml")
			}
			ours, theirs := math.Inf(1), math.Inf(1)
			for b.Loop() {
				args := []string{scanProcess, "--quiet", "--profile", profile, c.output, filepath.Join(b.TempDir(), "out")}
				ours = min(ours, processSeconds(b, append(args, c.files...), c.name == "start"))
				theirs = min(theirs, processSeconds(b, append([]string{ruleProcess}, c.files...), c.name == "start"))
			}
			b.ReportMetric(ours/theirs, "ratio")
			b.ReportMetric(1e3*ours, "cpu-ms")
			b.ReportMetric(1e3*theirs, "csv-cpu-ms")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// nightOf writes so many flights of forty minutes, each a recording of its own by a remark
// before the header.
func nightOf(b *testing.B, flights int) (files []string) {
	b.Helper()
	var texts [][]byte
	for seed := range uint64(3) {
		flight, err := simulator.LongFlight(seed, 2400)
		if err != nil {
			b.Fatal(err)
		}
		var text bytes.Buffer
		if err := export.Write(&text, export.Format{Layout: export.WideCSV}, flight.RecordRough()); err != nil {
			b.Fatal(err)
		}
		texts = append(texts, text.Bytes())
	}
	dir := b.TempDir()
	for i := range flights {
		path := filepath.Join(dir, fmt.Sprintf("flight-%04d.csv", i))
		if err := os.WriteFile(path, append(fmt.Appendf(nil, "readout %d\n", i), texts[i%len(texts)]...), 0o666); err != nil {
			b.Fatal(err)
		}
		files = append(files, path)
	}
	return files
}

// processSeconds is the processor time of a process of this test; mayFail says that its
// exit code does not matter.
func processSeconds(b *testing.B, args []string, mayFail bool) float64 {
	b.Helper()
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	var messages bytes.Buffer
	cmd := &exec.Cmd{Path: self, Args: args, Stderr: &messages}
	if err := cmd.Run(); err != nil && !mayFail {
		b.Fatalf("%v: %s", err, messages.String())
	}
	return (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
}

// shortFile leaves ten rows of a file: what takes time with it is the beginning of a run.
func shortFile(b *testing.B, path string) string {
	b.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		b.Fatal(err)
	}
	lines := bytes.SplitAfterN(text, []byte("\n"), 11)
	if err := os.WriteFile(path, bytes.Join(lines[:10], nil), 0o666); err != nil {
		b.Fatal(err)
	}
	return path
}

// writeFilled writes an export of 64 MiB with every cell filled, and its profile.
func writeFilled(b *testing.B, dir string) string {
	b.Helper()
	large, err := newLargeExport(filled)
	if err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(dir, "filled.csv")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	if _, err := large.write(f, 64<<20); err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "filled.yaml"), large.profile, 0o666); err != nil {
		b.Fatal(err)
	}
	return path
}
