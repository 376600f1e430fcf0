package workbook

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/klauspost/compress/zip"
	"github.com/xuri/excelize/v2"
)

// rowsOf reads a sheet whole: a text for each row, "2: B=kt" for a B2 of kt.
func rowsOf(b *Book, s Sheet) (all []string, err error) {
	rows, err := b.Rows(s)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for {
		number, cells, err := rows.Next()
		if errors.Is(err, io.EOF) {
			return all, nil
		}
		if err != nil {
			return all, err
		}
		line := fmt.Sprintf("%d:", number)
		for _, c := range cells {
			if c.Text != "" {
				line += fmt.Sprintf(" %s=%s", strings.TrimRight(CellName(c.Column, 1), "1"), c.Text)
			}
		}
		all = append(all, line)
	}
}

func sheetOf(t *testing.T, data []byte, name string) []string {
	t.Helper()
	b, err := Open(data, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range b.Sheets {
		if s.Name == name {
			rows, err := rowsOf(b, s)
			if err != nil {
				t.Fatal(err)
			}
			return rows
		}
	}
	t.Fatalf("no sheet %q among %v", name, b.Sheets)
	return nil
}

// excel writes a workbook with excelize, which shares nothing with this reader.
func excel(t *testing.T, date1904 bool, fill func(f *excelize.File, set func(cell string, value any, format string))) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &date1904}); err != nil {
		t.Fatal(err)
	}
	fill(f, func(cell string, value any, format string) {
		if err := f.SetCellValue("Sheet1", cell, value); err != nil {
			t.Fatal(err)
		}
		if format != "" {
			style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
			if err != nil {
				t.Fatal(err)
			}
			if err := f.SetCellStyle("Sheet1", cell, cell, style); err != nil {
				t.Fatal(err)
			}
		}
	})
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestReadsWhatExcelizeWrites(t *testing.T) {
	t.Parallel()
	data := excel(t, false, func(f *excelize.File, set func(string, any, string)) {
		set("A1", "time", "")
		set("B1", "say \"x\", <y> & ü", "")
		set("A2", 0.125, "0.00") // shown as 0.13: the number counts
		set("B2", 140, `0" d/h"`)
		set("C2", true, "")
		set("A4", -1.5e-7, "")
		set("AB4", false, "")
		set("B4", "time", "")
		if err := f.SetCellRichText("Sheet1", "C4", []excelize.RichTextRun{{Text: "rich "}, {Text: "text", Font: &excelize.Font{Bold: true}}}); err != nil {
			t.Fatal(err)
		}
		if _, err := f.NewSheet("Other"); err != nil {
			t.Fatal(err)
		}
		if err := f.SetSheetVisible("Other", false); err != nil {
			t.Fatal(err)
		}
	})
	want := []string{"1: A=time B=say \"x\", <y> & ü", "2: A=0.125 B=140 C=TRUE", "4: A=-0.00000015 B=time C=rich text AB=FALSE"}
	got := sheetOf(t, data, "Sheet1")
	if len(got) == 4 { // the empty row 3 may be in the file
		got = append(got[:2:2], got[3])
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	b, err := Open(data, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Sheets) != 2 || b.Sheets[0].Hidden || !b.Sheets[1].Hidden {
		t.Errorf("sheets %+v; want the second one hidden", b.Sheets)
	}
}

// Instants written by excelize as day numbers come back to the millisecond, in both
// systems of counting days. Time and date alone show what their format shows.
func TestDates(t *testing.T) {
	t.Parallel()
	instant := time.Date(2031, 12, 30, 23, 59, 58, 125e6, time.UTC)
	for _, date1904 := range []bool{false, true} {
		data := excel(t, date1904, func(_ *excelize.File, set func(string, any, string)) {
			set("A1", instant, "yyyy-mm-dd hh:mm:ss.000")
			set("B1", instant, "hh:mm:ss.000") // a clock: the day is not shown
			set("C1", instant.Truncate(24*time.Hour), "dd/mm/yyyy")
			set("D1", 0.5, "[h]:mm:ss")
			set("E1", 0.125, "mm:ss.0")
			set("F1", 0.125, `"hh:mm" 0.00`)
			set("G1", 0.125, `[Red]0.00\d`)
			set("H1", 45000, "mmmm")
			set("I1", 45000, "General")
			set("J1", "12:00", "hh:mm")
		})
		// Day 45,000 is 15 March 2023 counted from 1900, and 1,462 days later from 1904
		// (published difference of the two systems).
		month := "2023-03-15"
		if date1904 {
			month = "2027-03-16"
		}
		want := []string{"1: A=2031-12-30T23:59:58.125 B=23:59:58.125 C=2031-12-30 D=12:00:00 E=03:00:00 F=0.125 G=0.125 H=" + month + " I=45000 J=12:00"}
		if diff := cmp.Diff(want, sheetOf(t, data, "Sheet1")); diff != "" {
			t.Errorf("1904 %v (-want +got):\n%s", date1904, diff)
		}
	}
}

// Days of either system against excelize's own conversion.
func TestDaysAgainstExcelize(t *testing.T) {
	t.Parallel()
	for _, date1904 := range []bool{false, true} {
		b := &Book{date1904: date1904}
		for _, n := range []int64{1, 2, 59, 61, 62, 366, 1461, 1462, 36526, 45000, 60000, 2958465} {
			want, err := excelize.ExcelDateToTime(float64(n), date1904)
			if err != nil {
				t.Fatal(err)
			}
			if got := b.day(n); !got.Equal(want) && n < 2958465 {
				t.Errorf("day %d, 1904 %v: %s, want %s", n, date1904, got.Format(time.DateOnly), want.Format(time.DateOnly))
			}
		}
	}
}

const (
	relationsOfFile = `<Relationships><Relationship Id="a" Type="x/officeDocument" Target="/xl/workbook.xml"/></Relationships>`
	relationsOfBook = `<Relationships><Relationship Id="r1" Type="x/worksheet" Target="worksheets/one.xml"/><Relationship Id="r2" Type="x/styles" Target="styles.xml"/><Relationship Id="r3" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`
	bookOfOne       = `<workbook xmlns:r="r"><sheets><sheet name="One" sheetId="1" r:id="r1"/></sheets></workbook>`
	twoStyles       = `<styleSheet><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="22"/></cellXfs><dxfs><dxf><numFmt numFmtId="0" formatCode="yyyy"/></dxf></dxfs></styleSheet>`
	twoTexts        = `<sst><si><t>first</t><rPh><t>no</t></rPh></si><si><r><rPr><b/></rPr><t xml:space="preserve">se </t></r><r><t>cond</t></r></si></sst>`
)

// made is a workbook of one sheet written by hand; parts replaces the others.
func made(t testing.TB, sheetData string, parts map[string]string) []byte {
	t.Helper()
	all := map[string]string{"[Content_Types].xml": "<Types/>", "_rels/.rels": relationsOfFile, "xl/workbook.xml": bookOfOne, "xl/_rels/workbook.xml.rels": relationsOfBook,
		"xl/styles.xml": twoStyles, "xl/sharedStrings.xml": twoTexts, "xl/worksheets/one.xml": "<worksheet><cols/><sheetData>" + sheetData + "</sheetData><row/></worksheet>"}
	for name, text := range parts {
		all[name] = text
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range all {
		if text == "" {
			continue
		}
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, text); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The cells of ECMA-376 part 1, 18.3.1.4 and 18.18.11, as programs write them.
func TestCells(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, sheet, want string }{
		{"shared texts", `<row><c t="s"><v>0</v></c><c t="s"><v>1</v></c></row>`, "1: A=first B=se cond"},
		{"no names of cells", `<row><c><v>1</v></c><c/><c><v> 2 </v></c></row><row r="7"><c><v>3</v></c></row>`, "1: A=1 C=2 7: A=3"},
		{"names of cells", `<row r="2"><c r="B2"><v>1</v></c><c r="aa2"><v>2</v></c><c><v>3</v></c></row>`, "2: B=1 AA=2 AB=3"},
		{"text in the cell", `<row><c t="inlineStr"><is><t>in</t></is></c><c t="inlineStr"><is><r><t>a</t></r><r><t>b</t></r></is></c></row>`, "1: A=in B=ab"},
		{"stored results", `<row><c><f>A2*2</f><v>4</v></c><c t="str"><f>"x"</f><v>x</v></c><c t="b"><f>A2</f><v>1</v></c></row>`, "1: A=4 B=x C=TRUE"},
		{"errors", `<row><c t="e"><v>#DIV/0!</v></c><c t="e"><f>NA()</f><v>#N/A</v></c></row>`, "1: A=#N/A B=#N/A"},
		{"dates", `<row><c s="1"><v>45000.5</v></c><c s="0"><v>45000.5</v></c><c t="d"><v>2031-12-30T01:02:03</v></c><c s="1" t="s"><v>0</v></c><c s="99"><v>5</v></c></row>`, "1: A=2023-03-15T12:00:00 B=45000.5 C=2031-12-30T01:02:03 D=first E=5"},
		{"what is no cell", `<row><extLst><ext><c><v>9</v></c></ext></extLst><c><v>1</v><extLst><v>8</v></extLst></c></row>`, "1: A=1"},
		{"entities", `<row><c t="str"><v>a&lt;&#65;&amp;</v></c></row>`, "1: A=a<A&"},
	} {
		if got := strings.Join(sheetOf(t, made(t, c.sheet, nil), "One"), " "); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	b, err := Open(made(t, `<row><c><f>1+1</f></c></row><row r="3"><c r="C3"><f>1</f></c></row>`, nil), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := b.Rows(b.Sheets[0])
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, _, err := rows.Next(); err != nil {
			break
		}
	}
	if rows.Pending != 2 || rows.FirstPending != "A1" {
		t.Errorf("%d formulas without a result, the first in %s; want 2 and A1", rows.Pending, rows.FirstPending)
	}
}

// How much of a sheet has been read is known to the decoder's own 4 KiB and those of a
// row.
func TestPart(t *testing.T) {
	t.Parallel()
	b, err := Open(made(t, strings.Repeat(`<row><c><v>1</v></c></row>`, 10_000), nil), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := b.Rows(b.Sheets[0])
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for range 5000 {
		if _, _, err := rows.Next(); err != nil {
			t.Fatal(err)
		}
	}
	if got := rows.Part(); got < 0.48 || got > 0.55 {
		t.Errorf("%v of it after half of its rows", got)
	}
	for err == nil {
		_, _, err = rows.Next()
	}
	if got := rows.Part(); got != 1 {
		t.Errorf("%v of it at its end", got)
	}
}

func TestFaults(t *testing.T) {
	t.Parallel()
	deep := strings.Repeat("<a>", mostDepth+1)
	for _, c := range []struct {
		name, sheet string
		parts       map[string]string
		want        string
	}{
		{"cut off", `<row><c><v>1`, map[string]string{"xl/worksheets/one.xml": "<worksheet><sheetData><row><c><v>1"}, "unexpected EOF"},
		{"ends after a row", "", map[string]string{"xl/worksheets/one.xml": "<worksheet><sheetData><row><c><v>1</v></c></row>"}, "unexpected EOF"},
		{"an empty part", "", map[string]string{"xl/worksheets/one.xml": " "}, "unexpected EOF"},
		{"tags that do not match", `<row><c><v>1</c></v></row>`, nil, "closed by </c>"},
		{"rows that go back", `<row r="5"/><row r="5"/>`, nil, `row "5" after row 5`},
		{"a row beyond the last", `<row r="1048577"/>`, nil, `row "1048577" after row 0`},
		{"cells that go back", `<row><c r="B1"/><c r="A1"/></row>`, nil, `row 1: a cell "A1" where one from C1 on is expected`},
		{"a cell without a column", `<row><c r="7"/></row>`, nil, `a cell "7"`},
		{"a column beyond the last", `<row><c r="XFE1"/></row>`, nil, `a cell "XFE1"`},
		{"a shared text that is not there", `<row><c t="s"><v>2</v></c></row>`, nil, `cell A1: the shared text "2" is not there`},
		{"an unknown type", `<row><c t="q"><v>2</v></c></row>`, nil, `the type "q" of it is not known`},
		{"a large text", `<row><c t="str"><v>` + strings.Repeat("x", 2*mostToken) + `</v></c></row>`, nil, "text of more than 1048576 bytes"},
		{"elements inside each other", `<row><c><v>` + deep, nil, "elements inside each other"},
		{"a sheet too large", `<row/>` + strings.Repeat(" ", 4<<20), nil, `part "xl/worksheets/one.xml" of it unpacks to more than 4194304 bytes`},
		{"another encoding", "", map[string]string{"xl/worksheets/one.xml": `<?xml version="1.0" encoding="UTF-7"?><worksheet/>`}, `it is written in "UTF-7", not in UTF-8`},
		{"no sheet", "", map[string]string{"xl/worksheets/one.xml": ""}, `it has no part "xl/worksheets/one.xml"`},
		{"no book", "", map[string]string{"xl/workbook.xml": ""}, `it has no part "xl/workbook.xml"`},
		{"shared texts too large", "", map[string]string{"xl/sharedStrings.xml": "<sst>" + strings.Repeat(" ", mostPart) + "</sst>"}, `part "xl/sharedStrings.xml" of it unpacks to more than 33554432 bytes`},
		{"an entity of its own", "", map[string]string{"xl/sharedStrings.xml": `<!DOCTYPE s [<!ENTITY a "aaaa">]><sst><si><t>&a;</t></si></sst>`}, "invalid character entity &a;"},
	} {
		b, err := Open(made(t, c.sheet, c.parts), 4<<20)
		if err == nil {
			_, err = rowsOf(b, b.Sheets[0])
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
}

// A part that unpacks to more than the archive says, by one byte of the archive changed,
// is refused and not cut off.
func TestSizesThatLie(t *testing.T) {
	t.Parallel()
	data := made(t, strings.Repeat(`<row><c><v>1</v></c></row>`, 1000), nil)
	size := uint32(len("<worksheet><cols/><sheetData></sheetData><row/></worksheet>") + 26*1000)
	real := []byte{byte(size), byte(size >> 8), byte(size >> 16), byte(size >> 24)}
	lie := []byte{100, 0, 0, 0}
	changed := bytes.ReplaceAll(data, real, lie)
	if bytes.Equal(changed, data) {
		t.Fatal("the size is not in the archive")
	}
	b, err := Open(changed, 1<<20)
	if err == nil {
		_, err = rowsOf(b, b.Sheets[0])
	}
	if err == nil {
		t.Error("a sheet larger than the archive says was read")
	}
}

func FuzzOpen(f *testing.F) {
	f.Add([]byte(`<row><c t="s"><v>0</v></c><c r="C1" s="1"><v>45000.5</v></c></row>`), []byte(twoStyles), []byte(twoTexts))
	f.Add([]byte(`<row r="3"><c t="inlineStr"><is><t>x</t></is></c><c><f>1</f></c></row>`), []byte(`<styleSheet><numFmts><numFmt numFmtId="164" formatCode="[h]:mm;@"/></numFmts><cellXfs><xf numFmtId="164"/></cellXfs></styleSheet>`), []byte(`<sst/>`))
	f.Add([]byte(`<row><c t="b"><v>1</v></c><c t="e"><v>#N/A</v></c><c t="d"><v>2031-01-01</v></c></row>`), []byte(`<a><![CDATA[x]]></a>`), []byte(`<sst><si><rPh><t>a</t></rPh><r><t>b</t></r></si></sst>`))
	f.Fuzz(func(t *testing.T, sheet, styles, texts []byte) {
		b, err := Open(made(t, string(sheet), map[string]string{"xl/styles.xml": string(styles) + " ", "xl/sharedStrings.xml": string(texts) + " "}), 1<<20)
		if err != nil {
			return
		}
		rows, err := b.Rows(b.Sheets[0])
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		last := 0
		for {
			number, cells, err := rows.Next()
			if err != nil {
				return
			}
			if number <= last || number > MostRows {
				t.Fatalf("row %d after %d", number, last)
			}
			last = number
			for i, c := range cells {
				if c.Column < i || c.Column >= MostColumns || i > 0 && c.Column <= cells[i-1].Column {
					t.Fatalf("row %d: cell %d in column %d", number, i, c.Column)
				}
			}
		}
	})
}

func FuzzFormat(f *testing.F) {
	for _, code := range []string{"yyyy-mm-dd", "[h]:mm:ss.000", `0.00" d"`, "General", `[$-409]d\-mmm;@`, "[", `"`, `\`, "_"} {
		f.Add(code)
	}
	f.Fuzz(func(t *testing.T, code string) {
		if got := formatOf(code); got > date|clock {
			t.Fatalf("%q: %d", code, got)
		}
	})
}
