package trend

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strconv"

	"github.com/parquet-go/parquet-go"

	pages "downlock/ingest/parquet"
	"downlock/report"
	"downlock/report/output"
	"downlock/schemas"
)

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// tableFiles writes rows as NAME.csv, NAME.parquet and NAME.json, with the same
// columns; the CSV has the caution as one more, the last.
func tableFiles[T any](name string, rows []T) ([]output.File, error) {
	var b bytes.Buffer
	w := parquet.NewGenericWriter[T](&b, parquet.CreatedBy("downlock", "", ""), parquet.KeyValueMetadata(schemas.CautionKey, schemas.Caution), parquet.Compression(pages.Zstd))
	if _, err := w.Write(rows); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	data, err := jsonOf(name, rows)
	return []output.File{{Name: name + ".csv", Data: csvOf(rows)}, {Name: name + ".parquet", Data: b.Bytes()}, {Name: name + ".json", Data: data}}, err
}

// jsonOf writes a table after schemas/trend-table.schema.json, a row a line.
func jsonOf[T any](name string, rows []T) ([]byte, error) {
	var b bytes.Buffer
	said, err := json.Marshal(cautions())
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "{\"schema\": \"downlock trend table 1\", \"table\": %q, \"cautions\": %s, \"rows\": [", name, said)
	for i := range rows {
		row, err := json.Marshal(&rows[i])
		if err != nil {
			return nil, err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
		b.Write(row)
	}
	b.WriteString("\n]}\n")
	return b.Bytes(), nil
}

// csvOf writes the header and rows as RFC 4180 asks, lines ended by CR LF.
func csvOf[T any](rows []T) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	var header []string
	for _, c := range parquet.SchemaOf(new(T)).Columns() {
		header = append(header, c[0])
	}
	columns := len(header)
	header = append(header, schemas.CautionColumn)
	// A bytes.Buffer takes every write, so none can fail.
	_ = w.Write(header)
	cells := make([]string, len(header))
	cells[columns] = schemas.Caution
	for i := range rows {
		value := reflect.ValueOf(&rows[i]).Elem()
		for k := range columns {
			cells[k] = cell(value.Field(k))
		}
		_ = w.Write(cells)
	}
	w.Flush()
	return b.Bytes()
}

func cell(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return ""
		}
		return cell(v.Elem())
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'g', -1, 64)
	case reflect.Int64:
		return strconv.FormatInt(v.Int(), 10)
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	}
	return report.Guard(report.Clean(v.String()))
}
