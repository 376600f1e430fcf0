package ingest

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"downlock/ingest/export"
)

// The expected samples are read off the texts by eye.
func TestAlignedText(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	want := samples{"computed_airspeed": {{0, 100}, {1, 101.5}, {2, 99}}, "gear_lever": {{1, 2}, {2, 0}}}
	for _, tt := range []struct{ name, text, format string }{
		{"numbers to the right, words to the left", "" +
			"  time    CAS  LEVER\n" +
			"     0    100\n" +
			"     1  101.5  DN\n" +
			"     2     99  UP\n", "wide fixed-width text"},
		{"preamble, units and a rule that shows the columns", "" +
			"Flight 12 of 2031-03-31, printed by the readout\n\n" +
			"time CAS   LEVER\n" +
			"s    kt\n" +
			"---- ----- -----\n" +
			"0    100\n" +
			"1    101.5 DN\n" +
			"2    99    UP\n", "wide fixed-width text"},
		{"a drawn line, names and remarks of several words", "" +
			"time   CAS    THE REMARK  LEVER   NOT RECORDED\r\n" +
			"==============================================\r\n" +
			"0      100    all calm\r\n" +
			"1      101.5  a bit wet   DN\r\n" +
			"\r\n" +
			"2      99     dry \"now    UP\r\n", "wide fixed-width text"},
		{"characters of several bytes in front", "" +
			"µ°  time  CAS    LEVER\n" +
			"é   0     100\n" +
			"éé  1     101.5  DN\n" +
			"x   2     99     UP\n", "wide fixed-width text"},
		{"a known column without a value, one blank away", "" +
			"time WOW CAS   LEVER\n" +
			"0        100\n" +
			"1        101.5 DN\n" +
			"2        99    UP\n", "wide fixed-width text"},
		{"a value wider than any before", "" +
			"time    CAS  LEVER\n" +
			"   0    100\n" +
			"   1  101.5  DN\n" +
			strings.Repeat("\n", alignedLines) +
			"   299.0000  UP\n", ""},
		{"a long export", "" +
			"time  parameter  value\n" +
			"0     CAS          100\n" +
			"1     CAS        101.5\n" +
			"1     LEVER         DN\n" +
			"2     CAS           99\n" +
			"2     LEVER         UP\n", "long fixed-width text"},
		{"bars", "time|CAS|LEVER\n0|100|\n1|101.5|DN\n2|99|UP\n", "wide CSV"},
		{"a drawn table", "" +
			"| time | CAS   | LEVER |\n" +
			"|-----:|:------|-------|\n" +
			"| 0    | 100   |       |\n" +
			"| 1    | 101.5 | DN    |\n" +
			"| 2    | 99    | UP    |\n", "wide CSV"},
		{"commas, aligned too", "" +
			"time,   CAS, LEVER\n" +
			"   0,   100,\n" +
			"   1, 101.5, DN\n" +
			"   2,    99, UP\n", "wide CSV"},
	} {
		r, err := ReadBytes("f.txt", []byte(tt.text), profile)
		if tt.format == "" {
			p := problemsOf(t, err)[0]
			if p.Line != alignedLines+4 || p.Column != 6 || !strings.Contains(p.Cause, "not aligned here") || p.Hint == "" {
				t.Errorf("%s: %+v", tt.name, p)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		got := samplesOf(r)
		delete(got, "weight_on_wheels")
		if diff := cmp.Diff(want, got); diff != "" || r.Format != tt.format {
			t.Errorf("%s, %s (-want +got):\n%s", tt.name, r.Format, diff)
		}
		for _, note := range r.Notes {
			if strings.Contains(note, "without a valid time") || strings.Contains(note, "fewer cells") && strings.HasSuffix(tt.format, "text") {
				t.Errorf("%s: note %q", tt.name, note)
			}
		}
		raw, err := OpenRawBytes("f.txt", []byte(tt.text))
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if raw.Format != tt.format || raw.Time.Column != "time" {
			t.Errorf("%s: surveyed as %s, time %q", tt.name, raw.Format, raw.Time.Column)
		}
	}
}

// A name of several words that ends with another column's name, and a column without a
// value one blank away from a known one.
func TestAlignedNames(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns+"  pitch_attitude: {column: NOT CAS, unit: deg}\n")
	r := read(t, ""+
		"CAS    NOT CAS  LEVER VHF  GEAR  time\n"+
		"100          7                      0\n"+
		"101.5        8  DN                  1\n", profile)
	want := samples{"computed_airspeed": {{0, 100}, {1, 101.5}}, "pitch_attitude": {{0, 7}, {1, 8}}, "gear_lever": {{1, 2}}}
	if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestAlignedTextWrong(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	head := "time    CAS  LEVER\n   0    100  UP\n   1    101  DN\n"
	for _, tt := range []struct {
		name, text   string
		line, column int
		cause        string
	}{
		{"a value that is none", head + "   2   wrong  UP\n", 4, 8, `"wrong" is not a number`},
		{"two values without a blank", "time    CAS  LEVER\n" + strings.Repeat("   0    100  UP\n", alignedLines) + "   2101.123.5UP\n", alignedLines + 2, 8, "not aligned here"},
		{"a tab", "time    CAS  LEVER\n" + strings.Repeat("   0    100  UP\n", alignedLines) + "   2\t101\tUP\n", alignedLines + 2, 9, "not aligned here"},
		{"no time column", strings.ReplaceAll(head, "time", "hour"), 0, 0, `has no time column "time"`},
		{"nothing mapped", "time  X   Y\n   0  1   2\n", 1, 0, "has none of the columns test.yaml maps"},
		{"names only", "time  CAS\n", 0, 0, `has no time column "time"`},
		{"prose", "the time is now\nand CAS is no speed of its own\n", 0, 0, `has no time column "time"`},
		{"too many columns", "time  CAS" + strings.Repeat("  A", maxColumns-1) + "\n0     100" + strings.Repeat("  1", maxColumns-1) + "\n", 1, 1, "a header of 10001 columns; at most 10000 are read"},
		{"too long a line", head + strings.Repeat("   2    100  UP\n", alignedLines) + "   2    100" + strings.Repeat(" ", maxLineBytes) + "UP\n", alignedLines + 4, 1, "a line of more than 1048576 bytes"},
		{"a NUL byte", head + "   2 \x00  100  UP\n", 4, 6, "a NUL byte"},
	} {
		_, err := ReadBytes("f.txt", []byte(tt.text), profile)
		if p := problemsOf(t, err)[0]; p.Line != tt.line || p.Column != tt.column && tt.column > 0 || !strings.Contains(p.Cause, tt.cause) || p.Hint == "" {
			t.Errorf("%s: %s %s (%s); want %d:%d %s", tt.name, p.Position(), p.Cause, p.Hint, tt.line, tt.column, tt.cause)
		}
	}
}

// alignedText lays out the records of a CSV text in columns, each as wide as its widest
// cell and to one side, with so many blanks between.
func alignedText(t *rapid.T, text string) string {
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	width, right := make([]int, len(records[0])), make([]bool, len(records[0]))
	for i := range width {
		right[i] = rapid.Bool().Draw(t, "to the right")
		for _, record := range records {
			width[i] = max(width[i], utf8.RuneCountInString(record[i]))
		}
		width[i] += rapid.IntRange(0, 3).Draw(t, "room")
	}
	between := strings.Repeat(" ", rapid.IntRange(2, 4).Draw(t, "blanks"))
	var b strings.Builder
	for _, record := range records {
		line := ""
		for i, cell := range record {
			room := strings.Repeat(" ", width[i]-utf8.RuneCountInString(cell))
			if right[i] {
				line += between + room + cell
			} else {
				line += between + cell + room
			}
		}
		if rapid.Bool().Draw(t, "trimmed") {
			line = strings.TrimRight(line, " ")
		}
		b.WriteString(line + "\n")
	}
	return b.String()
}

// Any table has the same samples in columns aligned by blanks as in CSV.
func TestAlignedTextIsTheSame(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time, date: date, clock: utc", testColumns)
	rapid.Check(t, func(rt *rapid.T) {
		table := drawTable(rt)
		table.UnitsRow = false
		for i, text := range table.Columns[4].Texts { // quotes are text here
			table.Columns[4].Texts[i] = strings.ReplaceAll(text, `"`, "'")
		}
		var b bytes.Buffer
		if err := export.Write(&b, export.Format{Layout: export.WideCSV}, table); err != nil {
			rt.Fatal(err)
		}
		want, err := ReadBytes("f", b.Bytes(), profile)
		if err != nil {
			rt.Fatal(err)
		}
		text := alignedText(rt, b.String())
		got, err := ReadBytes("f", []byte(text), profile)
		if err != nil {
			rt.Fatalf("%v\n%s", err, text)
		}
		if diff := sameRecording(want, got); diff != "" || got.Format != "wide fixed-width text" {
			rt.Fatalf("%s differs from CSV (-CSV +this):\n%s\n%s", got.Format, diff, text)
		}
	})
}

// collected are the cells of a walk.
type collected []string

func (*collected) Row(float64) {}
func (c *collected) Cell(cell *RawCell) {
	*c = append(*c, fmt.Sprintf("%d %g %s", cell.Column, cell.Time, cell.Text))
}

func TestAlignedTextSurveyed(t *testing.T) {
	t.Parallel()
	raw, err := OpenRawBytes("f.txt", []byte("Printed 2031-03-31\n\n  time     CAS  GEAR LEVER\n     s      kt\n------  ------  ----------\n     0     100  DN\n     1   101.5  NOT UP\n     2          DN\n"))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]RawColumn{{"CAS", "kt"}, {"GEAR LEVER", ""}}, raw.Columns); diff != "" || raw.Time.Column != "time" || raw.Time.Unit != "s" {
		t.Errorf("time %+v, columns (-want +got):\n%s", raw.Time, diff)
	}
	var cells collected
	if err := raw.Walk(&cells); err != nil {
		t.Fatal(err)
	}
	if want := []string{"0 0 100", "1 0 DN", "0 1 101.5", "1 1 NOT UP", "1 2 DN"}; !slices.Equal(want, []string(cells)) {
		t.Errorf("cells %q, want %q", cells, want)
	}
}

