package ingest

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"downlock/ingest/export"
	"downlock/schemas"
)

// matOf is a MATLAB export of columns, each of so many samples at a rate, counting up from 0.
func matOf(t *testing.T, columns ...export.Column) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := export.Write(&out, export.Format{Layout: export.MATLAB}, export.Table{Columns: columns}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func countingColumn(name, unit string, rate float64, n int) export.Column {
	c := export.Column{Name: name, Unit: unit}
	for i := range n {
		c.Times, c.Numbers = append(c.Times, float64(i)/rate), append(c.Numbers, float64(i))
	}
	return c
}

// The rows of a MATLAB export are the samples of the parameter sampled most often, the first of
// several; the cells are those of each.
func TestRawMAT(t *testing.T) {
	t.Parallel()
	data := matOf(t, countingColumn("SLOW", "FEET", 1, 2), countingColumn("FAST", "", 2, 3), countingColumn("AS FAST", "KNOTS", 2, 2))
	raw, err := OpenRawBytes("f.mat", data)
	if err != nil {
		t.Fatal(err)
	}
	var columns []string
	for _, c := range raw.Columns {
		columns = append(columns, c.Name+" "+c.Unit)
	}
	got := walked(t, raw)
	want := `SLOW@0 "" 0 | SLOW@1 "" 1 | 0 | FAST@0 "" 0 | 0.5 | FAST@0.5 "" 1 | 1 | FAST@1 "" 2 | ` + raw.Columns[2].Name + `@0 "" 0 | ` + raw.Columns[2].Name + `@0.5 "" 1`
	if got != want || strings.Join(columns, ", ") != "SLOW FEET, FAST , "+raw.Columns[2].Name+" KNOTS" || raw.Format != "MATLAB 5" || raw.Time.Form != "rate of each parameter" || len(raw.Time.Evidence) != 1 {
		t.Errorf("columns %q, %s\ngot  %s\nwant %s", columns, raw.Format, got, want)
	}
	if _, err := OpenRawBytes("f.mat", matOf(t)); err == nil || !strings.Contains(problemsOf(t, err)[0].Cause, "holds no parameter with samples") {
		t.Errorf("an empty file: %v", err)
	}
	// The circuit has a clock: 10:57:30 at second 0.
	if data, err = os.ReadFile(filepath.Join("..", "testdata", "mat", "circuit.mat")); err != nil {
		t.Fatal(err)
	}
	if raw, err = OpenRawBytes("circuit.mat", data); err != nil {
		t.Fatal(err)
	}
	if utc := raw.Time.UTC; utc.Hour != "GMT_HOUR" || utc.Minute != "GMT_MINUTE" || utc.Second != "GMT_SEC" {
		t.Errorf("clock %+v", utc)
	}
	if err := raw.Walk(nobody{}); err != nil || !raw.Epoch.IsZero() && raw.Epoch.Format(time.TimeOnly) != "10:57:30" {
		t.Errorf("%v, begins at %v", err, raw.Epoch)
	}
	begin := time.Date(2031, 3, 4, 10, 57, 30, 0, time.UTC)
	if raw, err = OpenRawBytes("f.mat", clockFile(t, begin, 60, 1, 0.25)); err != nil {
		t.Fatal(err)
	}
	if err := raw.Walk(nobody{}); err != nil || !raw.Epoch.Equal(begin) || len(raw.Notes) != 0 {
		t.Errorf("%v, begins at %v, notes %q", err, raw.Epoch, raw.Notes)
	}
	if raw, err = OpenRawBytes("f.mat", clockFile(t, begin, 60, 1, 0)); err != nil {
		t.Fatal(err)
	}
	if err := raw.Walk(nobody{}); err != nil || !slices.Equal(raw.Notes, []string{"the recording begins at 10:57:30 UTC; its date is not recorded"}) {
		t.Errorf("%v, notes %q", err, raw.Notes)
	}
}

func TestUTCParametersByName(t *testing.T) {
	t.Parallel()
	for names, want := range map[string]schemas.UTCParameters{
		"GMT_HOUR GMT_MIN GMT_SEC":                                    {Hour: "GMT_HOUR", Minute: "GMT_MIN", Second: "GMT_SEC"},
		"UtcHours UtcMinutes UtcSeconds DateYear DATE_MONTH date_day": {Hour: "UtcHours", Minute: "UtcMinutes", Second: "UtcSeconds", Year: "DateYear", Month: "DATE_MONTH", Day: "date_day"},
		"GMT_HOUR GMT_MIN":                                            {},
		"GMT_MIN GMT_SEC":                                             {},
		"GMT_HOUR GMT_SEC":                                            {},
		"HOUR MINUTE SECOND":                                          {},
		"GMT_HOUR GMT_HOUR_2 GMT_MIN GMT_SEC GMT_SEC_2":               {Hour: "GMT_HOUR", Minute: "GMT_MIN", Second: "GMT_SEC"},
		"GMT_HOUR FLIGHT_DAY GMT_MIN GMT_SEC":                         {Hour: "GMT_HOUR", Minute: "GMT_MIN", Second: "GMT_SEC"},
	} {
		var columns []RawColumn
		for _, name := range strings.Fields(names) {
			columns = append(columns, RawColumn{Name: name})
		}
		if got := utcParameters(columns); got != want {
			t.Errorf("%s: %+v", names, got)
		}
	}
}

// A rate of 10,000 a second is read, more is not.
func TestMATRates(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "utc: {hour: GMT_HOUR, minute: GMT_MINUTE, second: GMT_SEC}", "  pressure_altitude: {column: ALT, unit: ft}\n")
	bits := func(x float64) []byte { return binary.LittleEndian.AppendUint64(nil, math.Float64bits(x)) }
	packed := matOf(t, countingColumn("ALT", "FEET", 8, 3))
	z, err := zlib.NewReader(bytes.NewReader(packed[136:])) // behind the header and the mark of packed data
	if err != nil {
		t.Fatal(err)
	}
	plain, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	data := append(packed[:128:128], plain...)
	if n := bytes.Count(data, bits(8)); n != 1 {
		t.Fatalf("the rate stands in the file %d times", n)
	}
	wrong := `variable "ALT" field Rate is not a number of samples a second between 0 and 10000`
	for rate, want := range map[float64]string{10_000: "", 10_000.5: wrong, 0.001: "", 0: wrong, -1: wrong, math.NaN(): wrong} {
		_, err := ReadBytes("f.mat", bytes.Replace(data, bits(8), bits(rate), 1), profile)
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%v: %v, want %q", rate, err, want)
		}
	}
}

