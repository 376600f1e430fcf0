package ingest

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"downlock/schemas"
)

// testColumns maps a few parameters of each kind.
const testColumns = `
  computed_airspeed: {column: CAS, unit: kt}
  pressure_altitude: {column: ALT, unit: ft}
  gear_lever: {column: LEVER, states: {UP: UP, DN: DOWN}}
  weight_on_wheels: {column: WOW, true_when: 1}
`

// profileOf makes a profile whose time and long entries and columns are given.
func profileOf(t testing.TB, time, columns string) *schemas.Profile {
	t.Helper()
	text := "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\n" +
		"time: {" + time + "}\nlong: {parameter: parameter, value: value}\ninvalid_tokens: [bad, -999]\ncolumns:\n" + columns
	p, err := schemas.ParseProfile("test.yaml", []byte(text))
	if err != nil {
		t.Fatalf("profile: %v", err)
	}
	return p
}

// samples are the times and values of a series, by parameter; a discrete or
// state has its codes.
type samples map[string][][2]float64

func samplesOf(r *Recording) samples {
	out := samples{}
	for _, s := range r.Series {
		list := [][2]float64{}
		numbers, codes := s.Numbers(), s.Codes() // of a packed series unpacked at every call
		for i, at := range s.TimeValues() {
			if s.Parameter.Numeric() {
				list = append(list, [2]float64{at, numbers[i]})
			} else {
				list = append(list, [2]float64{at, float64(codes[i])})
			}
		}
		out[s.Parameter.Name] = list
	}
	return out
}

func read(t testing.TB, text string, profile *schemas.Profile) *Recording {
	t.Helper()
	r, err := ReadBytes("test.csv", []byte(text), profile)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return r
}

