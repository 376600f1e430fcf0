package report

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"downlock/report/output"
)

// The tables of a run are those of its flights one after another, under one
// header; where one of those was changed since, none is written.
func TestIndexTables(t *testing.T) {
	t.Parallel()
	dir, run := t.TempDir(), fixtureRun(t)
	flights := fixtureEntries(t, dir, run)
	if err := WriteIndex(dir, run, flights, nil); err != nil {
		t.Fatal(err)
	}
	before := readAll(t, dir)
	for _, name := range []string{"events.csv", "measurements.csv"} {
		_, first, _ := strings.Cut(string(before["north-07.csv-flight-1/"+name]), "\r\n")
		_, second, _ := strings.Cut(string(before["north-08.csv-flight-1/"+name]), "\r\n")
		_, all, _ := strings.Cut(string(before[name]), "\r\n")
		if first == "" || second == "" || all != first+second {
			t.Errorf("%s is\n%s\nthose of the flights are\n%s\n%s", name, all, first, second)
		}
	}
	for what, change := range map[string]func(path string) error{
		"changed": func(path string) error { return os.WriteFile(path, []byte("event_id\r\n"), 0o600) },
		"gone":    os.Remove,
	} {
		path := filepath.Join(dir, "north-08.csv-flight-1", "events.csv")
		if err := change(path); err != nil {
			t.Fatal(err)
		}
		var failed *output.Error
		if err := WriteIndex(dir, run, flights, nil); !errors.As(err, &failed) || failed.Path != path {
			t.Errorf("%s: the error is %v", what, err)
		}
		after := readAll(t, dir)
		for name, data := range before {
			if !strings.HasPrefix(name, "north-08") && string(after[name]) != string(data) {
				t.Errorf("%s: %s is another", what, name)
			}
		}
		for name := range after {
			if _, was := before[name]; !was {
				t.Errorf("%s: %s is left", what, name)
			}
		}
	}
}
