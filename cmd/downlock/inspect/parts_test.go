package inspect

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestPartName(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{ // stem|ending; "" for none
		"flight-8hz.csv.gz": "flight|-8hz.csv.gz", "TH-KXN_air.csv": "TH-KXN|_air.csv", "a b.csv": "a| b.csv",
		"tarnholm-07.csv.gz": "", "flight.csv": "", "-air.csv": "", "x_20310304.csv": "", "": "", "a-b": "a|-b",
	} {
		stem, ending, ok := partName(name)
		got := stem + "|" + ending
		if !ok {
			got = ""
		}
		if got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}

// TestPartsHint: files with other columns are parts; files with the same columns are
// other flights.
func TestPartsHint(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"f-8hz.csv": "time,A,B\n0,1,2\n1,2,3\n", "f-1hz.csv": "time,C,D\n0,1,2\n1,2,3\n", "f-2hz.txt": "time,E\n0,1\n1,2\n",
		"g-x.csv": "time,A,B\n0,1,2\n1,2,3\n", "g-y.csv": "time,A,B\n0,1,2\n1,2,3\n", "g-07.csv": "time,Q\n0,1\n1,2\n", "f-none.csv": "",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	hint := partsHint(filepath.Join(dir, "f-8hz.csv"), []string{"A", "B"}, nil)
	if !strings.HasSuffix(hint, `parts: ["-1hz.csv", "-8hz.csv"]`) || !strings.Contains(hint, `the same "f"`) {
		t.Errorf("the hint is %q", hint)
	}
	if hint := partsHint(filepath.Join(dir, "g-x.csv"), []string{"A", "B"}, nil); hint != "" {
		t.Errorf("two flights: %q", hint)
	}
	if hint := partsHint(filepath.Join(dir, "f-8hz.csv"), []string{"A", "B"}, []string{"-8hz.csv", "-1hz.csv"}); hint != "" {
		t.Errorf("the profile has them: %q", hint)
	}
}
