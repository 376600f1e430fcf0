package ingest

import (
	"fmt"
	"strings"
	"testing"
)

// visits writes down a walk: the time of each row, then its cells with what they say.
type visits struct {
	raw   *Raw
	lines []string
}

func (v *visits) Row(at float64) { v.lines = append(v.lines, fmt.Sprintf("%g", at)) }

func (v *visits) Cell(c *RawCell) {
	text := fmt.Sprintf("%s@%g %q", v.raw.Columns[c.Column].Name, c.Time, c.Text)
	if c.Numeric {
		text += fmt.Sprintf(" %g", c.Number)
	}
	if c.Invalid {
		text += " invalid"
	}
	v.lines = append(v.lines, text)
}

func walked(t *testing.T, raw *Raw) string {
	t.Helper()
	v := &visits{raw: raw}
	if err := raw.Walk(v); err != nil {
		t.Fatal(err)
	}
	return strings.Join(v.lines, " | ")
}

// described writes down what is found of time.
func described(raw *Raw) string {
	t := raw.Time
	s := fmt.Sprintf("%s as %s", t.Column, t.Form)
	for _, part := range []struct{ name, text string }{{"unit", t.Unit}, {"date", t.Date}, {"clock", t.Clock}, {"format", t.DateFormat}, {"parameter", t.Long.Parameter}, {"value", t.Long.Value},
		{"undated", t.Undated}, {"formats", strings.Join(t.DateFormats, " or ")}} {
		if part.text != "" {
			s += ", " + part.name + " " + part.text
		}
	}
	return s
}

// series writes rows of a few columns, each by a function of the row.
func rowsBy(head string, n int, cells func(i int) string) string {
	var b strings.Builder
	b.WriteString(head + "\n")
	for i := range n {
		b.WriteString(cells(i) + "\n")
	}
	return b.String()
}

