package archive

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// readByArrow reads a part with Arrow's own reader, each row as column=value.
func readByArrow(t *testing.T, dir, table, month string) []map[string]string {
	t.Helper()
	path := filepath.Join(dir, tablesFolder, table, "month="+month, "part.parquet")
	f, err := file.OpenParquetFile(path, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	reader, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	all, err := reader.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer all.Release()
	rows := make([]map[string]string, all.NumRows())
	for c := range int(all.NumCols()) {
		n := 0
		for _, chunk := range all.Column(c).Data().Chunks() {
			for i := range chunk.Len() {
				if rows[n] == nil {
					rows[n] = map[string]string{}
				}
				rows[n][all.Schema().Field(c).Name] = cell(chunk, i)
				n++
			}
		}
	}
	return rows
}

func cell(a arrow.Array, i int) string {
	if a.IsNull(i) {
		return "null"
	}
	return a.ValueStr(i)
}

// TestReadByArrow: another library reads every table, and the values are those
// the fixture was made with, rounded and bounded as the columns say.
func TestReadByArrow(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "2031-03 undated"}.write(t, t.TempDir())
	mustNight(t, dir, fixtureRun("1"), paths)
	sha, _ := fixtureResults(fixtureRun("1"), "", "2031-03 undated")
	flight := "F" + sha[:8] + "-1"
	for table, want := range map[string][]map[string]string{
		"flights": {{"recording": sha, "recording_name": "a.csv", "flight_id": flight, "number": "1", "aircraft": "TH-120", "version": "1",
			"packs":     fmt.Sprintf(`["builtin %s"]`, strings.Repeat("cd", 32)),
			"start_utc": "2031-03-02 12:00:10Z", "start_s": "10", "end_s": "5000", "lift_off_s": "100.123", "lift_off_earliest_s": "99.5",
			"lift_off_utc": "2031-03-02 12:01:40.123Z", "touchdown_s": "null", "touchdown_utc": "null", "begins_in_air": "false",
			"take_off_rolls": "2", "rejected_take_offs": "1", "lift_offs": "1", "gear_retractions": "0", "gear_extensions": "0", "touchdowns": "1",
			"landings": "0", "balked_landings": "0", "stays_on_ground": "false"}},
		"events": {{"recording": sha, "flight_id": flight, "rule": "gear_up_early", "rule_group": "Retraction", "severity": "high", "certainty": "possible",
			"phase": "initial climb", "moment": "false", "start_s": "200", "start_earliest_s": "10", "start_latest_s": "201", "end_latest_s": "206",
			"start_utc": "2031-03-02 12:03:20Z",
			"measures":  `[{"name":"height","unit":"ft","value":35.5},{"name":"speed","unit":"kt","value":null}]`}},
		"evaluations": {
			{"rule": "gear_up_early", "coverage": "partly evaluated", "events": "1", "scope_seconds": "4990", "unknown_seconds": "0", "missing": "[]",
				"opportunity": "lift-off", "opportunities": "1", "opportunities_evaluated": "1", "opportunities_partly": "0", "opportunities_not": "0", "opportunities_known": "1"},
			{"rule": "flap_late", "coverage": "partly evaluated", "unknown_seconds": "1", "fallbacks": `["airborne from radio altitude"]`,
				// 150 of the 200 s of one, and the other
				"opportunity": "approach", "opportunities": "2", "opportunities_evaluated": "1", "opportunities_partly": "1", "opportunities_not": "0", "opportunities_known": "1.75"}},
		"measurements": {
			{"measurement": "touchdown_speed", "value": "134", "opportunity": "touchdown", "opportunity_number": "1", "opportunity_begins_s": "1000", "opportunity_ends_s": "1210"},
			{"measurement": "touchdown_speed", "unit": "kt", "outcome": "measured", "value": "131", "lowest": "130", "highest": "null", "at_s": "4000",
				"opportunity": "touchdown", "opportunity_number": "2", "opportunity_begins_s": "3800", "opportunity_ends_s": "4010"},
			{"measurement": "transit_time", "outcome": "not evaluable", "value": "null", "at_utc": "null", "missing": `["gear_lever: not recorded"]`,
				"opportunity": "gear extension", "opportunity_number": "null", "opportunity_begins_s": "null", "opportunity_ends_s": "null"}},
		"audits": {{"warning": "gear horn", "due": "2", "sounded": "1", "due_seconds": "20.5", "missed": "2", "late": "1", "nuisance": "0", "switch_uses": "3"}},
	} {
		got := readByArrow(t, dir, table, "2031-03")
		if len(got) != len(want) {
			t.Errorf("%s: %d rows, want %d", table, len(got), len(want))
			continue
		}
		for i := range want {
			for column, value := range want[i] {
				if got[i][column] != value {
					t.Errorf("%s, row %d: %s is %s, want %s", table, i, column, got[i][column], value)
				}
			}
		}
	}
	if undated := readByArrow(t, dir, "flights", "unknown"); len(undated) != 1 || undated[0]["start_utc"] != "null" || undated[0]["number"] != "2" {
		t.Errorf("undated flights are %v", undated)
	}
}

// measurementsBefore are measurements as they were before one was made of each
// opportunity: one a flight.
type measurementsBefore struct {
	Recording      string    `parquet:"recording,dict"`
	FlightID       string    `parquet:"flight_id,dict"`
	Measurement    string    `parquet:"measurement,dict"`
	Unit           string    `parquet:"unit,dict"`
	Outcome        string    `parquet:"outcome,dict"`
	Certainty      string    `parquet:"certainty,dict"`
	Coverage       string    `parquet:"coverage,dict"`
	Value          *float64  `parquet:"value,optional"`
	Lowest         *float64  `parquet:"lowest,optional"`
	Highest        *float64  `parquet:"highest,optional"`
	AtUTC          time.Time `parquet:"at_utc,optional,timestamp(millisecond)"`
	AtS            *float64  `parquet:"at_s,optional"`
	UnknownSeconds float64   `parquet:"unknown_seconds"`
	Missing        []string  `parquet:"missing,list"`
	Fallbacks      []string  `parquet:"fallbacks,list"`
}

// A month written before is merged with a new recording: its rows stay as they
// were, without a number.
func TestMeasurementsFromBefore(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	folder := t.TempDir()
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03"}.write(t, folder))
	path := filepath.Join(dir, tablesFolder, schemas.MeasurementsTable, "month=2031-03", "part.parquet")
	rows, err := parquet.ReadFile[measurementsBefore](path)
	if err != nil {
		t.Fatal(err)
	}
	rows = slices.Delete(rows, 0, 1) // the last touchdown alone was kept
	var b bytes.Buffer
	w := parquet.NewGenericWriter[measurementsBefore](&b, parquet.KeyValueMetadata(versionKey, "1"))
	if _, err := w.Write(rows); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	withoutChecksums(t, dir)
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03", "b.csv": "2031-03 "}.write(t, folder))
	old, _ := fixtureResults(fixtureRun("1"), "", "2031-03")
	got := map[string][]string{}
	for _, row := range readByArrow(t, dir, schemas.MeasurementsTable, "2031-03") {
		who := "new"
		if row["recording"] == old {
			who = "old"
		}
		got[who] = append(got[who], row["measurement"]+" "+row["value"]+" "+row["opportunity"]+" "+row["opportunity_number"])
	}
	want := map[string][]string{
		"old": {"touchdown_speed 131 null null", "transit_time null null null"},
		"new": {"touchdown_speed 134 touchdown 1", "touchdown_speed 131 touchdown 2", "transit_time null gear extension null"},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
