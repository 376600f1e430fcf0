package trend

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"downlock/report"
	"downlock/report/trend/fleet"
	"downlock/schemas"
	"downlock/schemas/schematest"
)

// smallFleet is a fleet with enough of everything.
var smallFleet = fleet.Fleet{Seed: 4, Flights: 4_800, Months: 24, First: "2030-01", Aircraft: 6, Rules: 45}

// Every table is there as CSV, Parquet and JSON, with the same columns and rows,
// and JSON as the schemas say.
func TestTablesInEveryFormat(t *testing.T) {
	t.Parallel()
	tr := trendOf(t, smallFleet, Options{})
	dir := t.TempDir()
	if err := tr.Write(dir, false, false); err != nil {
		t.Fatal(err)
	}
	in, err := tr.parseIndicators("spi.yaml", []byte("schema: downlock indicators 1\nindicators:\n  - {id: cycled, rule: lever-cycled}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if err := tr.WriteIndicators(dir, in, tr.Judge(in), false, false); err != nil {
		t.Fatal(err)
	}
	valid(t, filepath.Join(dir, "trend.json"), schemas.TrendSchema)
	rows := map[string]int{"rates": len(tr.RateRows()), "comparisons": len(tr.ComparisonRows()), "measurements": len(tr.MeasurementRows()),
		"audits": len(tr.AuditRows()), "events": len(tr.EventRows()), "indicators": 24}
	for name, want := range rows {
		path := filepath.Join(dir, name)
		valid(t, path+".json", schemas.TrendTableSchema)
		fromJSON, fromCSV, fromParquet := jsonTable(t, path+".json"), csvTable(t, path+".csv"), parquetTable(t, path+".parquet")
		if want == 0 || len(fromCSV) != want+1 || len(fromJSON) != want || len(fromParquet.rows) != want {
			t.Errorf("%s: %d rows of CSV, %d of JSON, %d of Parquet; %d wanted", name, len(fromCSV)-1, len(fromJSON), len(fromParquet.rows), want)
		}
		// The CSV has the caution as one column more, in every row; the JSON as a field.
		last := len(fromCSV[0]) - 1
		if fromCSV[0][last] != "general_caution" || !strings.Contains(fromCSV[want][last], "no airworthiness decision") || !strings.Contains(fromParquet.caution, "no airworthiness decision") {
			t.Errorf("%s: no caution in %q, %q or Parquet's %q", name, fromCSV[0], fromCSV[want], fromParquet.caution)
		}
		fromCSV[0] = fromCSV[0][:last]
		if !slices.Equal(fromCSV[0], fromParquet.columns) {
			t.Errorf("%s: CSV has columns %v, Parquet %v", name, fromCSV[0], fromParquet.columns)
		}
		for i, row := range fromJSON {
			for k, column := range fromCSV[0] {
				text := asText(row[column])
				if _, has := row[column]; !has || text != plainest(fromCSV[i+1][k]) || text != fromParquet.rows[i][k] {
					t.Fatalf("%s row %d, %s: JSON %v, CSV %q, Parquet %q", name, i, column, row[column], fromCSV[i+1][k], fromParquet.rows[i][k])
				}
			}
		}
	}
}

func valid(t *testing.T, path, name string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := schematest.Validate(name, data); err != nil {
		t.Errorf("%s: %v", path, err)
	}
}

// asText writes a JSON value as the CSV does.
func asText(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return plainest(report.Guard(v))
	case json.Number:
		return plainest(v.String())
	case bool:
		return map[bool]string{true: "true", false: "false"}[v]
	}
	return "?"
}

func jsonTable(t *testing.T, path string) []map[string]any {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var table struct{ Rows []map[string]any }
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&table); err != nil {
		t.Fatal(err)
	}
	return table.Rows
}

func csvTable(t *testing.T, path string) [][]string {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

type textTable struct {
	columns []string
	rows    [][]string
	caution string // of the metadata
}

// parquetTable reads a file without knowing its rows.
func parquetTable(t *testing.T, path string) (out textTable) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	file, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out.caution, _ = file.Lookup("downlock.caution")
	for _, column := range file.Schema().Columns() {
		out.columns = append(out.columns, strings.Join(column, "."))
	}
	for _, group := range file.RowGroups() {
		reader := group.Rows()
		buffer := make([]parquet.Row, 100)
		for {
			n, err := reader.ReadRows(buffer)
			for _, row := range buffer[:n] {
				cells := make([]string, len(row))
				for i, v := range row {
					cells[i] = parquetText(v)
				}
				out.rows = append(out.rows, cells)
			}
			if err != nil || n == 0 {
				break
			}
		}
		reader.Close()
	}
	return out
}

func parquetText(v parquet.Value) string {
	switch {
	case v.IsNull():
		return ""
	case v.Kind() == parquet.ByteArray:
		return plainest(report.Guard(string(v.ByteArray())))
	case v.Kind() == parquet.Boolean:
		return map[bool]string{true: "true", false: "false"}[v.Boolean()]
	}
	return plainest(v.String())
}

// plainest writes a number in one way, whatever way it is written in; other text
// as it is.
func plainest(text string) string {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
