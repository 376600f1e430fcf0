package report

import (
	"bytes"
	"encoding/base64"
	"io"
	"math"
	"regexp"
	"syscall"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
)

// BenchmarkRatioPages reports the processor time of a flight's page with the samples of its
// events, and that over the time of merely compressing these samples, in turns. Each takes
// its least of all turns.
func BenchmarkRatioPages(b *testing.B) {
	r, run := longResult(b), fixtureRun(b)
	page := func() []byte {
		page, err := renderFlight(newDocument(run, r), r, EventSamples)
		if err != nil {
			b.Fatal(err)
		}
		return page
	}
	samples := samplesIn(b, page())
	zip, err := gzip.NewWriterLevel(io.Discard, samplesLevel)
	if err != nil {
		b.Fatal(err)
	}
	makers := []func(){
		func() { page() },
		func() {
			zip.Reset(io.Discard)
			if _, err := zip.Write(samples); err != nil || zip.Close() != nil {
				b.Fatal(err)
			}
		},
	}
	least := []float64{math.Inf(1), math.Inf(1)}
	for b.Loop() {
		for i, do := range makers {
			before := processorTime()
			do()
			least[i] = min(least[i], (processorTime() - before).Seconds())
		}
	}
	b.ReportMetric(least[0]*1000, "ms")
	b.ReportMetric(least[0]/least[1], "x-compressing")
	b.ReportMetric(float64(len(samples))/1024, "kB-samples")
	b.ReportMetric(0, "ns/op")
}

// samplesIn unpacks the samples in a page as a browser does.
func samplesIn(b *testing.B, page []byte) []byte {
	b.Helper()
	found := regexp.MustCompile(`id="samples">([^<]+)<`).FindSubmatch(page)
	if found == nil {
		b.Fatal("the page holds no samples")
	}
	zip, err := gzip.NewReader(base64.NewDecoder(base64.StdEncoding, bytes.NewReader(found[1])))
	if err != nil {
		b.Fatal(err)
	}
	samples, err := io.ReadAll(zip)
	if err != nil {
		b.Fatal(err)
	}
	return samples
}

// processorTime is the time all threads of the process have been running.
func processorTime() time.Duration {
	var usage syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &usage) != nil {
		return 0
	}
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}
