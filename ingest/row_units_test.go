package ingest

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/ingest/export"
	"downlock/schemas"
)

// unitProfile is a profile of a long export with a column of units.
func unitProfile(t testing.TB, columns string) *schemas.Profile {
	t.Helper()
	text := "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\n" +
		"long: {parameter: parameter, value: value, unit: unit}\ninvalid_tokens: [-999]\ncolumns:\n" + columns
	p, err := schemas.ParseProfile("test.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// 0.3048 m are 1 ft by definition, so 304.8 m are 1000 ft; 1.852 km/h are 1 kt.
func TestUnitsOfRows(t *testing.T) {
	t.Parallel()
	profile := unitProfile(t, "  computed_airspeed: {column: CAS}\n  pressure_altitude: {column: ALT}\n  weight_on_wheels: {column: WOW, true_when: 1}\n  mach: {column: M, unit: '1'}\n")
	text := "time,parameter,value,unit\n0,ALT,1000,Feet\n0,CAS,185.2,km/h\n0,WOW,1,\n0,M,0.5,-\n1,ALT,335.28,m\n1,CAS,203.72,kmh\n2,ALT,1200,ft\n2,ALT,,\n3,ALT,-999,\n3,M,0.51,\n"
	want := samples{"computed_airspeed": {{0, 100}, {1, 110}}, "pressure_altitude": {{0, 1000}, {1, 1100}, {2, 1200}}, "weight_on_wheels": {{0, 1}}, "mach": {{0, 0.5}, {3, 0.51}}}
	r := read(t, text, profile)
	if d := cmp.Diff(want, samplesOf(r), cmpopts.EquateApprox(1e-12, 0)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(r.Notes) != 1 || !strings.Contains(r.Notes[0], `column "ALT" is in ft and in m`) {
		t.Errorf("notes %q", r.Notes)
	}
	// A row of units above a wide export states them too.
	wide := read(t, "time,CAS,ALT\ns,km/h,ft\n0,185.2,1000\n", profile)
	if d := cmp.Diff(samples{"computed_airspeed": {{0, 100}}, "pressure_altitude": {{0, 1000}}}, samplesOf(wide), cmpopts.EquateApprox(1e-12, 0)); d != "" {
		t.Errorf("wide (-want +got):\n%s", d)
	}
}

func TestUnitsOfRowsInParquet(t *testing.T) {
	t.Parallel()
	times := []float64{0, 1, 2}
	table := export.Table{TimeName: "time", Columns: []export.Column{
		{Name: "parameter", Times: times, Texts: []string{"ALT", "ALT", "ALT"}},
		{Name: "value", Times: times, Numbers: []float64{1000, 335.28, 1200}, Decimals: 2},
		{Name: "unit", Times: times, Texts: []string{"ft", "m", "ft"}},
	}}
	for _, layout := range []export.Layout{export.WideParquet, export.WideArrow} { // of columns that make it long
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: layout}, table); err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("f", b.Bytes(), unitProfile(t, "  pressure_altitude: {column: ALT}\n"))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(samples{"pressure_altitude": {{0, 1000}, {1, 1100}, {2, 1200}}}, samplesOf(r), cmpopts.EquateApprox(1e-12, 0)); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
		_, err = ReadBytes("f", b.Bytes(), unitProfile(t, "  pressure_altitude: {column: ALT, unit: ft}\n"))
		if err == nil || !strings.Contains(err.Error(), `row 2, column "unit": column "ALT" is in m here, but the profile says ft`) {
			t.Errorf("got %v", err)
		}
	}
}

func TestWrongUnitsOfRows(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, columns, text string
		line, column        int
		cause, hint         string
	}{
		{"unknown", "  pressure_altitude: {column: ALT}\n", "time,parameter,value,unit\n0,ALT,1,ft\n1,ALT,2,cubit\n", 3, 9, `unknown unit "cubit"`, "mistyped"},
		{"unknown in the first row", "  pressure_altitude: {column: ALT}\n", "time,parameter,value,unit\n0,ALT,1,cubit\n", 2, 9, `unknown unit "cubit"`, "give it in the profile"},
		{"of another quantity", "  pressure_altitude: {column: ALT}\n", "time,parameter,value,unit\n0,ALT,1,kt\n", 2, 9, "kt is a speed and cannot become ft", ""},
		{"missing", "  pressure_altitude: {column: ALT}\n", "time,parameter,value,unit\n0,ALT,1,\n", 2, 7, "no unit in this row", "add unit"},
		{"other than the profile's", "  pressure_altitude: {column: ALT, unit: ft}\n", "time,parameter,value,unit\n0,ALT,1,ft\n1,ALT,2,m\n", 3, 9, "is in m here, but the profile says ft", "remove unit"},
		{"none at all", "  pressure_altitude: {column: ALT}\n", "time,parameter,value\n0,ALT,1\n", 0, 0, `column "ALT" has no unit`, "add unit to pressure_altitude"},
		{"a wide export", "  pressure_altitude: {column: ALT}\n", "time,ALT\n0,1\n", 0, 0, `column "ALT" has no unit`, "add unit to pressure_altitude"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadBytes("test.csv", []byte(tt.text), unitProfile(t, tt.columns))
			var all schemas.Problems
			if !errors.As(err, &all) || len(all) != 1 {
				t.Fatalf("got %v, want one problem", err)
			}
			if p := all[0]; p.Line != tt.line || p.Column != tt.column || !strings.Contains(p.Cause, tt.cause) || !strings.Contains(p.Hint, tt.hint) {
				t.Errorf("%v (%s), want %d:%d, %q and %q", err, p.Hint, tt.line, tt.column, tt.cause, tt.hint)
			}
		})
	}
}

func FuzzUnitsOfRows(f *testing.F) {
	for _, text := range []string{"time,parameter,value,unit\n0,ALT,1,ft\n1,ALT,2,m\n", "time,parameter,value,unit\n0,CAS,1,-\n0,ALT,,(kt)\n-5,ALT,3,m\n", "time,ALT\ns,ft\n0,1\n"} {
		f.Add([]byte(text))
	}
	profile := unitProfile(f, "  computed_airspeed: {column: CAS}\n  pressure_altitude: {column: ALT}\n  mach: {column: ALT, unit: '1'}\n")
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, "CSV", func() (*Recording, error) { return ReadBytes("f.csv", data, profile) })
	})
}
