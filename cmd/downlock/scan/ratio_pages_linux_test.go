package scan

import (
	"bytes"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/schemas"
)

// BenchmarkRatioPages reports the processor time of a scan into an archive with reports over
// that of the same scan without, and what the reports of a flight take, in turns. Each takes
// its least of all turns.
func BenchmarkRatioPages(b *testing.B) {
	const flights = 24
	files, _ := writeBenchExports(b, flights)
	profile := filepath.Join(b.TempDir(), "th120.yaml")
	if err := os.WriteFile(profile, schemas.ShippedProfileText(), 0o666); err != nil {
		b.Fatal(err)
	}
	scan := func(more ...string) float64 {
		args := append([]string{"--quiet", "--profile", profile, "--archive", b.TempDir()}, append(more, files...)...)
		var messages bytes.Buffer
		before := processorTime()
		if code := Command(args, io.Discard, &messages); code != command.ExitDone {
			b.Fatalf("exit code %d: %s", code, messages.String())
		}
		return (processorTime() - before).Seconds()
	}
	archive, reports := math.Inf(1), math.Inf(1)
	for b.Loop() {
		archive = min(archive, scan())
		reports = min(reports, scan("--out", b.TempDir()))
	}
	b.ReportMetric(reports/archive, "x-archive")
	b.ReportMetric((reports-archive)/flights*1000, "ms/flight")
	b.ReportMetric(0, "ns/op")
}
