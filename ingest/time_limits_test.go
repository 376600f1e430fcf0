package ingest

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// Date and time in one cell, by the calendar: seconds since the first midnight.
func TestInstants(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		want float64
		ok   bool
	}{
		{"2031-03-04T10:00:00", 36000, true}, {"2031-03-05 00:00:01.5", 86401.5, true}, {"2031-03-04T10:00:00Z", 36000, true}, {"2031-03-04T10:00:00+02:00", 28800, true}, {"2031-03-04T10:00:00-01:30", 41400, true},
		{"04.03.2031 10:00:00", 36000, true}, {"2031-03-04T10:00", 0, false}, {"2031-13-04T10:00:00", 0, false}, {"2031-03-04T10:60:00", 0, false}, {"2031-03-04", 0, false}, {"10:00:00", 0, false}, {"2031-03-04T10:00:00+xx:00", 0, false}, {"", 0, false},
	} {
		a := axis{origin: time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC)}
		if got, ok := a.instant([]byte(c.text)); got != c.want || ok != c.ok {
			t.Errorf("%q: %v, %v; want %v", c.text, got, ok, c.want)
		}
	}
	var a axis // the first sets the day of second 0
	if got, ok := a.instant([]byte("2031-03-04T23:00:00-02:00")); !ok || got != 3600 || !a.epoch.Equal(time.Date(2031, 3, 5, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("%v from %v", got, a.epoch)
	}
	// A stretch that goes back by a day has a date all the same.
	var text strings.Builder
	text.WriteString("when,CAS\n")
	for _, day := range []int{5, 4} {
		for i := range 20 {
			fmt.Fprintf(&text, "2031-03-%02dT10:00:%02d,%d\n", day, i, 100+i)
		}
	}
	r, err := ReadBytes("f.csv", []byte(text.String()), profileOf(t, "column: when", testColumns))
	if err != nil {
		t.Fatal(err)
	}
	all := r.Stretches()
	if len(all) != 2 {
		t.Fatalf("%d stretches", len(all))
	}
	for i, day := range []int{5, 4} {
		if begin := all[i].Epoch.Add(time.Duration(all[i].Start * float64(time.Second))); !begin.Equal(time.Date(2031, 3, day, 10, 0, 0, 0, time.UTC)) {
			t.Errorf("stretch %d begins at %v", i, begin)
		}
	}
}

// What samples of one time are spread over is how much each may be wrong: of a clock a second
// at least.
func TestWidthOfSpread(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		format string
		want   float64
	}{{"%g", 0.5}, {"10:00:%05.2f", 1}} {
		text := "time,CAS\n"
		for i := range 40 {
			text += fmt.Sprintf(c.format+",%d\n", 0.25+float64(i/2)/2, 100+i%7)
		}
		r, err := ReadBytes("f.csv", []byte(text), profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Fatal(err)
		}
		s := r.Lookup("computed_airspeed")
		if times := s.TimeValues(); s.TimeAccuracy != c.want || len(times) != 40 || math.Mod(times[1]-times[0], 1) != 0.25 {
			t.Errorf("%s: ± %v at %v", c.format, s.TimeAccuracy, times[:4])
		}
	}
}

// A source that a profile lists twice is read once; of two that begin and end with the same column, with
// another between, each is.
func TestSourceTwice(t *testing.T) {
	t.Parallel()
	for sources, want := range map[string]int{
		"{column: A, unit: kt}, {column: A, unit: kt}":                              0,
		"{column: A, unit: kt}, {column: B, unit: kt}":                              1,
		"{samples: [A, B, D], unit: kt}, {samples: [A, C, D], unit: kt}":            1,
		"{samples: [A, B, D], unit: kt}, {samples: [A, B, D], unit: kt}":            0,
		"{column: A, unit: kt}, {column: B, unit: kt}, {column: ' A ', unit: kt}":   1,
		"{column: A, unit: kt}, {column: E, unit: kt}, {column: D, unit: kt}":       1, // the export has no E
		"{column: E, unit: kt}, {column: D, unit: kt}, {samples: [A, E], unit: kt}": 0,
	} {
		r, err := ReadBytes("f.csv", []byte("time,A,B,C,D\n0,100,101,102,103\n1,104,105,106,107\n2,108,109,110,111\n"), profileOf(t, "column: time", "  computed_airspeed: ["+sources+"]\n"))
		if err != nil {
			t.Errorf("%s: %v", sources, err)
			continue
		}
		if len(r.Series) != 1 || len(r.Alternatives) != want {
			t.Errorf("%s: %d series and %d more, want %d", sources, len(r.Series), len(r.Alternatives), want)
		}
	}
}

