package ingest

import (
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"downlock/schemas"
)

// twin reads a well-formed wide CSV export the plain way: encoding/csv,
// strconv, a map. It knows numbers in the canonical unit, the states UP and DN,
// 1 and 0, and the token ----.
func twin(text string, delimiter rune, point string) (samples, error) {
	in := csv.NewReader(strings.NewReader(text))
	in.Comma = delimiter
	rows, err := in.ReadAll()
	if err != nil {
		return nil, err
	}
	out := samples{}
	for i, column := range rows[0] {
		name := map[string]string{"CAS": "computed_airspeed", "ALT": "pressure_altitude", "LEVER": "gear_lever", "WOW": "weight_on_wheels"}[column]
		if name == "" {
			continue
		}
		list := [][2]float64{}
		parameter, _ := schemas.LookupParameter(name)
		for _, row := range rows[1:] {
			at, err := strconv.ParseFloat(strings.ReplaceAll(row[slices.Index(rows[0], "time")], point, "."), 64)
			if err != nil {
				return nil, err
			}
			cell := row[i]
			if cell == "" || cell == "----" {
				continue
			}
			value, known := map[string]float64{"UP": 0, "DN": 2}[cell]
			if !known {
				if value, err = strconv.ParseFloat(strings.ReplaceAll(cell, point, "."), 64); err != nil {
					return nil, err
				}
			}
			if parameter.Numeric() && (value < parameter.Range[0] || value > parameter.Range[1]) {
				continue
			}
			list = append(list, [2]float64{at, value})
		}
		out[name] = dropSpikesPlainly(list, parameter.MaxRate)
	}
	return out, nil
}

// dropSpikesPlainly builds the kept list one by one.
func dropSpikesPlainly(list [][2]float64, rate float64) [][2]float64 {
	kept := [][2]float64{}
	for i, s := range list {
		if rate > 0 && len(kept) > 0 && i+1 < len(list) {
			before, after := kept[len(kept)-1], list[i+1]
			fast := func(a, b [2]float64) bool { return math.Abs(b[1]-a[1]) > rate*(b[0]-a[0]) }
			turns := (s[1] > before[1]) == (s[1] > after[1])
			if turns && fast(before, s) && fast(s, after) && !fast(before, after) {
				continue
			}
		}
		kept = append(kept, s)
	}
	return kept
}

func drawCSV(t *rapid.T, delimiter, point string) string {
	columns := rapid.Permutation([]string{"time", "CAS", "ALT", "LEVER", "WOW", "X1", "X2", "X3", "X4", "X5", "X6", "X7", "X8", "X9"}).Draw(t, "columns")
	var b strings.Builder
	b.WriteString(strings.Join(columns, delimiter) + "\n")
	quoted := func(text string) string {
		if rapid.IntRange(0, 9).Draw(t, "quote") == 0 {
			return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
		}
		return text
	}
	for row := range rapid.IntRange(1, 30).Draw(t, "rows") {
		for i, column := range columns {
			if i > 0 {
				b.WriteString(delimiter)
			}
			cell := ""
			switch full := rapid.IntRange(0, 2).Draw(t, "full") == 0; {
			case column == "time":
				cell = fmt.Sprintf("%d%s%03d", row, point, rapid.IntRange(0, 999).Draw(t, "ms"))
			case !full:
			case column == "CAS" || column == "ALT":
				cell = rapid.StringMatching(`-?[0-9]{1,5}(\.[0-9]{1,3})?|----`).Draw(t, "number")
				cell = strings.ReplaceAll(cell, ".", point)
			case column == "LEVER":
				cell = rapid.SampledFrom([]string{"UP", "DN", "----"}).Draw(t, "lever")
			case column == "WOW":
				cell = rapid.SampledFrom([]string{"0", "1", "----"}).Draw(t, "wow")
			default:
				cell = quotedNote(t, delimiter)
			}
			if strings.HasPrefix(cell, `"`) {
				b.WriteString(cell)
			} else {
				b.WriteString(quoted(cell))
			}
		}
		b.WriteString("\n")
	}
	return b.String()
}

// quotedNote draws an unread cell: text around the bytes of the delimiters,
// quoted where it holds one.
func quotedNote(t *rapid.T, delimiter string) string {
	note := rapid.StringMatching(`[+,\-;:\x01a-z 0-9é"]{1,12}`).Draw(t, "note")
	if strings.ContainsAny(note, delimiter+`"`) {
		return `"` + strings.ReplaceAll(note, `"`, `""`) + `"`
	}
	return note
}

func TestTwin(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	rapid.Check(t, func(rt *rapid.T) {
		dialect := rapid.SampledFrom([][2]string{{",", "."}, {";", ","}, {"\t", "."}, {";", "."}}).Draw(rt, "dialect")
		text := drawCSV(rt, dialect[0], dialect[1])
		want, err := twin(text, rune(dialect[0][0]), dialect[1])
		if err != nil {
			rt.Fatalf("the twin cannot read %q: %v", text, err)
		}
		r, err := ReadBytes("f", []byte(text), profile)
		if err != nil {
			rt.Fatalf("%v\n%s", err, text)
		}
		if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
			rt.Fatalf("(-twin +ours):\n%s\n%s", diff, text)
		}
	})
}

// The benchmark's bytes, read both ways, give the same numbers.
func TestTwinOnTheBenchmark(t *testing.T) {
	t.Parallel()
	data, profile := benchRecording()
	r, err := ReadBytes("bench.csv", data, profile)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range r.Series {
		if !s.Parameter.Numeric() || s.Dropped.Total() > 0 {
			continue
		}
		column, n := slices.Index(rows[0], s.Column), 0
		for _, row := range rows[1:] {
			if row[column] == "" {
				continue
			}
			at, _ := strconv.ParseFloat(row[0], 64)
			v, _ := strconv.ParseFloat(row[column], 64)
			if n >= s.Len() || s.TimeValues()[n] != at || s.Numbers()[n] != v {
				t.Fatalf("%s: sample %d is not %v at %v", s.Parameter.Name, n, v, at)
			}
			n++
		}
		if n != s.Len() || n == 0 {
			t.Errorf("%s: %d samples, encoding/csv finds %d", s.Parameter.Name, s.Len(), n)
		}
	}
}
