package prune

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/demo"
	"downlock/cmd/downlock/scan"
)

// The demonstration flights of the TH-120 are of March to September 2031, and one
// has no date.
func TestPruneCommand(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	exports, fleet, reports := filepath.Join(dir, "demo"), filepath.Join(dir, "fleet"), filepath.Join(dir, "reports")
	var out, messages bytes.Buffer
	if code := demo.Command([]string{exports}, &out, &messages); code != command.ExitDone {
		t.Fatalf("demo: exit code %d, %s", code, messages.String())
	}
	if code := scan.Command([]string{"--quiet", "--archive", fleet, "--out", reports, exports}, &out, &messages); code != command.ExitDone {
		t.Fatalf("scan: exit code %d, %s", code, messages.String())
	}
	march := filepath.Join(reports, "tarnholm-04.csv.gz-flight-1", "report.html") // 8 March 2031
	april := filepath.Join(reports, "tarnholm-13.csv.gz-flight-1", "report.html") // 9 April 2031
	rows := filepath.Join(fleet, "tables", "events", "month=2031-03", "part.parquet")
	there := func(path string) bool { _, err := os.Stat(path); return err == nil }
	// Ninety days before 1 July are 2 April.
	now := time.Date(2031, 7, 1, 3, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		args               []string
		code               int
		says               string
		march, april, rows bool
	}{
		{[]string{"--older-than", "90d", "--reports", reports, "--dry-run"}, command.ExitDone, "would be removed", true, true, true},
		{[]string{"--older-than", "90d", "--archive", fleet, "--rows", "--dry-run"}, command.ExitDone, "1 month of rows would be removed", true, true, true},
		{[]string{"--older-than", "200d", "--reports", reports}, command.ExitDone, "0 flights removed", true, true, true},
		{[]string{"--older-than", "90d", "--reports", reports, "--archive", fleet}, command.ExitDone, "the index and its tables still list", false, true, true},
		{[]string{"--older-than", "90d", "--archive", fleet, "--rows"}, command.ExitDone, "1 month of rows removed", false, true, false},
		{[]string{"--older-than", "90d", "--reports", exports}, command.ExitOutput, "hint: name the folder given to scan as --out", false, true, false},
		{[]string{"--older-than", "90d", "--archive", exports, "--rows"}, command.ExitOutput, "is not an archive", false, true, false},
	} {
		out.Reset()
		messages.Reset()
		code := prune(c.args, now, &out, &messages)
		if code != c.code || !strings.Contains(messages.String(), c.says) {
			t.Errorf("%v: exit code %d, %s", c.args, code, messages.String())
		}
		if there(march) != c.march || there(april) != c.april || there(rows) != c.rows {
			t.Errorf("%v: March %v, April %v, rows %v", c.args, there(march), there(april), there(rows))
		}
	}
	if !there(filepath.Join(exports, "tarnholm-04.csv.gz")) {
		t.Error("the exports are gone")
	}
}

func TestParseDays(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]int{"90d": 90, "1d": 1, "36500d": 36500, "0d": 0, "-3d": 0, "90": 0, "d": 0, "3w": 0, "36501d": 0, "1.5d": 0, "": 0} {
		if days, ok := parseDays(text); ok != (want > 0) || ok && days != want {
			t.Errorf("%q is %d, %v", text, days, ok)
		}
	}
}