// A hostile text costs no more time than its size: names without end, one blank apart.
func TestAlignedHostile(t *testing.T) {
	profile := profileOf(t, "column: time", testColumns)
	for name, text := range map[string]string{
		"words":        strings.Repeat("time"+strings.Repeat(" A", 30_000)+"\n", 18) + "0\n",
		"one long":     strings.Repeat("time "+strings.Repeat("A", 200_000)+"\n", 18) + "0\n",
		"most columns": strings.Repeat("time"+strings.Repeat(" A", maxColumns-2)+"\n", 100) + "0\n",
	} {
		begin := time.Now()
		_, err := ReadBytes("f.txt", []byte(text), profile)
		problemsOf(t, err)
		_, err = OpenRawBytes("f.txt", []byte(text))
		problemsOf(t, err)
		if took := time.Since(begin); took > 20*time.Second {
			t.Errorf("%s takes %s", name, took)
		} else {
			t.Logf("%s takes %s", name, took)
		}
	}
}

func FuzzReadAligned(f *testing.F) {
	f.Add([]byte("  time    CAS  LEVER\n     0    100  UP\n     1  101.5  DN\n"))
	f.Add([]byte("time CAS   LEVER\ns    kt\n---- ----- -----\n0    100\n1    101,5 DN\n"))
	f.Add([]byte("µ°  time  CAS\né   0     100\n\xb0   1   7\n\n==\n2\t3\n"))
	profile := profileOf(f, "column: time", testColumns)
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, "aligned text", func() (*Recording, error) { return ReadBytes("f.txt", data, profile) })
		if raw, err := OpenRawBytes("f.txt", data); err == nil {
			var cells collected
			_ = raw.Walk(&cells)
		}
	})
}
