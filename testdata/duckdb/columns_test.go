package duckdb

import (
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// numbersOf reads the numbers of a column of a plain export with another reader.
func numbersOf(t *testing.T, path, column string) (times, values []float64) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	plain, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(plain).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for at, name := range rows[0] {
		if name != column {
			continue
		}
		for _, row := range rows[1:] {
			v, err := strconv.ParseFloat(row[at], 64)
			if err != nil {
				continue
			}
			second, err := strconv.ParseFloat(row[0], 64)
			if err != nil {
				t.Fatal(err)
			}
			times, values = append(times, second), append(values, v)
		}
	}
	if len(values) == 0 {
		t.Fatalf("%s has no column %q", path, column)
	}
	return times, values
}

// TestColumns has DuckDB read what `downlock columns` writes: the query of its help runs, and
// samples, states, times and metadata are those of the export as encoding/csv reads it.
func TestColumns(t *testing.T) {
	dir := t.TempDir()
	program, file := filepath.Join(dir, "downlock"), filepath.Join(dir, "tarnholm-08.parquet")
	export := filepath.Join(repository, "testdata", "demo", "tarnholm-08.csv.gz")
	var help []byte
	for _, args := range [][]string{
		{"go", "build", "-o", program, "./cmd/downlock"},
		{program, "columns", "testdata/demo/tarnholm-08.csv.gz", "--out", file},
		{program, "columns", "--help"},
	} {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = repository
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %v: %s", args, err, out)
		}
		help = out
	}
	db := open(t)

	_, query, _ := strings.Cut(string(help), "  DuckDB  ")
	query, _, ok := strings.Cut(query, "\n          SELECT decode(")
	if !ok {
		t.Fatalf("no query in %s", help)
	}
	times, speeds := numbersOf(t, export, "airspeed")
	least, most := math.Inf(1), math.Inf(-1)
	for _, v := range speeds {
		least, most = min(least, v), max(most, v)
	}
	want := fmt.Sprint([]any{"computed_airspeed", "kt", len(speeds), least, most})
	found := false
	for _, row := range ask(t, db, strings.ReplaceAll(query, "'tarnholm-08.parquet'", "'"+file+"'")) {
		found = found || fmt.Sprint(row) == want
	}
	if !found {
		t.Errorf("the query of the help has no row %s", want)
	}

	rows := ask(t, db, "SELECT time_s, value, epoch_us(time_utc) - epoch_us(TIMESTAMP '2031-03-24') FROM '"+file+"' WHERE parameter = 'computed_airspeed'")
	if len(rows) != len(speeds) {
		t.Fatalf("%d samples, want %d", len(rows), len(speeds))
	}
	first := rows[0][2].(int64)
	for i, row := range rows {
		if row[0].(float64) != times[i] || row[1].(float64) != speeds[i] {
			t.Fatalf("sample %d: %v, want %v at %v", i, row, speeds[i], times[i])
		}
		if since := row[2].(int64); since < 0 || since-first != int64(math.Round((times[i]-times[0])*1e6)) {
			t.Fatalf("sample %d: UTC %d µs after midnight", i, since)
		}
	}

	_, struts := numbersOf(t, export, "nose strut") // 1: compressed
	compressed := 0
	for _, v := range struts {
		compressed += int(v)
	}
	for query, want := range map[string]string{
		"SELECT count(*) FROM '%s' WHERE parameter = 'nose_strut_compressed' AND state = 'true' AND value = 1":                                          fmt.Sprint(compressed),
		"SELECT count(DISTINCT state) FROM '%s' WHERE parameter = 'gear_lever'":                                                                         "3",
		"SELECT typeof(time_utc) || typeof(value) || typeof(stretch) FROM '%s' LIMIT 1":                                                                 "TIMESTAMP WITH TIME ZONEDOUBLEINTEGER",
		"SELECT count(*) FROM '%s' WHERE distrusted IS NOT NULL":                                                                                        "0",
		"SELECT decode(value)::JSON ->> '$.stretches[0].parameters[0].parameter' FROM parquet_kv_metadata('%s') WHERE decode(key) = 'downlock.columns'": "computed_airspeed",
	} {
		if got := ask(t, db, fmt.Sprintf(query, file)); fmt.Sprint(got[0][0]) != want {
			t.Errorf("%s: %v, want %s", query, got[0][0], want)
		}
	}
}