// The column of time by the marks stated: how it is written, its name, how even and how fine it is, and its place.
func TestTimeThatIsFound(t *testing.T) {
	t.Parallel()
	seconds := func(i int) string { return fmt.Sprintf("%d,%d", i, 100+i%3) }
	for _, c := range []struct {
		name, text, want string
		doubt            string // part of it
	}{
		{"units stated", rowsBy("time,CAS\nms,kt", 3, seconds), "time as seconds, unit ms", ""},
		{"in seconds, spelt out", rowsBy("time,CAS\nsec,kt", 3, seconds), "time as seconds, unit s", ""},
		{"in minutes", rowsBy("time,CAS\nmin,kt", 3, seconds), "time as seconds, unit min", ""},
		{"nothing stated", rowsBy("time,CAS", 3, seconds), "time as seconds, unit s", ""},
		{"by its name in ms", rowsBy("T_MS,CAS", 3, seconds), "T_MS as seconds, unit ms", ""},
		{"by its name in milliseconds", rowsBy("Millis,CAS", 3, seconds), "Millis as seconds, unit ms", ""},
		{"by its name in minutes", rowsBy("Minutes,CAS", 3, seconds), "Minutes as seconds, unit min", "the unit of the time is taken from the name of its column"},
		{"steps of twenty", rowsBy("time,CAS", 3, func(i int) string { return fmt.Sprint(20*i, ",5") }), "time as seconds, unit ms", "rows are 20 apart, so it is taken for milliseconds"},
		{"steps of nineteen", rowsBy("time,CAS", 3, func(i int) string { return fmt.Sprint(19*i, ",5") }), "time as seconds, unit s", ""},
		{"a clock", rowsBy("when,ALT", 3, func(i int) string { return fmt.Sprintf("10:00:0%d,%d", i, i) }), "when as clock", ""},
		{"date and time", rowsBy("when,ALT", 3, func(i int) string { return fmt.Sprintf("2031-03-04 10:00:0%d,%d", i, i) }), "when as date and time", ""},
		{"date and time, of which the date leaves a doubt", rowsBy("when,ALT", 3, func(i int) string { return fmt.Sprintf("03/04/2031 10:00:0%d,%d", i, i) }),
			"when as date and time, format DD/MM/YYYY, undated when, formats DD/MM/YYYY or MM/DD/YYYY", `the dates of column "when" can be read as DD/MM/YYYY or MM/DD/YYYY`},
		{"a number, a date and a clock", rowsBy("day,clock,time,ALT", 3, func(i int) string { return fmt.Sprintf("2031-03-04,10:00:0%d,%d,7", i, i) }), "clock as clock, date day", ""},
		{"a finer number beside a clock", rowsBy("frame time,day,clock,ALT", 4, func(i int) string { return fmt.Sprintf("%g,2031-03-04,10:00:0%d,7", float64(i)/2, i/2) }),
			"frame time as seconds, unit s, date day, clock clock", ""},
		{"a date that can be read in one way", rowsBy("time,day,ALT", 3, func(i int) string { return fmt.Sprint(i, ",13/04/2031,7") }), "time as seconds, unit s, date day, format DD/MM/YYYY", ""},
		{"a date that can be read in two", rowsBy("time,day,ALT", 3, func(i int) string { return fmt.Sprint(i, ",03/04/2031,7") }),
			"time as seconds, unit s, undated day, formats DD/MM/YYYY or MM/DD/YYYY", "say which by date_format under time"},
		{"a date that goes on by a day", rowsBy("time,day,ALT", 4, func(i int) string { return fmt.Sprintf("%d,0%d/04/2031,7", i, 3+i/2) }), "time as seconds, unit s, date day, format DD/MM/YYYY", ""},
		{"a date that is one by its name alone", rowsBy("time,date,ALT", 3, func(i int) string { return fmt.Sprint(i, ",20310413,7") }), "time as seconds, unit s, date date", ""},
		{"a number that could be one", rowsBy("time,day,ALT", 3, func(i int) string { return fmt.Sprint(i, ",20310413,7") }), "time as seconds, unit s", ""},
		{"the finer of two", rowsBy("time s,time f,ALT", 6, func(i int) string { return fmt.Sprintf("%d,%g,7", i/2, float64(i)/2) }), "time f as seconds, unit s", ""},
		{"the first of two alike", rowsBy("time a,time b,ALT", 6, func(i int) string { return fmt.Sprintf("%d,%d,7", i, i) }), "time a as seconds, unit s", ""},
		{"the even one", rowsBy("a,b,ALT", 6, func(i int) string { return fmt.Sprintf("%d,%d,7", i*i, i) }), "b as seconds, unit s", ""},
		{"by its name", rowsBy("a,gmt,ALT", 6, func(i int) string { return fmt.Sprintf("%d,%d,7", i, i) }), "gmt as seconds, unit s", ""},
		{"one fall in ten steps", rowsBy("time,x", 11, func(i int) string { return fmt.Sprintf("%d,%d", []int{0, 1, 2, 3, 5, 4, 6, 7, 8, 9, 10}[i], 10-i) }), "time as seconds, unit s", ""},
		{"blank in one row of ten", rowsBy("time,x", 10, func(i int) string { return []string{"", "1", "2", "3", "4", "5", "6", "7", "8", "9"}[i] + ",5" }), "time as seconds, unit s", ""},
		{"long", rowsBy("time,signal,reading", 6, func(i int) string { return fmt.Sprintf("%d,%s,%d", i, []string{"CAS", "ALT"}[i%2], i%4) }), "time as seconds, unit s, parameter signal, value reading", ""},
		{"long without a word for it", rowsBy("time,what,much", 6, func(i int) string { return fmt.Sprintf("%d,%s,%d", i/2, []string{"CAS", "ALT"}[i%2], i%4) }), "time as seconds, unit s, parameter what, value much", ""},
		{"a value by its name", rowsBy("time,signal,quality,value", 6, func(i int) string { return fmt.Sprintf("%d,%s,0,%d", i, []string{"CAS", "ALT"}[i%2], i%4) }), "time as seconds, unit s, parameter signal, value value", ""},
		{"names that never change are no parameters", rowsBy("time,signal,value", 6, func(i int) string { return fmt.Sprintf("%d,CAS,%d", i, i%4) }), "time as seconds, unit s", ""},
		{"too wide to be long", rowsBy("time,signal,value,a,b,c,d,e,f", 6, func(i int) string { return fmt.Sprintf("%d,%s,%d,,,,,,", i, []string{"CAS", "ALT"}[i%2], i%4) }), "time as seconds, unit s", ""},
		{"eight columns can be long", rowsBy("time,signal,value,a,b,c,d,e", 6, func(i int) string { return fmt.Sprintf("%d,%s,%d,,,,,", i, []string{"CAS", "ALT"}[i%2], i%4) }), "time as seconds, unit s, parameter signal, value value", ""},
	} {
		raw, err := OpenRawBytes("f.csv", []byte(c.text))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := described(raw); got != c.want || (c.doubt == "") != (raw.Time.Doubt == "") || !strings.Contains(raw.Time.Doubt, c.doubt) {
			t.Errorf("%s: %s (%s), want %s (%s)", c.name, got, raw.Time.Doubt, c.want, c.doubt)
		}
	}
	for name, text := range map[string]string{
		"one fall in nine steps": rowsBy("time,x", 10, func(i int) string { return fmt.Sprintf("%d,%d", []int{0, 1, 2, 3, 5, 4, 6, 7, 8, 9}[i], 10-i) }),
		"blank in two rows of ten": rowsBy("time,x", 10, func(i int) string {
			return []string{"", "", "2", "3", "4", "5", "6", "7", "8", "9"}[i] + fmt.Sprintf(",%d", 10-i)
		}),
		"one value throughout":   rowsBy("time,x", 3, func(i int) string { return fmt.Sprintf("5,%d", 10-i) }),
		"a cell that is no time": rowsBy("time,x", 3, func(i int) string { return fmt.Sprintf("%s,%d", []string{"0", "noon", "2"}[i], 10-i) }),
	} {
		if raw, err := OpenRawBytes("f.csv", []byte(text)); err == nil || !strings.Contains(problemsOf(t, err)[0].Cause, `has no column that looks like the time of a row; it has: "time", "x"`) {
			t.Errorf("%s: %v, %+v", name, err, raw)
		}
	}
}