// The expected samples of every case are written by hand.
func TestCSVHabits(t *testing.T) {
	t.Parallel()
	plain := samples{
		"computed_airspeed": {{0, 100}, {1, 101.5}},
		"gear_lever":        {{0.5, 2}, {1.5, 0}}, // DOWN is state 2, UP state 0
		"weight_on_wheels":  {{0, 1}, {1, 0}},
	}
	for _, tt := range []struct {
		name, time, text string
		want             samples
		notes            []string
	}{
		{name: "plain", text: "time,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n", want: plain},
		{name: "no line end at the end", text: "time,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,", want: plain},
		{name: "semicolons, decimal comma", text: "time;CAS;LEVER;WOW\n0,0;100,0;;1\n0,5;;DN;\n1,0;101,5;;0\n1,5;;UP;\n", want: plain},
		{name: "tabs, decimal point", text: "time\tCAS\tLEVER\tWOW\n0.0\t100\t\t1\n0.5\t\tDN\t\n1.0\t101.5\t\t0\n1.5\t\tUP\t\n", want: plain},
		{name: "byte-order mark, CRLF", text: "\ufefftime,CAS,LEVER,WOW\r\n0,100,,1\r\n0.5,,DN,\r\n1,101.5,,0\r\n1.5,,UP,\r\n", want: plain},
		{name: "quotes", text: "\"time\",\"CAS\",\"LEVER\",\"a \"\"note\"\"\",\"WOW\"\n\"0\",\"100\",,\"x, y\",1\n0.5,,\"DN\",,\n1,\"101.5\",,\"two\nlines\",\"0\"\n1.5,,UP,,\n", want: plain},
		{name: "preamble", text: "Readout of 3 May\n\nTail;none\ntime is in seconds\ntime,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n", want: plain},
		{name: "preamble with the word time as a cell", text: "made by,time\ntime,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n", want: plain},
		{name: "units row", text: "time,CAS,LEVER,WOW\ns,[knots],-,discrete\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n", want: plain},
		{name: "blanks around cells", text: "time , CAS,LEVER,WOW\n 0 , 100 ,  , 1\n0.5,, DN ,\n1,101.5,,0 \n1.5,,UP,\n", want: plain},
		{name: "blank lines", text: "time,CAS,LEVER,WOW\n\n0,100,,1\n,,,\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n\n", want: plain},
		{name: "delimiter at the end of each line", text: "time,CAS,LEVER,WOW,\n0,100,,1,\n0.5,,DN,,\n1,101.5,,0,\n1.5,,UP,,\n", want: plain},
		{name: "numbers as other texts", text: "time,CAS,LEVER,WOW\n0,1e2,,1.0\n0.5,,dn,\n1,+101.50,,0.00\n1.5,,UP,\n", want: plain},
		{name: "last line cut off", text: "time,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n2,10", want: plain,
			notes: []string{"the last line, 6, is incomplete and was left out"}},
		{name: "last line cut off in a quote", text: "time,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n2,\"10", want: plain,
			notes: []string{"the last line, 6, is incomplete and was left out"}},
		{name: "short lines", text: "time,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN\n1,101.5,,0\n1.5,,UP\n", want: plain,
			notes: []string{"2 rows with fewer cells than the header read with the rest blank, the first in line 3"}},
		{name: "rows without a time", text: "time,CAS,LEVER,WOW\n0,100,,1\n,7,,\n0.5,,DN,\n----,8,,\n1,101.5,,0\n1.5,,UP,\n", want: plain,
			notes: []string{"2 rows without a valid time left out, the first in line 3"}},
		{name: "time steps back", text: "time,CAS,LEVER,WOW\n0,100,,1\n1,101.5,,0\n0.5,,DN,\n1.5,,UP,\n", want: plain},
		{name: "column twice", text: "time,CAS,LEVER,WOW,CAS\n0,100,,1,1\n0.5,,DN,,\n1,101.5,,0,2\n1.5,,UP,,\n", want: plain,
			notes: []string{`column "CAS" appears more than once in the header; the first is read`}},
		{name: "rows twice", text: "time,CAS,LEVER,WOW\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n0,100,,1\n0.5,,DN,\n1,101.5,,0\n1.5,,UP,\n", want: plain,
			notes: []string{"samples that the export has twice, with the same time and value, were used once: computed_airspeed 2, gear_lever 2, weight_on_wheels 2",
				"time steps back in 3 rows, the first in line 6; samples were sorted by time"}}, // the fourth is at 1.5 s, where time was
		{name: "time in milliseconds", time: "column: time, unit: ms", text: "time,CAS,LEVER,WOW\nms,kt,,\n0,100,,1\n500,,DN,\n1000,101.5,,0\n1500,,UP,\n", want: plain},
		{name: "long", text: "time,parameter,value\n0,CAS,100\n0,WOW,1\n0.5,LEVER,DN\n1,CAS,101.5\n1,WOW,0\n1,OTHER,x\n1.5,LEVER,UP\n", want: plain},
		{name: "long, columns in another order, one parameter after the other",
			text: "value;parameter;unit;time\n100;CAS;kt;0,0\n101,5;CAS;kt;1,0\nDN;LEVER;;0,5\nUP;LEVER;;1,5\n1;WOW;;0\n0;WOW;;1\n", want: plain},
		{name: "long, names missing", text: "time,parameter,value\n0,CAS,100\n0,,5\n0,WOW,1\n0.5,LEVER,DN\n0.5,CAS,\n1,CAS,101.5\n1,WOW,0\n1.5,LEVER,UP\n", want: plain,
			notes: []string{"1 row without a parameter name left out, the first in line 3"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if tt.time == "" {
				tt.time = "column: time"
			}
			r := read(t, tt.text, profileOf(t, tt.time, testColumns))
			if diff := cmp.Diff(tt.want, samplesOf(r)); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
			if tt.notes != nil {
				if diff := cmp.Diff(tt.notes, r.Notes); diff != "" {
					t.Errorf("notes (-want +got):\n%s", diff)
				}
			}
			if diff := cmp.Diff([]Absent{{"pressure_altitude", []string{"ALT"}}}, r.Absent); diff != "" {
				t.Errorf("absent (-want +got):\n%s", diff)
			}
			if r.Start != 0 || r.End != 1.5 {
				t.Errorf("rows from %v to %v s, want 0 to 1.5", r.Start, r.End)
			}
		})
	}
}