// Begun anew as often as is allowed, and once more.
func TestMostStretchesOfLong(t *testing.T) {
	t.Parallel()
	for n, want := range map[int]string{maxStretches: "", maxStretches + 1: fmt.Sprintf(`line %d: the time of column "CAS" steps back for the %dth time`, 2+2*(maxStretches+1), maxStretches+1)} {
		text := "time,parameter,value\n" + strings.Repeat("0,CAS,1\n100,CAS,2\n", n+1)
		_, err := ReadBytes("f.csv", []byte(text), profileOf(t, "column: time", testColumns))
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%d times: %v, want %q", n, err, want)
		}
	}
}

// Values that other libraries write into typed columns: no number is no value, true and false
// are words, and blanks around a token of the profile mean nothing.
func TestTypedValues(t *testing.T) {
	t.Parallel()
	type row struct {
		Time float64 `parquet:"time"`
		CAS  float64 `parquet:"CAS"`
		WOW  bool    `parquet:"WOW"`
	}
	var b bytes.Buffer
	w := parquet.NewGenericWriter[row](&b)
	if _, err := w.Write([]row{{0, 100, true}, {1, math.NaN(), false}, {2, -777, true}, {3, 103, true}}); err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	head := "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\ncolumns:\n  computed_airspeed: {column: CAS, unit: kt}\n  weight_on_wheels: {column: WOW, true_when: 'true'}\n"
	for tokens, want := range map[string]Dropped{"": {Range: 1, Token: 1}, "invalid_tokens: [' -777 ', ' bad ']\n": {Token: 2}} {
		p, err := schemas.ParseProfile("p.yaml", []byte(head+tokens))
		if err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("f.parquet", b.Bytes(), p)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {3, 103}}, "weight_on_wheels": {{0, 1}, {1, 0}, {2, 1}, {3, 1}}}, samplesOf(r)); d != "" || r.Lookup("computed_airspeed").Dropped != want {
			t.Errorf("dropped %+v, want %+v (-want +got):\n%s", r.Lookup("computed_airspeed").Dropped, want, d)
		}
		r, err = ReadBytes("f.csv", []byte("time,CAS\n0,100\n1,bad\n2,BAD\n3,103\n"), p)
		if tokens == "" && err == nil || tokens != "" && (err != nil || r.Lookup("computed_airspeed").Dropped != Dropped{Token: 2}) {
			t.Errorf("%s: %v", tokens, err)
		}
	}
}

func TestLimitsGiven(t *testing.T) {
	t.Parallel()
	for given, want := range map[int64]int64{0: DefaultMaxBytes, -1: DefaultMaxBytes, 1: 1, 5: 5} {
		if got := (Limits{MaxBytes: given}).maxBytes(); got != want {
			t.Errorf("%d: %d", given, got)
		}
	}
	// A line as long as is read, of a header, of data and of both with units.
	const head = "time,CAS,"
	pad := func(used int) string { return strings.Repeat("x", maxLineBytes-used) }
	for name, text := range map[string]string{
		"header": head + pad(len(head)) + "\n0,100,\n1,101,\n",
		"data":   head + "note\n0,100," + pad(6) + "\n1,101,\n",
		"units":  head + "note\ns,kt," + pad(5) + "\n0,100,\n1,101,\n",
	} {
		r, err := ReadBytes("f.csv", []byte(text), profileOf(t, "column: time", testColumns))
		if err != nil || !slices.Equal(r.Lookup("computed_airspeed").Numbers(), []float64{100, 101}) {
			t.Errorf("%s: %.200v", name, err)
		}
	}
}

// A row of its time alone, of one character, is a row.
func TestShortRows(t *testing.T) {
	t.Parallel()
	r, err := ReadBytes("f.csv", []byte("time,CAS\n0,1\n\n2\n3,4\n4\n5,\n"), profileOf(t, "column: time", testColumns))
	if err != nil || r.End != 5 || !slices.Contains(r.Notes, "2 rows with fewer cells than the header read with the rest blank, the first in line 4") {
		t.Errorf("%v, %+v", err, r)
	}
}

// The unit of each row of a long export, whichever column it stands in.
func TestUnitColumnFirst(t *testing.T) {
	t.Parallel()
	p, err := schemas.ParseProfile("p.yaml", []byte("schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\nlong: {parameter: parameter, value: value, unit: unit}\n"+
		"columns:\n  pressure_altitude: {column: ALT}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"unit,time,parameter,value\nm,0,ALT,762\nft,1,ALT,2500\n", "time,parameter,value,unit\n0,ALT,762,m\n1,ALT,2500,ft\n"} {
		r, err := ReadBytes("f.csv", []byte(text), p)
		if err != nil || !slices.Equal(r.Lookup("pressure_altitude").Numbers(), []float64{2500, 2500}) { // 762 m = 2500 · 0.3048
			t.Errorf("%.20s: %v", text, err)
		}
	}
}