// Why a column is taken for the time.
func TestEvidenceOfTime(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		rowsBy("time,CAS", 3, func(i int) string { return fmt.Sprintf("%g,7", float64(i)/4) }): `a value in 3 of the first 3 rows; the values never fall; the name has "time" in it; even steps of 0.25`,
		rowsBy("when,ALT", 4, func(i int) string { return fmt.Sprintf("10:00:0%d,7", i*i) }):   "a value in 4 of the first 4 rows; the values never fall; every cell is a clock time or date and time",
		// Eight steps of ten are not nine tenths; nine are.
		rowsBy("when,x", 11, func(i int) string { return fmt.Sprint([]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 12}[i], ",7") }): `a value in 11 of the first 11 rows; the values never fall`,
		rowsBy("when,x", 11, func(i int) string { return fmt.Sprint([]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 11}[i], ",7") }):  `a value in 11 of the first 11 rows; the values never fall; even steps of 1`,
		rowsBy("utc,x", 11, func(i int) string { return fmt.Sprint([]int{0, 1, 2, 3, 5, 4, 6, 7, 8, 9, 10}[i], ",7") }):   `a value in 11 of the first 11 rows; the values fall in 1; the name has "utc" in it`,
		rowsBy("time,day,ALT", 3, func(i int) string { return fmt.Sprint(i, ",13/04/2031,7") }):                           `a value in 3 of the first 3 rows; the values never fall; the name has "time" in it; even steps of 1; the dates of "day" can only be read as DD/MM/YYYY`,
		rowsBy("time,name,x", 4, func(i int) string { return fmt.Sprint(i, ",", []string{"A", "B"}[i%2], ",", i%2) }):     `a value in 4 of the first 4 rows; the values never fall; the name has "time" in it; even steps of 1; a row per sample: "name" holds names, "x" their values`,
	} {
		raw, err := OpenRawBytes("f.csv", []byte(text))
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if got := strings.Join(raw.Time.Evidence, "; "); got != want {
			t.Errorf("%s\ngot  %s\nwant %s", text, got, want)
		}
	}
}

