package report

import (
	"bytes"
	"path/filepath"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// TestDemonstrationFlights takes every demonstration recording through the
// whole chain twice: each report follows its schema, each page stands by
// itself, and the bytes of the second run are the same.
func TestDemonstrationFlights(t *testing.T) {
	t.Parallel()
	first, second := t.TempDir(), t.TempDir()
	for _, dir := range []string{first, second} {
		run := fixtureRun(t)
		flights := &Index{}
		for _, result := range demonstrationResults(t) {
			e, err := writeFlight(dir, run, result)
			if err != nil {
				t.Fatal(err)
			}
			flights.Add(e)
		}
		if err := WriteIndex(dir, run, flights, nil); err != nil {
			t.Fatal(err)
		}
	}
	again := readAll(t, second)
	for name, data := range readAll(t, first) {
		if !bytes.Equal(data, again[name]) {
			t.Errorf("%s differs in a second run", name)
		}
		switch filepath.Base(name) {
		case flightJSON:
			if err := valid(t, schemas.ReportSchema, data); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		case indexJSON:
			if err := valid(t, schemas.IndexSchema, data); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		case flightHTML, indexHTML:
			checkSelfContained(t, parsePage(t, data))
		}
	}
}

// demonstrationResults are the results of all demonstration recordings.
func demonstrationResults(t testing.TB) (results []*detect.Result) {
	t.Helper()
	profile := fixtureProfile(t)
	rules, err := detect.LoadRules()
	if err != nil {
		t.Fatal(err)
	}
	detector, err := detect.New(profile, rules)
	if err != nil {
		t.Fatal(err)
	}
	recordings, err := filepath.Glob("../testdata/demo/*-[0-9][0-9].*")
	if err != nil || len(recordings) == 0 {
		t.Fatalf("no recordings: %v", err)
	}
	for _, path := range recordings {
		rec, err := ingest.Read(path, profile)
		if err != nil {
			t.Fatal(err)
		}
		results = append(results, detector.Detect(rec)...)
	}
	return results
}