// Nothing tells whether a last line without an end is whole.
func TestLastLineWithoutEnd(t *testing.T) {
	t.Parallel()
	note := "has no line end: if the file is incomplete, its last value may be wrong"
	for text, want := range map[string]bool{
		"time,CAS\n0,1\n1,23\n": false, "time,CAS\n0,1\n1,23": true, "time,CAS,LEVER\n0,1,UP\n1,23,": false, "time,CAS,LEVER\n0,1,UP\n1,,\"UP\"": false,
		"time,parameter,value\n0,CAS,1\n1,CAS,2": true, "time,CAS,x\n0,1,a\n1,2,b": false, // a column nobody reads
	} {
		r := read(t, text, profileOf(t, "column: time", testColumns))
		if got := len(r.Notes) > 0 && strings.Contains(r.Notes[0], note); got != want {
			t.Errorf("%q: notes %q", text, r.Notes)
		}
	}
}

func TestInvalidTokens(t *testing.T) {
	t.Parallel()
	text := "time,CAS,LEVER,WOW\n0,100,UP,1\n1,----,***,NaN\n2,bad,Invalid,bad\n3,-999,n/a,-999.0\n4,nan,####,???\n5,101,DN,0\n"
	r := read(t, text, profileOf(t, "column: time", testColumns))
	want := samples{"computed_airspeed": {{0, 100}, {5, 101}}, "gear_lever": {{0, 0}, {5, 2}}, "weight_on_wheels": {{0, 1}, {5, 0}}}
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
	for _, s := range r.Series {
		if s.Dropped != (Dropped{Token: 4}) {
			t.Errorf("%s: dropped %+v, want 4 tokens", s.Parameter.Name, s.Dropped)
		}
	}
}