// Columns, units and cells of CSV as they stand there.
func TestRawCSV(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, format, columns, walk string }{
		{"wide", "a preamble, of two\ntime; CAS ;note\ns;[kt];\n0;100,5; up \n\n1;;n/a\n", "wide CSV", "CAS kt, note ", `0 | CAS@0 "100,5" 100.5 | note@0 "up" | 1 | note@1 "n/a" invalid`},
		{"commas", "time,CAS,note\n0,1.5,\"a, b\"\n1,-,2\n", "wide CSV", "CAS , note ", `0 | CAS@0 "1.5" 1.5 | note@0 "a, b" | 1 | CAS@1 "-" invalid | note@1 "2" 2`},
		{"a row that is no units", "time,CAS,note\n0,kt,s\n1,kt,s\n", "wide CSV", "CAS , note ", `0 | CAS@0 "kt" | note@0 "s" | 1 | CAS@1 "kt" | note@1 "s"`},
		{"long", "time,parameter,value\n0,CAS,1\n0,ALT,\n1,CAS,2\n1,,3\n" + strings.Repeat("2,ALT,bad\n", 6), "long CSV", "CAS , ALT ", `0 | CAS@0 "1" 1 | 0 | 1 | CAS@1 "2" 2 | 1` + strings.Repeat(` | 2 | ALT@2 "bad"`, 6)},
		{"a column without a name", "time,CAS,,ALT\n0,1,2,3\n1,4,5,6\n", "wide CSV", "CAS , (column 3) , ALT ", `0 | CAS@0 "1" 1 | (column 3)@0 "2" 2 | ALT@0 "3" 3 | 1 | CAS@1 "4" 4 | (column 3)@1 "5" 5 | ALT@1 "6" 6`},
	} {
		raw, err := OpenRawBytes("d/f.csv", []byte(c.text))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := walked(t, raw)
		var columns []string
		for _, c := range raw.Columns {
			columns = append(columns, c.Name+" "+c.Unit)
		}
		if raw.Name != "f.csv" || raw.Bytes != int64(len(c.text)) || len(raw.SHA256) != 64 || !strings.HasPrefix(raw.Format, c.format) || strings.Join(columns, ", ") != c.columns || got != c.walk {
			t.Errorf("%s: %s, %d bytes, columns %q\ngot  %s\nwant %s", c.name, raw.Format, raw.Bytes, columns, got, c.walk)
		}
		if again := walked(t, raw); again != got {
			t.Errorf("%s: the second walk finds %s", c.name, again)
		}
		if want := strings.Contains(c.text, "1,,3"); want != strings.Contains(strings.Join(raw.Notes, ""), "1 row without a parameter name left out, the first in line 5") {
			t.Errorf("%s: notes %q", c.name, raw.Notes)
		}
	}
	for text, want := range map[string]string{
		"1,2\n3,4\n": "has no line that looks like a header: names, with rows of as many cells below",
		"time" + strings.Repeat(",x", maxColumns) + "\n0" + strings.Repeat(",1", maxColumns) + "\n": "the header has 10001 columns; at most 10000 are read",
	} {
		if _, err := OpenRawBytes("f.csv", []byte(text)); err == nil || !strings.Contains(problemsOf(t, err)[0].Cause, want) {
			t.Errorf("%.40q: %v, want %s", text, err, want)
		}
	}
}

// The same of Arrow and Parquet: all rows first, then the cells column by column. A row
// without a time has no cells.
func TestRawColumns(t *testing.T) {
	t.Parallel()
	var text, times, cells string // of ten rows more
	for i := range 10 {
		text += fmt.Sprintf("%d,%d,\n", 2+i, 30+i)
		times += fmt.Sprintf(" | %d", 2+i)
		cells += fmt.Sprintf(` | CAS@%d "%d" %[2]d`, 2+i, 30+i)
	}
	for _, c := range []struct{ name, text, kind, walk, notes string }{
		{"wide", "time,CAS,note\n0,100.5, up \n1,,n/a\n,7,x\n" + text, "wide", `0 | 1` + times + ` | CAS@0 "100.5" 100.5` + cells + ` | note@0 "up" | note@1 "n/a" invalid`, "1 row without a valid time left out, the first in row 3"},
		{"long", "time,parameter,value\n0,CAS,1\n0,ALT,\n1,CAS,2\n1,,3\n" + strings.Repeat("2,ALT,bad\n", 6), "long",
			`0 | 0 | 1 | 1 | 2 | 2 | 2 | 2 | 2 | 2 | CAS@0 "1" 1 | CAS@1 "2" 2` + strings.Repeat(` | ALT@2 "bad"`, 6), "1 row without a parameter name left out, the first in row 4"},
	} {
		for kind, data := range columnarOf(t, c.text) {
			raw, err := OpenRawBytes("f", data)
			if err != nil {
				t.Errorf("%s, %s: %v", kind, c.name, err)
				continue
			}
			if got := walked(t, raw); got != c.walk || raw.Format != c.kind+" "+kind || strings.Join(raw.Notes, "; ") != c.notes {
				t.Errorf("%s, %s: %s, notes %q\ngot  %s\nwant %s", kind, c.name, raw.Format, raw.Notes, got, c.walk)
			}
		}
	}
	f := usualCanonical()
	raw, err := OpenRawBytes("f", f.bytes(t))
	if err != nil {
		t.Fatal(err)
	}
	if got := described(raw); got != "time_s as seconds, unit s, parameter parameter, value value" || raw.Format != "canonical columns, Parquet" || len(raw.Time.Evidence) != 1 {
		t.Errorf("%s of %s", got, raw.Format)
	}
	if got := walked(t, raw); !strings.HasPrefix(got, "0 | 1 | 3 | 0.5 |") || !strings.Contains(got, ` | computed_airspeed@1 "" 101 | computed_airspeed@3 "" 103 |`) {
		t.Errorf("canonical: %s", got)
	}
}
