package ingest

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	arrowcsv "github.com/apache/arrow/go/v17/arrow/csv"

	"downlock/schemas"
)

// arrowCells reads a CSV file with Arrow's own reader: numbers where the profile
// maps a column to a numeric parameter, and texts elsewhere. nil is a blank cell.
func arrowCells(t *testing.T, text []byte, profile *schemas.Profile) (columns map[string][]any) {
	t.Helper()
	numeric := map[string]bool{profile.Time.Column: true}
	for name, sources := range profile.Columns {
		parameter, _ := schemas.LookupParameter(name)
		for _, s := range sources {
			numeric[s.Column] = parameter.Numeric()
		}
	}
	header, _, _ := strings.Cut(string(text), "\n")
	var fields []arrow.Field
	for _, name := range strings.Split(header, ",") {
		field := arrow.Field{Name: name, Type: arrow.BinaryTypes.String, Nullable: true}
		if numeric[name] {
			field.Type = arrow.PrimitiveTypes.Float64
		}
		fields = append(fields, field)
	}
	in := arrowcsv.NewReader(bytes.NewReader(text), arrow.NewSchema(fields, nil), arrowcsv.WithHeader(true), arrowcsv.WithChunk(1000), arrowcsv.WithNullReader(true, append([]string{""}, profile.InvalidTokens...)...))
	defer in.Release()
	columns = map[string][]any{}
	for in.Next() {
		for i, field := range fields {
			cells := in.Record().Column(i)
			for row := range cells.Len() {
				var cell any
				switch c := cells.(type) {
				case *array.Float64:
					cell = c.Value(row)
				case *array.String:
					cell = c.Value(row)
				}
				if cells.IsNull(row) {
					cell = nil
				}
				columns[field.Name] = append(columns[field.Name], cell)
			}
		}
	}
	if err := in.Err(); err != nil {
		t.Fatal(err)
	}
	return columns
}

// meant returns the canonical value of a cell: the profile's words, scale and unit
// at work a second time.
func meant(t *testing.T, s *Series, source schemas.Source, cell any) float64 {
	t.Helper()
	switch s.Parameter.Kind {
	case schemas.Discrete:
		if slices.Contains(source.TrueWhen, cell.(string)) {
			return 1
		}
		return 0
	case schemas.State:
		return float64(slices.Index(s.Parameter.States, source.States[cell.(string)]))
	}
	factor, err := schemas.UnitFactor(source.Unit, s.Parameter.Unit)
	if err != nil {
		t.Fatal(err)
	}
	return (cell.(float64)*source.Scale + source.Offset) * factor
}

// sameAsCells holds a series against the cells of its column: every sample is a
// cell, in order, and every other cell was dropped.
func sameAsCells(t *testing.T, profile *schemas.Profile, s *Series, times, cells []any) (samples int) {
	t.Helper()
	i := slices.IndexFunc(profile.Columns[s.Parameter.Name], func(x schemas.Source) bool { return x.Column == s.Column })
	next, filled := 0, 0
	for row, cell := range cells {
		if cell == nil {
			continue
		}
		filled++
		want := meant(t, s, profile.Columns[s.Parameter.Name][i], cell)
		got := math.NaN()
		if next < s.Len() {
			if s.Parameter.Numeric() {
				got = s.Numbers()[next]
			} else {
				got = float64(s.Codes()[next])
			}
		}
		if next < s.Len() && s.TimeValues()[next] == times[row].(float64) && math.Abs(got-want) <= 1e-12*math.Abs(want)+0.5e-9 { // converted numbers are rounded to 1e-9
			next++
		}
	}
	if next != s.Len() || filled-next != s.Dropped.Range+s.Dropped.Spike {
		t.Errorf("%s: %d of %d samples are cells of column %q, which has %d, %+v dropped", s.Parameter.Name, next, s.Len(), s.Column, filled, s.Dropped)
	}
	return next
}

func TestCSVAsArrowReadsIt(t *testing.T) {
	t.Parallel()
	th120, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	type file struct {
		path    string
		profile *schemas.Profile
	}
	files := []file{{filepath.Join("..", "testdata", "formats", "departure.csv"), th120}}
	for n := 1; n <= 8; n++ {
		profile := "profile.yaml"
		if n == 6 {
			profile = "profile-inverted.yaml"
		}
		files = append(files, file{filepath.Join("..", "testdata", "x100", fmt.Sprintf("flight-%d.csv.gz", n)), x100(t, profile)})
	}
	for _, f := range files {
		r, err := Read(f.path, f.profile)
		if err != nil {
			t.Fatal(err)
		}
		columns := arrowCells(t, plain(t, f.path), f.profile)
		samples := 0
		for _, s := range r.Series {
			samples += sameAsCells(t, f.profile, s, columns[f.profile.Time.Column], columns[s.Column])
		}
		if samples < 1000 || len(r.Series) < 20 {
			t.Errorf("%s: only %d samples of %d parameters were compared", f.path, samples, len(r.Series))
		}
	}
}

// The long file, read by Arrow as three columns of texts.
func TestLongCSVAsArrowReadsIt(t *testing.T) {
	t.Parallel()
	profile := x100(t, "profile.yaml")
	r := readX100(t, "flight-2-long.csv.gz", "profile.yaml")
	rows := arrowCells(t, plain(t, filepath.Join("..", "testdata", "x100", "flight-2-long.csv.gz")), profile)
	times, cells := map[string][]any{}, map[string][]any{}
	for i, name := range rows["parameter"] {
		column := name.(string)
		times[column] = append(times[column], rows["time_s"][i])
		cells[column] = append(cells[column], rows["value"][i])
	}
	for _, s := range r.Series {
		if s.Parameter.Numeric() {
			for i, text := range cells[s.Column] {
				v, err := strconv.ParseFloat(text.(string), 64)
				if err != nil {
					t.Fatal(err)
				}
				cells[s.Column][i] = v
			}
		}
		if n := sameAsCells(t, profile, s, times[s.Column], cells[s.Column]); n < 100 {
			t.Errorf("%s: only %d samples were compared", s.Parameter.Name, n)
		}
	}
}

// plain returns the text of a file, gzip taken off by the standard library.
func plain(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasSuffix(path, ".gz") {
		return data
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if data, err = io.ReadAll(z); err != nil {
		t.Fatal(err)
	}
	return data
}