// The beginning most samples allow: the latest of those within less than a second, the first
// such group of several.
func TestCommonBeginning(t *testing.T) {
	t.Parallel()
	const ms = time.Millisecond
	for _, c := range []struct {
		votes  []time.Duration
		begin  time.Duration
		agreed int
	}{
		{nil, 0, 0}, {[]time.Duration{5 * ms}, 5 * ms, 1}, {[]time.Duration{999 * ms, 0}, 999 * ms, 2}, {[]time.Duration{1000 * ms, 0}, 0, 1},
		{[]time.Duration{0, 500 * ms, 1200 * ms, 1400 * ms}, 1400 * ms, 3}, {[]time.Duration{0, 100 * ms, 2000 * ms, 2100 * ms}, 100 * ms, 2},
	} {
		if begin, agreed := commonBeginning(slices.Clone(c.votes)); begin != c.begin || agreed != c.agreed {
			t.Errorf("%v: %v by %d, want %v by %d", c.votes, begin, agreed, c.begin, c.agreed)
		}
	}
}

// The clock is read where every part is a whole number in its range; a year of two digits
// is no date.
func TestMATClockParts(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "utc: {year: Y, month: MO, day: D, hour: H, minute: MI, second: S}", "  pressure_altitude: {column: ALT, unit: ft}\n")
	none := "the UTC clock has no valid time"
	for _, c := range []struct {
		parts [6]float64 // throughout
		epoch string
		note  string
	}{
		{[6]float64{2031, 3, 4, 10, 57, 30}, "2031-03-04 10:57:30", ""},
		{[6]float64{1970, 1, 1, 0, 0, 0}, "1970-01-01 00:00:00", ""},
		{[6]float64{1969, 12, 31, 10, 57, 30}, "", "the recording begins at 10:57:30 UTC"},
		{[6]float64{31, 3, 4, 10, 57, 30}, "", "the recording begins at 10:57:30 UTC"},
		{[6]float64{2031, 0, 4, 10, 57, 30}, "", "the recording begins at 10:57:30 UTC"},
		{[6]float64{2031, 13, 4, 10, 57, 30}, "", "the recording begins at 10:57:30 UTC"},
		{[6]float64{2031, 12, 0, 10, 57, 30}, "", "the recording begins at 10:57:30 UTC"},
		{[6]float64{2031, 12, 31, 23, 59, 60}, "2032-01-01 00:00:00", ""}, // a leap second
		{[6]float64{2031, 3, 4, 24, 57, 30}, "", none},
		{[6]float64{2031, 3, 4, 10, 60, 30}, "", none},
		{[6]float64{2031, 3, 4, 10, 57, 61}, "", none},
		{[6]float64{2031, 3, 4, -1, 57, 30}, "", none},
	} {
		columns := []export.Column{countingColumn("ALT", "FEET", 1, 1)}
		for i, name := range []string{"Y", "MO", "D", "H", "MI", "S"} {
			columns = append(columns, export.Column{Name: name, Times: []float64{0}, Numbers: []float64{c.parts[i]}})
		}
		r, err := ReadBytes("f.mat", matOf(t, columns...), profile)
		if err != nil {
			t.Errorf("%v: %v", c.parts, err)
			continue
		}
		epoch, notes := "", strings.Join(r.Notes, "; ")
		if !r.Epoch.IsZero() {
			epoch = r.Epoch.Format(time.DateTime)
		}
		if epoch != c.epoch || !strings.HasPrefix(notes, c.note) || (c.note == "") != (notes == "") {
			t.Errorf("%v: begins %s, notes %q; want %s, %q", c.parts, epoch, notes, c.epoch, c.note)
		}
	}
}
