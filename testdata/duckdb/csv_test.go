package duckdb

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"
)

// DuckDB reads every CSV without being told how, finds the column of the caution last and
// filled in every row, and numbers as numbers.
func TestCSVIsReadWithItsCaution(t *testing.T) {
	dir := scan(t)
	t.Chdir(dir)
	if out, err := exec.Command("./downlock", "trend", "-q", "--archive", "fleet", "--out", "trends", "--months", "1").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	db := open(t)
	for path, number := range map[string]string{
		"reports/events.csv": "start_s", "reports/measurements.csv": "unknown_s", "trends/rates.csv": "events", "trends/comparisons.csv": "p",
		"trends/measurements.csv": "values", "trends/audits.csv": "due_seconds", "trends/events.csv": "further_events",
	} {
		t.Run(filepath.Base(path), func(t *testing.T) {
			rows := ask(t, db, fmt.Sprintf(`SELECT count(*), count(*) FILTER (WHERE general_caution LIKE '%%no airworthiness decision%%'), any_value(typeof(%q)) FROM '%s'`, number, path))
			if kind := fmt.Sprint(rows[0][2]); fmt.Sprint(rows[0][0]) == "0" || fmt.Sprint(rows[0][0]) != fmt.Sprint(rows[0][1]) || kind != "DOUBLE" && kind != "BIGINT" {
				t.Errorf("%s: rows, those with the caution, type of %s: %v", path, number, rows[0])
			}
		})
	}
}
