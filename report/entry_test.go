package report

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReadEntry: an index made of what an earlier run wrote has the bytes of one that the
// run itself would have written.
func TestReadEntry(t *testing.T) {
	t.Parallel()
	dir, run, result := t.TempDir(), fixtureRun(t), fixtureResult(t)
	entry, err := writeFlight(dir, run, result)
	if err != nil {
		t.Fatal(err)
	}
	read, err := ReadEntry(dir, entry.Folder, result.Flight.ID)
	if err != nil {
		t.Fatal(err)
	}
	var indexes []map[string][]byte
	for _, e := range []FlightEntry{entry, read} {
		flights := &Index{}
		flights.Add(e)
		if err := WriteIndex(dir, run, flights, nil); err != nil {
			t.Fatal(err)
		}
		files := map[string][]byte{}
		for _, name := range []string{indexJSON, indexHTML, eventsFile, measurementsFile} {
			if files[name], err = os.ReadFile(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
		}
		indexes = append(indexes, files)
	}
	for name, want := range indexes[0] {
		if !bytes.Equal(indexes[1][name], want) {
			t.Errorf("%s differs:\n%s\nwant\n%s", name, indexes[1][name], want)
		}
	}
	if _, err := ReadEntry(dir, entry.Folder, "F00"); err == nil || !strings.Contains(err.Error(), "not the report") {
		t.Errorf("of another flight: %v", err)
	}
	if _, err := ReadEntry(dir, "gone", result.Flight.ID); !os.IsNotExist(err) {
		t.Errorf("without a report: %v", err)
	}
}
