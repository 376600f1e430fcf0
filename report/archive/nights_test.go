package archive

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestFigures: the newest first, as many as asked for, and what is no run left out.
func TestFigures(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	read := func(most int) (texts []string) {
		t.Helper()
		err := Figures(dir, most, func(figures []byte) error { texts = append(texts, string(figures)); return nil })
		if err != nil {
			t.Fatal(err)
		}
		return texts
	}
	if got := read(3); got != nil {
		t.Errorf("without runs: %v", got)
	}
	for name, text := range map[string]string{"20310701T023000.000Z": "first", "20310702T023000.000Z": "second", "20310702T023000.000Z~2": "third", "notes": "none", "20310704T023000.000Z": ""} {
		folder := filepath.Join(dir, runsFolder, name)
		if err := os.MkdirAll(folder, 0o700); err != nil {
			t.Fatal(err)
		}
		if text != "" {
			writeTestFile(t, filepath.Join(folder, "batch.json"), text)
		}
	}
	for most, want := range []string{"", "third", "third second", "third second first", "third second first"} {
		if got := strings.Join(read(most), " "); got != want {
			t.Errorf("%d: %s, want %s", most, got, want)
		}
	}
	tooLong := filepath.Join(dir, runsFolder, "20310704T023000.000Z", "batch.json")
	writeTestFile(t, tooLong, "fourth")
	if err := os.Truncate(tooLong, maxFigures+1); err != nil {
		t.Fatal(err)
	}
	if got := read(1); !slices.Equal(got, []string{"third"}) {
		t.Errorf("of figures that are too long: %d bytes", len(got[0]))
	}
	stop, calls := errors.New("enough"), 0
	if err := Figures(dir, 3, func([]byte) error { calls++; return stop }); !errors.Is(err, stop) || calls != 1 {
		t.Errorf("%v after %d", err, calls)
	}
	if err := Figures(filepath.Join(dir, "none"), 1, nil); err == nil {
		t.Error("no folder is no error")
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	name := filepath.Join(runsFolder, "notes", "batch.json") // has four bytes
	if text, err := readBounded(root, name, 4); err != nil || string(text) != "none" {
		t.Errorf("as long as may be: %q, %v", text, err)
	}
	if _, err := readBounded(root, name, 3); err == nil || !slices.Contains(strings.Fields(err.Error()), "long") {
		t.Errorf("a byte longer: %v", err)
	}
}
