package detect_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"downlock/ingest"
	"downlock/ingest/export"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// TestFlightOfTooManySamples: a packed flight that does not fit into memory unpacked is the
// last thing that comes, as an error.
func TestFlightOfTooManySamples(t *testing.T) {
	t.Parallel()
	flight, err := simulator.LongFlight(1, 2400)
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := export.Write(&text, export.Format{Layout: export.WideCSV}, flight.Record()); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "flight.csv")
	if err := os.WriteFile(path, text.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	d, profile := shippedDetector(t)
	r, err := ingest.Limits{PackAbove: 1}.Read(path, profile)
	if err != nil || !r.Packed() {
		t.Fatal(err)
	}
	results := func() (n int, last error) {
		for result, err := range d.Results(r) {
			if (result == nil) != (err != nil) || last != nil {
				t.Errorf("result %v after %d with %v", result != nil, n, err)
			}
			if last = err; err == nil {
				n++
			}
		}
		return n, last
	}
	if n, err := results(); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	// Read from two thousand columns each, it has more than 70 million samples.
	r.Alternatives = slices.Repeat(r.Series, 2000)
	var problem *schemas.Problem
	if n, err := results(); n != 0 || !errors.As(err, &problem) || problem.File != "flight.csv" {
		t.Errorf("%d results, and %v", n, err)
	}
}