func TestUnitsScaleAndSources(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", `
  computed_airspeed: {column: CAS, unit: m/s}
  pressure_altitude:
    - {column: ALT FINE, unit: ft}
    - {column: ALT, unit: m, scale: 2, offset: 10, accuracy: 30, allowed_gap: 7}
    - {column: ALT COARSE, unit: ft}
  flap_angle: {column: FLAP, unit: deg}
  flap_handle: {column: FLAP, unit: deg}
  weight_on_wheels: {column: AIR, true_when: [GND, G], false_when: AIR}
  gear_lever: {column: LEVER, states: {0: UP, 1: "OFF", 2: DOWN}}
`)
	r := read(t, "time,CAS,ALT,ALT COARSE,FLAP,AIR,LEVER\n0,100,500,1,5,GND,2\n1,,,,,,1.0\n2,,600,2,15,AIR,0\n", profile)
	want := samples{
		"computed_airspeed": {{0, 360000.0 / 1852}},                   // 100 m/s in km/h over 1.852
		"pressure_altitude": {{0, 1010 / 0.3048}, {2, 1210 / 0.3048}}, // 2 x 500 + 10 m, 2 x 600 + 10 m
		"flap_angle":        {{0, 5}, {2, 15}}, "flap_handle": {{0, 5}, {2, 15}},
		"weight_on_wheels": {{0, 1}, {2, 0}},
		"gear_lever":       {{0, 2}, {1, 1}, {2, 0}},
	}
	if diff := cmp.Diff(want, samplesOf(r), cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
	altitude := r.Lookup("pressure_altitude")
	if altitude.Column != "ALT" || altitude.Accuracy != 30 || altitude.Gap != 7 || altitude.Interval != 2 {
		t.Errorf("pressure_altitude from %q, accuracy %v, gap %v, interval %v; want ALT, 30, 7, 2", altitude.Column, altitude.Accuracy, altitude.Gap, altitude.Interval)
	}
	if len(r.Absent) != 0 {
		t.Errorf("absent %v, want none", r.Absent)
	}
}

// A long export shows which sources it has only as it goes.
func TestLongSources(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", `
  pressure_altitude:
    - {column: FINE, unit: ft}
    - {column: COARSE, unit: ft}
`)
	for text, want := range map[string]string{
		"time,parameter,value\n0,COARSE,10\n1,FINE,20\n": "FINE",
		"time,parameter,value\n0,COARSE,20\n1,OTHER,1\n": "COARSE",
	} {
		if got := read(t, text, profile).Lookup("pressure_altitude").Column; got != want {
			t.Errorf("%q: from %s, want %s", text, got, want)
		}
	}
}

// A further source is read to be compared. One that cannot be read costs a note,
// and no file.
func TestFurtherSources(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", `
  pressure_altitude:
    - {column: FINE, unit: ft}
    - {column: COARSE, unit: m}
    - {column: THIRD, unit: ft}
`)
	for text, notes := range map[string][]string{
		"time,COARSE,FINE\n0,100,328\n1,,329\n":                                                 nil,
		"time,parameter,value\n0,COARSE,100\n0,FINE,328\n1,FINE,329\n":                          nil,
		"time,COARSE,FINE,THIRD\n0,100,328,1\n1,,329,junk\n":                                    {`column "THIRD" is a further source of pressure_altitude and is not compared: line 3: `},
		"time,parameter,value\n0,THIRD,1\n0,FINE,328\n0,COARSE,100\n1,THIRD,junk\n1,FINE,329\n": {`column "THIRD" is a further source of pressure_altitude and is not compared: line 5: `},
	} {
		r := read(t, text, profile)
		if got := r.Lookup("pressure_altitude"); got.Column != "FINE" || !slices.Equal(got.Numbers(), []float64{328, 329}) {
			t.Errorf("%q: %v from %s, want 328 and 329 from FINE", text, got.Numbers(), got.Column)
		}
		// 0.3048 m are a foot.
		if len(r.Alternatives) != 1 || r.Alternatives[0].Column != "COARSE" || math.Abs(r.Alternatives[0].Numbers()[0]-100/0.3048) > 1e-9 {
			t.Errorf("%q: further sources %+v, want COARSE alone, of 328.084 ft", text, r.Alternatives)
		}
		if !slices.EqualFunc(r.Notes, notes, strings.HasPrefix) {
			t.Errorf("%q: notes %q, want %q", text, r.Notes, notes)
		}
	}
}

func TestRecordingFacts(t *testing.T) {
	t.Parallel()
	r := read(t, "time,CAS\n0,1\n", profileOf(t, "column: time", testColumns))
	// SHA-256 by the sha256sum command of GNU coreutils.
	if want := "40b7d26dd3e39b9bde3c7ebe648a3d2c24750847a63284f7c940a442658087ef"; r.SHA256 != want {
		t.Errorf("hash %s, want %s", r.SHA256, want)
	}
	if r.Name != "test.csv" || r.Bytes != 13 || r.Format != "wide CSV" || !r.Epoch.IsZero() {
		t.Errorf("%q, %d bytes, %s, epoch %v", r.Name, r.Bytes, r.Format, r.Epoch)
	}
	if s := r.Series[0]; s.Interval != 0 || s.Gap != 1 {
		t.Errorf("interval %v, gap %v; want 0 and the vocabulary's 1", s.Interval, s.Gap)
	}
}

// A unit the profile expects is believed whatever it is, and then no other.
func TestStatedUnit(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", `
  flap_angle: {column: FLAP, unit: deg, stated_unit: counts, scale: 0.5, offset: -50}
  computed_airspeed: {column: CAS, unit: kt, stated_unit: M/S}
`)
	for _, units := range []string{"s,COUNTS,m/sec", "s,[Counts],", "s,,(m/s)", "s,-,-"} {
		r := read(t, "time,FLAP,CAS\n"+units+"\n0,100,140\n1,160,141\n", profile)
		// (160 x 0.5 - 50) deg = 30 deg; the airspeed is kt, as unit says.
		want := samples{"flap_angle": {{0, 0}, {1, 30}}, "computed_airspeed": {{0, 140}, {1, 141}}}
		if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", units, diff)
		}
	}
	_, err := ReadBytes("test.csv", []byte("time,FLAP,CAS\ns,deg,kt\n0,10,140\n"), profile)
	problems := problemsOf(t, err)
	if len(problems) != 2 || !strings.Contains(problems[0].Cause, `column "FLAP" is in "deg" here, but the profile says that the export states "counts"`) ||
		!strings.Contains(problems[1].Hint, "correct stated_unit under computed_airspeed in test.yaml") {
		t.Errorf("%v", err)
	}
}
