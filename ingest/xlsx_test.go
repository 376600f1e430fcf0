package ingest

import (
	"bytes"
	"crypto/sha256"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"downlock/ingest/export"
	"downlock/ingest/workbook"
)

// sheetRows are the cells of a sheet, row by row; nil for an empty cell.
type sheetRows [][]any

// workbookOf writes a workbook with excelize, which shares nothing with our reader. Times
// get the format of an instant.
func workbookOf(t testing.TB, sheets map[string]sheetRows, order ...string) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	format := "yyyy-mm-dd hh:mm:ss.000"
	style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range order {
		if i == 0 {
			err = f.SetSheetName("Sheet1", name)
		} else {
			_, err = f.NewSheet(name)
		}
		if err != nil {
			t.Fatal(err)
		}
		for row, cells := range sheets[name] {
			for column, v := range cells {
				cell := workbook.CellName(column, row+1)
				if err := f.SetCellValue(name, cell, v); err != nil {
					t.Fatal(err)
				}
				if _, is := v.(time.Time); is {
					if err := f.SetCellStyle(name, cell, cell, style); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

var (
	plainRows = sheetRows{
		{"An invented export"},
		{"time", "CAS", "LEVER", "WOW"},
		{"s", "kt", nil, nil},
		{0, 100, nil, true},
		{0.5, nil, "DN", nil},
		{1, 101.5, nil, false},
		{1.5, "#N/A", "UP", nil},
	}
	infoRows = sheetRows{{"Aircraft", "invented"}, {"Flights", 3}}
)

func TestWorkbook(t *testing.T) {
	t.Parallel()
	want := samples{"computed_airspeed": {{0, 100}, {1, 101.5}}, "gear_lever": {{0.5, 2}, {1.5, 0}}, "weight_on_wheels": {{0, 1}, {1, 0}}}
	at := time.Date(2031, 12, 30, 23, 59, 59, 0, time.UTC)
	seconds := func(s float64) time.Time { return at.Add(time.Duration(s * float64(time.Second))) }
	instants := sheetRows{{"time", "CAS", "LEVER", "WOW"}, {seconds(0), 100, nil, 1}, {seconds(0.5), nil, "DN", nil}, {seconds(1), 101.5, nil, 0}, {seconds(1.5), nil, "UP", nil}}
	for _, tt := range []struct {
		name   string
		data   []byte
		format string
	}{
		{"one sheet", workbookOf(t, map[string]sheetRows{"Data": plainRows}, "Data"), "wide XLSX"},
		{"a sheet for people before it", workbookOf(t, map[string]sheetRows{"Info": infoRows, "Data": plainRows}, "Info", "Data"), "wide XLSX"},
		{"instants", workbookOf(t, map[string]sheetRows{"Data": instants}, "Data"), "wide XLSX"},
		{"long", workbookOf(t, map[string]sheetRows{"Data": {{"time", "parameter", "value"}, {0, "CAS", 100}, {0, "WOW", true}, {0.5, "LEVER", "DN"}, {1, "CAS", 101.5}, {1, "WOW", false}, {1.5, "LEVER", "UP"}}}, "Data"), "long XLSX"},
	} {
		r, err := ReadBytes("f.xlsx", tt.data, profileOf(t, "column: time", testColumns))
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		got := samplesOf(r)
		if tt.name == "instants" { // on the axis from the first midnight
			if !r.Epoch.Equal(at.Truncate(24 * time.Hour)) {
				t.Errorf("epoch %v", r.Epoch)
			}
			for _, all := range got {
				for i := range all {
					all[i][0] -= 86399
				}
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.name, diff)
		}
		if r.Format != tt.format || len(r.Notes) > 0 {
			t.Errorf("%s: %s, notes %q", tt.name, r.Format, r.Notes)
		}
		raw, err := OpenRawBytes("f.xlsx", tt.data)
		if err != nil || raw.Format != tt.format || raw.Time.Column != "time" {
			t.Errorf("%s: surveyed as %+v, %v", tt.name, raw, err)
		}
	}
}

// Messages name sheet and cell; the places are counted by hand.
func TestWorkbookProblems(t *testing.T) {
	t.Parallel()
	cells := func(row ...any) sheetRows {
		return sheetRows{{"a, \"preamble\""}, nil, {"time", "x", "CAS", "WOW"}, row}
	}
	for _, tt := range []struct {
		name, sheet string
		data        []byte
		cause, hint string
	}{
		{"a text for a number", "", workbookOf(t, map[string]sheetRows{"D": cells(0, "é, \"q\"", "fast")}, "D"), `sheet "D", cell C4: column "CAS": "fast" is not a number`, "invalid_tokens"},
		{"a text with a decimal comma", "", workbookOf(t, map[string]sheetRows{"D": cells(0, nil, "100,5")}, "D"), `sheet "D", cell C4: column "CAS": "100,5" is not a number`, "decimal mark"},
		{"a number for a switch", "", workbookOf(t, map[string]sheetRows{"D": cells(0, nil, nil, 7)}, "D"), `sheet "D", cell D4: column "WOW": "7" is neither true nor false`, "true_when"},
		{"no time", "", workbookOf(t, map[string]sheetRows{"D": cells("soon", nil, 1)}, "D"), `sheet "D", cell A4: "soon" is not a time`, "HH:MM:SS"},
		{"another unit", "", workbookOf(t, map[string]sheetRows{"D": {{"time", "ALT"}, {"s", "m"}, {0, 1}}}, "D"), `sheet "D", cell B2: column "ALT" is in m here, but the profile says ft`, "under pressure_altitude"},
		{"nothing mapped", "", workbookOf(t, map[string]sheetRows{"D": {{"time", "Cas"}, {0, 1}}}, "D"), `sheet "D", row 1: has none of the columns`, `did you mean "Cas"?`},
		{"two exports", "", workbookOf(t, map[string]sheetRows{"A": plainRows, "B": plainRows}, "A", "B"), `is a workbook with 2 sheets that may be the export: "A", "B"`, "test.yaml (sheet: A)"},
		{"a sheet that is not there", "data", workbookOf(t, map[string]sheetRows{"Data": plainRows}, "Data"), `has no sheet "data"; it has: "Data"`, `did you mean "Data"?`},
		{"no data", "", workbookOf(t, nil, "Empty"), `without a sheet of data; its sheets are: "Empty"`, "again"},
		{"a workbook with a password", "", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + strings.Repeat("\x00", 600)), "or a workbook with a password", "save the sheet as .xlsx without a password"},
		{"a large file", "", append(workbookOf(t, nil, "Empty"), make([]byte, workbook.MostBytes)...), "is a workbook of 64 MiB; workbooks of at most 64 MiB are read", "save the sheet as CSV"},
	} {
		profile := profileOf(t, "column: time", testColumns)
		profile.Sheet = tt.sheet
		_, err := ReadBytes("f.xlsx", tt.data, profile)
		p := problemsOf(t, err)[0]
		if !strings.Contains(p.Cause, tt.cause) || !strings.Contains(p.Hint, tt.hint) || p.Line != 0 || p.Source != "" {
			t.Errorf("%s: %+v, want %s and %s", tt.name, *p, tt.cause, tt.hint)
		}
	}
	// The sheet that is named is read, hidden or not.
	profile := profileOf(t, "column: time", testColumns)
	profile.Sheet = "B"
	if r, err := ReadBytes("f.xlsx", workbookOf(t, map[string]sheetRows{"A": plainRows, "B": {{"time", "CAS"}, {0, 7}}}, "A", "B"), profile); err != nil || r.Lookup("computed_airspeed").Numbers()[0] != 7 {
		t.Errorf("sheet B was not read: %v", err)
	}
}

// A small file that unpacks to much is refused at the limit and takes little memory.
func TestWorkbookBomb(t *testing.T) {
	row := `<row><c><v>1</v></c><c r="XFD1"><v>1</v></c></row>`
	data := zipped(t, map[string][]byte{"[Content_Types].xml": []byte("<Types/>"), "xl/workbook.xml": []byte(`<workbook xmlns:r="r"><sheets><sheet name="A" r:id="a"/></sheets></workbook>`),
		"xl/_rels/workbook.xml.rels": []byte(`<Relationships><Relationship Id="a" Type="/worksheet" Target="worksheets/a.xml"/></Relationships>`),
		"xl/worksheets/a.xml":        []byte(`<worksheet><sheetData><row><c t="str"><v>time</v></c><c t="str"><v>CAS</v></c></row>` + strings.Repeat(row, 10_000) + `</sheetData></worksheet>`)})
	// 10,000 rows of 16,384 cells are 164 MB of text, of 500 kB of XML.
	took := allocated(func() {
		_, err := Limits{MaxBytes: 10 << 20}.read("bomb", bytes.NewReader(data), int64(len(data)), profileOf(t, "column: time", testColumns), sha256.New())
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "a cell") && !strings.Contains(p.Cause, "has more than 10485760 bytes") {
			t.Errorf("%v", p)
		}
	})
	if took > 64<<20 {
		t.Errorf("took %d MiB", took>>20)
	}
}

// What our writer writes, excelize reads.
func TestWorkbookReadByExcelize(t *testing.T) {
	t.Parallel()
	table := export.Table{TimeName: "time", UnitsRow: true, Epoch: time.Date(2031, 12, 30, 23, 59, 59, 0, time.UTC), Columns: []export.Column{
		{Name: "CAS & <x>", Unit: "kt", Times: []float64{0, 1}, Numbers: []float64{100.04, 101.56}, Decimals: 1},
		{Name: "LEVER", Times: []float64{0.5}, Texts: []string{"DN"}},
	}}
	var b bytes.Buffer
	if err := export.Write(&b, export.Format{Layout: export.WideXLSX}, table); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("Export")
	if err != nil {
		t.Fatal(err)
	}
	want := [][]string{{"time", "date", "utc", "CAS & <x>", "LEVER"}, {"s", "", "", "kt"}, {"0", "2031-12-30", "23:59:59.000", "100"}, {"0.5", "", "", "", "DN"}, {"1", "2031-12-31", "00:00:00.000", "101.6"}}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func FuzzReadWorkbook(f *testing.F) {
	for _, sheet := range []string{
		`<row><c t="str"><v>time</v></c><c t="str"><v>CAS</v></c></row><row><c><v>0</v></c><c><v>1</v></c></row>`,
		`<row r="3"><c r="B3" t="inlineStr"><is><t>time</t></is></c><c t="str"><v>WOW</v></c></row><row r="9"><c r="B9"><v>0.5</v></c><c t="b"><v>1</v></c></row>`,
		`<row><c t="str"><v>time</v></c><c t="str"><v>parameter</v></c><c t="str"><v>value</v></c></row><row><c><v>0</v></c><c t="str"><v>CAS</v></c><c t="e"><v>#N/A</v></c></row>`,
		`<row><c t="str"><v>time</v></c><c t="str"><v>CAS,"
</v></c><c t="str"><v>CAS</v></c></row><row><c><v>0</v></c><c/><c t="str"><v>fast</v></c></row>`,
	} {
		f.Add([]byte(sheet))
	}
	profile := profileOf(f, "column: time", testColumns)
	f.Fuzz(func(t *testing.T, sheet []byte) {
		data := zipped(t, map[string][]byte{"[Content_Types].xml": []byte("<Types/>"), "xl/workbook.xml": []byte(`<workbook xmlns:r="r"><sheets><sheet name="A" r:id="a"/></sheets></workbook>`),
			"xl/_rels/workbook.xml.rels": []byte(`<Relationships><Relationship Id="a" Type="/worksheet" Target="worksheets/a.xml"/></Relationships>`),
			"xl/worksheets/a.xml":        []byte("<worksheet><sheetData>" + string(sheet) + "</sheetData></worksheet>")})
		fuzzRead(t, data, "XLSX", func() (*Recording, error) { return ReadBytes("f.xlsx", data, profile) })
	})
}

// allocated is how many bytes are allocated in all while f runs.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}
