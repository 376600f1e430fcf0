package survey

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/encoding/unicode"

	"downlock/ingest"
)

const (
	demoDir = "../../testdata/demo/"
	x100Dir = "../../testdata/x100/"
)

func surveyFile(t testing.TB, path string) *Survey {
	t.Helper()
	raw, err := ingest.OpenRaw(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Of(raw)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func surveyText(t testing.TB, text string) *Survey {
	t.Helper()
	raw, err := ingest.OpenRawBytes("text.csv", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Of(raw)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The sampling rates of the check flights are from the README that came with them.
// The offsets were read from the first second of flight-1.csv.
func TestRatesOfTheCheckFlights(t *testing.T) {
	t.Parallel()
	rates := map[float64][]string{
		1: {"computed airspeed", "pressure altitude", "gear lever", "nose gear down locked", "left gear down locked", "right gear down locked", "nose gear up locked",
			"left gear up locked", "right gear up locked", "flap handle", "N1 1", "N1 2", "vertical speed", "ground speed", "too low gear alert"},
		0.5:   {"radio altitude", "flap angle", "throttle angle 1", "throttle angle 2", "gear horn", "horn cutout"},
		0.25:  {"left strut compressed", "right strut compressed", "nose strut compressed", "pitch", "roll"},
		0.125: {"normal acceleration"},
		4:     {"latitude", "longitude"},
	}
	offsets := map[string]float64{"computed airspeed": 0, "pressure altitude": 0.125, "radio altitude": 0.25, "right strut compressed": 0.125, "nose gear up locked": 0.125, "latitude": 0, "normal acceleration": 0}
	for _, file := range []string{"flight-1.csv.gz", "flight-2.csv.gz", "flight-2-long.csv.gz", "flight-6.csv.gz"} {
		s := surveyFile(t, x100Dir+file)
		for interval, names := range rates {
			for _, name := range names {
				c := s.Column(name)
				if c == nil {
					t.Fatalf("%s: no column %q", file, name)
				}
				if c.Interval != interval || c.Gaps != 0 || c.Lost != 0 || c.StepsBack != 0 || c.Invalid != 0 {
					t.Errorf("%s: %s every %v s with %d gaps, %v lost; want every %v s and none", file, name, c.Interval, c.Gaps, c.Lost, interval)
				}
			}
		}
		for name, want := range offsets {
			if got := s.Column(name).Offset; got != want {
				t.Errorf("%s: %s has the offset %v s, want %v", file, name, got, want)
			}
		}
		if top := s.Column("radio altitude"); top.Largest != 2500 || top.AtTop < 0.2 {
			t.Errorf("%s: radio altitude up to %v for %v; want 2500 for a good part", file, top.Largest, top.AtTop)
		}
		if s.Flights.Likely != 1 || s.Time.Column != "time_s" || s.Time.Form != "seconds" || s.Time.Unit != "s" {
			t.Errorf("%s: %d flights, time %+v", file, s.Flights.Likely, s.Time)
		}
	}
	if s := surveyFile(t, x100Dir+"flight-2-long.csv.gz"); s.Time.Parameter != "parameter" || s.Time.Value != "value" || s.Format != "long CSV, gzip" {
		t.Errorf("the long flight is read as %s, %+v", s.Format, s.Time)
	}
	if s := surveyFile(t, x100Dir+"flight-1.csv.gz"); s.Epoch != "2032-07-02T06:57:54.000Z" || s.Time.Date != "date" || s.Time.Clock != "utc" {
		t.Errorf("second 0 is %s by %q and %q", s.Epoch, s.Time.Date, s.Time.Clock)
	}
}

// The wide and the long layout hold the same samples.
func TestLongAndWideSurveyAlike(t *testing.T) {
	t.Parallel()
	wide, long := surveyFile(t, x100Dir+"flight-2.csv.gz"), surveyFile(t, x100Dir+"flight-2-long.csv.gz")
	if len(wide.Columns) != len(long.Columns) {
		t.Fatalf("%d and %d columns", len(wide.Columns), len(long.Columns))
	}
	for _, w := range wide.Columns {
		l := long.Column(w.Name)
		if l == nil || l.Samples != w.Samples || l.Smallest != w.Smallest || l.Largest != w.Largest || l.Distinct != w.Distinct || l.Changes != w.Changes {
			t.Errorf("%s: %+v in the wide file, %+v in the long one", w.Name, w, l)
		}
	}
}

// Flights of the demonstration recordings, by their list: two in tarnholm-13, one in
// each other whole recording. A touch-and-go (03) is part of one flight.
func TestFlightsOfTheDemonstration(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]int{"tarnholm-01": 1, "tarnholm-02": 1, "tarnholm-03": 1, "tarnholm-13": 2, "tarnholm-14": 1, "tarnholm-15": 1, "tarnholm-17": 1, "tarnholm-18": 1} {
		files, _ := filepath.Glob(demoDir + name + ".*")
		if len(files) != 1 {
			t.Fatalf("%d files %s", len(files), name)
		}
		if s := surveyFile(t, files[0]); s.Flights.Likely != want {
			t.Errorf("%s: %d flights likely, want %d (%s)", name, s.Flights.Likely, want, s.Flights.Why)
		}
	}
}

// tarnholm-18 has semicolons, decimal commas, a preamble, a row of units and clock
// times over midnight, from 23:55:00.
func TestHabitsOfCSV(t *testing.T) {
	t.Parallel()
	s := surveyFile(t, demoDir+"tarnholm-18.csv.gz")
	if s.Time.Form != "clock" || s.Time.Midnights != 1 || s.Time.Start != 86100 || s.Time.Interval != 0.125 {
		t.Errorf("time %+v", s.Time)
	}
	if c := s.Column("airspeed"); c == nil || c.Unit != "kt" || c.Interval != 1 || !c.Numeric {
		t.Errorf("airspeed %+v", c)
	}
	if c := s.Column("gear lever"); c == nil || c.Numeric || len(c.States) != 3 {
		t.Errorf("gear lever %+v", c)
	}
}

// A table worked out by hand: rows 1 s apart, one gap of 7 s, one of 20 min, one
// step back, one repeated time; a cell of dashes and two blanks.
func TestCountsByHand(t *testing.T) {
	t.Parallel()
	s := surveyText(t, `Elapsed (s),speed,word,blank
0,10,A,
1,11,A,
2,----,A,
3,13,B,
10,14,B,
11,,B,
12,12,A,
11.5,12,A,
13,12,A,
13,12,A,
1213,12,,
1214,9,A,
1215,9,A,
`)
	if b := s.Time; b.Rows != 13 || b.Start != 0 || b.End != 1215 || b.Interval != 1 || b.Gaps != 2 || b.Jumps != 1 || b.StepsBack != 1 || b.Repeats != 1 {
		t.Errorf("time %+v", b)
	}
	if b := s.Time; len(b.Longest) != 2 || b.Longest[0] != (Gap{13, 1200}) || b.Longest[1] != (Gap{3, 7}) {
		t.Errorf("gaps %+v, want 1200 s from 13 and 7 s from 3", b.Longest)
	}
	c := s.Column("speed")
	if c.Samples != 11 || c.Invalid != 1 || c.Smallest != 9 || c.Largest != 14 || c.Distinct != 6 || math.Abs(c.Blank-1./13) > 1e-6 {
		t.Errorf("speed %+v", *c)
	}
	w := s.Column("word")
	if w.Samples != 12 || w.Numeric || len(w.States) != 2 || w.States[0] != (State{"A", 9}) || w.States[1] != (State{"B", 3}) || w.Changes != 2 {
		t.Errorf("word %+v", *w)
	}
	if b := s.Column("blank"); b.Samples != 0 || b.Blank != 1 {
		t.Errorf("blank %+v", *b)
	}
}

func TestTimeColumnIsFoundByContent(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, column, form, unit string }{
		{"second column, no telling name", "count,t,a\n5,0.0,1\n3,0.5,2\n9,1.0,1\n2,1.5,2\n", "t", "seconds", "s"},
		{"milliseconds by their steps", "x,a\n0,1\n125,2\n250,1\n375,3\n", "x", "seconds", "ms"},
		{"clock", "a,when\n1,10:00:00\n2,10:00:01\n3,10:00:02\n", "when", "clock", ""},
		{"date and time", "when,a\n2031-03-02T10:00:00Z,1\n2031-03-02T10:00:01Z,2\n", "when", "date and time", ""},
		{"decimal commas", "zeit;a\n0,0;1\n0,5;2\n1,0;3\n", "zeit", "seconds", "s"},
		{"stated unit", "time,a\nms,kt\n0,1\n1000,2\n2000,4\n", "time", "seconds", "ms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := surveyText(t, c.text)
			if s.Time.Column != c.column || s.Time.Form != c.form || s.Time.Unit != c.unit {
				t.Errorf("got %q, %s in %q; want %q, %s in %q", s.Time.Column, s.Time.Form, s.Time.Unit, c.column, c.form, c.unit)
			}
		})
	}
}

func TestNoTimeColumn(t *testing.T) {
	t.Parallel()
	for name, text := range map[string]string{
		"values that fall": "a,b\n5,1\n3,2\n4,3\n1,1\n", "one line": "hello\n", "nothing but a header": "", "binary": "\x00\x01",
	} {
		if _, err := ingest.OpenRawBytes("x.csv", []byte(text)); err == nil || !strings.Contains(err.Error(), "x.csv") {
			t.Errorf("%s: got %v, want a problem of the file", name, err)
		}
	}
}

// A survey of the same recording is equal for every format.
func TestFormatsSurveyAlike(t *testing.T) {
	t.Parallel()
	const dir = "../../testdata/formats/departure"
	want := surveyFile(t, dir+".csv")
	for _, ending := range []string{".csv.zst", ".parquet", ".arrow.zst", ".long.csv.gz", ".long.parquet"} {
		got := surveyFile(t, dir+ending)
		for _, w := range want.Columns {
			g := got.Column(w.Name)
			if g == nil || g.Samples != w.Samples || g.Interval != w.Interval || g.Offset != w.Offset || g.Smallest != w.Smallest || g.Largest != w.Largest || g.Distinct != w.Distinct {
				t.Errorf("%s: %s is %+v, in the CSV file %+v", ending, w.Name, g, w)
			}
		}
	}
}

// UTF-16 is surveyed like UTF-8; here it is twice as large.
func TestUTF16SurveysAlike(t *testing.T) {
	t.Parallel()
	const text = "time;höhe\n0,0;1\n0,5;2\n1,0;4\n"
	utf16, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, written := range []string{text, utf16} {
		s := surveyText(t, written)
		if c := s.Column("höhe"); c == nil || c.Samples != 3 || c.Interval != 0.5 || c.Largest != 4 || s.Time.Rows != 3 {
			t.Errorf("%s: %+v", s.Format, c)
		}
	}
}

// The export is much larger than the part kept in memory. A walk reads it in pieces,
// and no sample is lost where they meet.
func TestLargeExportIsCountedInFull(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	b.WriteString("preamble\ntime,a,b\n")
	const rows = 200_000
	for i := range rows {
		fmt.Fprintf(&b, "%d.%d,%d,%s\n", i/2, i%2*5, i, []string{"UP", "DOWN"}[i/1000%2])
	}
	s := surveyText(t, b.String())
	a, w := s.Column("a"), s.Column("b")
	if s.Time.Rows != rows || a.Samples != rows || a.Largest != rows-1 || a.Interval != 0.5 || w.Changes != rows/1000-1 || w.States[0].Samples != rows/2 {
		t.Errorf("time %+v\na %+v\nb %+v", s.Time, *a, *w)
	}
	if n := len(a.sketch.times); n > sketchRoom {
		t.Errorf("%d samples kept", n)
	}
}

// Damage to a file is a problem of the file, never a panic.
func TestDamagedFiles(t *testing.T) {
	t.Parallel()
	files, _ := filepath.Glob("../../testdata/formats/*")
	mat, _ := filepath.Glob("../../testdata/mat/*.mat")
	for _, file := range append(files, mat...) {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, cut := range []int{1, 7, 50, 1000} {
			damaged := bytes.Clone(data[:len(data)-len(data)/cut/2])
			for i := len(damaged) / 2; i < len(damaged); i += 1 + len(damaged)/17 {
				damaged[i] ^= 0x55
			}
			raw, err := ingest.OpenRawBytes(file, damaged)
			if err == nil {
				_, err = Of(raw)
			}
			if err != nil && !strings.Contains(err.Error(), filepath.Base(file)) {
				t.Errorf("%s cut: %v does not name the file", file, err)
			}
		}
	}
}

// A sketch stays within its room and keeps the shape: the kept samples of a line of
// 100000 lie on the line.
func TestSketchIsBounded(t *testing.T) {
	t.Parallel()
	var s sketch
	for i := range 100000 {
		s.add(float64(i), 3*float64(i))
	}
	if n := len(s.times); n > sketchRoom || n < sketchRoom/2 {
		t.Errorf("%d samples kept", n)
	}
	for i, at := range s.times {
		if s.values[i] != 3*at || i > 0 && at <= s.times[i-1] {
			t.Fatalf("sample %d: %v at %v", i, s.values[i], at)
		}
	}
}

// A repeated name is read once, with a note.
func TestRepeatedNames(t *testing.T) {
	t.Parallel()
	s := surveyText(t, "time,a,b,a\n0,1,2,3\n1,2,2,3\n")
	want := []string{`column "a" appears more than once in the header; the first is read`}
	if !slices.Equal(s.Notes, want) || s.Column("a").Largest != 2 || len(s.Columns) != 2 {
		t.Errorf("notes %q, %d columns, want %q and 2", s.Notes, len(s.Columns), want)
	}
}
