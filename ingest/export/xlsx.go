package export

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/klauspost/compress/zip"
)

// The styles of a workbook's cells, by their place in xlsxStyles.
const (
	styleDate  = 1
	styleClock = 2
)

// The parts of a workbook beside its sheet and its texts, as ECMA-376 wants them.
const (
	xlsxTypes = `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
		`<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
		`<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>` +
		`<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>` +
		`<Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>` +
		`<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>`
	relationships = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">`
	officeTypes   = `http://schemas.openxmlformats.org/officeDocument/2006/relationships/`
	xlsxRoot      = relationships + `<Relationship Id="rId1" Type="` + officeTypes + `officeDocument" Target="xl/workbook.xml"/></Relationships>`
	xlsxRelated   = relationships + `<Relationship Id="rId1" Type="` + officeTypes + `worksheet" Target="worksheets/sheet1.xml"/>` +
		`<Relationship Id="rId2" Type="` + officeTypes + `styles" Target="styles.xml"/>` +
		`<Relationship Id="rId3" Type="` + officeTypes + `sharedStrings" Target="sharedStrings.xml"/></Relationships>`
	spreadsheet = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	xlsxBook    = `<workbook ` + spreadsheet + ` xmlns:r="` + "http://schemas.openxmlformats.org/officeDocument/2006/relationships" + `">` +
		`<sheets><sheet name="Export" sheetId="1" r:id="rId1"/></sheets></workbook>`
	xlsxStyles = `<styleSheet ` + spreadsheet + `><numFmts count="2"><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd"/><numFmt numFmtId="165" formatCode="hh:mm:ss.000"/></numFmts>` +
		`<fonts count="1"><font/></fonts><fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills>` +
		`<borders count="1"><border/></borders><cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>` +
		`<cellXfs count="3"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>` +
		`<xf numFmtId="165" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs></styleSheet>`
)

// sheetWriter writes the sheet of a workbook; texts are kept and written after it.
type sheetWriter struct {
	out   *bufio.Writer
	texts map[string]int
	order []string
	row   int
}

// xlsx writes a workbook of one sheet with the rows of the layout. Numbers are stored as
// such, date and clock as day numbers with the format of a date and of a time.
func (t *Table) xlsx(w io.Writer, rows func(*sheetWriter)) error {
	z := zip.NewWriter(w)
	for _, part := range []struct{ name, text string }{
		{"[Content_Types].xml", xlsxTypes}, {"_rels/.rels", xlsxRoot}, {"xl/workbook.xml", xlsxBook}, {"xl/_rels/workbook.xml.rels", xlsxRelated}, {"xl/styles.xml", xlsxStyles},
	} {
		if err := writePart(z, part.name, func(out *bufio.Writer) { out.WriteString(part.text) }); err != nil {
			return err
		}
	}
	sheet := &sheetWriter{texts: map[string]int{}}
	if err := writePart(z, "xl/worksheets/sheet1.xml", func(out *bufio.Writer) {
		sheet.out = out
		out.WriteString(`<worksheet ` + spreadsheet + `><sheetData>`)
		rows(sheet)
		out.WriteString(`</sheetData></worksheet>`)
	}); err != nil {
		return err
	}
	if err := writePart(z, "xl/sharedStrings.xml", func(out *bufio.Writer) {
		fmt.Fprintf(out, `<sst %s uniqueCount="%d">`, spreadsheet, len(sheet.order))
		for _, text := range sheet.order {
			out.WriteString(`<si><t xml:space="preserve">`)
			xml.EscapeText(out, []byte(text))
			out.WriteString(`</t></si>`)
		}
		out.WriteString(`</sst>`)
	}); err != nil {
		return err
	}
	return z.Close()
}

// writePart writes one part; an error of the writer shows when it is flushed.
func writePart(z *zip.Writer, name string, write func(*bufio.Writer)) error {
	part, err := z.Create(name)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(part)
	out.WriteString(xml.Header)
	write(out)
	return out.Flush()
}

// sheetCell is the value of a cell: a number with a style, or a text; nothing is nil.
type sheetCell struct {
	number string
	style  int
	text   string
}

func (s *sheetWriter) write(cells []*sheetCell) {
	s.row++
	fmt.Fprintf(s.out, `<row r="%d">`, s.row)
	for i, c := range cells {
		switch {
		case c == nil:
		case c.number != "":
			fmt.Fprintf(s.out, `<c r="%s%d" s="%d"><v>%s</v></c>`, columnLetters(i), s.row, c.style, c.number)
		case c.text != "":
			n, known := s.texts[c.text]
			if !known {
				n = len(s.order)
				s.texts[c.text], s.order = n, append(s.order, c.text)
			}
			fmt.Fprintf(s.out, `<c r="%s%d" t="s"><v>%d</v></c>`, columnLetters(i), s.row, n)
		}
	}
	s.out.WriteString(`</row>`)
}

// columnLetters is the name of a column, from 0 on.
func columnLetters(i int) string {
	name := ""
	for n := i + 1; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return name
}

func texts(words ...string) (cells []*sheetCell) {
	for _, w := range words {
		cells = append(cells, &sheetCell{text: w})
	}
	return cells
}

// cell is a sample: a text, or a number as CSV has it.
func (c *Column) cell(i int) *sheetCell {
	if c.Texts != nil {
		return &sheetCell{text: c.Texts[i]}
	}
	return &sheetCell{number: c.text(i)}
}

// startSheet writes the preamble and the header.
func (t *Table) startSheet(s *sheetWriter, header, units []string) {
	for _, line := range t.Preamble {
		s.write(texts(line))
	}
	s.write(texts(header...))
	if units != nil {
		s.write(texts(units...))
	}
}

func (t *Table) wideXLSX(w io.Writer) error {
	return t.xlsx(w, func(s *sheetWriter) {
		calendar := t.calendar()
		header, units := []string{t.TimeName}, []string{"s"}
		if calendar != nil {
			header, units = append(header, DateColumn, ClockColumn), append(units, "", "")
		}
		first := len(header)
		for _, c := range t.Columns {
			header, units = append(header, c.Name), append(units, c.Unit)
		}
		if !t.UnitsRow {
			units = nil
		}
		t.startSheet(s, header, units)
		cursors := t.cursors()
		for _, at := range t.grid() {
			row := make([]*sheetCell, len(header))
			row[0] = &sheetCell{number: timeText(at)}
			if calendar != nil {
				row[1], row[2] = calendar.serials(at)
			}
			for i := range cursors {
				if n := cursors[i].take(at); n >= 0 {
					row[first+i] = cursors[i].column.cell(n)
				}
			}
			s.write(row)
		}
	})
}

func (t *Table) longXLSX(w io.Writer) error {
	return t.xlsx(w, func(s *sheetWriter) {
		calendar := t.calendar()
		header := []string{t.TimeName, ParameterColumn, ValueColumn}
		if calendar != nil {
			header = append(header, DateColumn, ClockColumn)
		}
		t.startSheet(s, header, nil)
		for x := range t.samples() {
			row := append([]*sheetCell{{number: timeText(x.at)}}, texts(x.column.Name)...)
			row = append(row, x.column.cell(x.index))
			if calendar != nil {
				date, clock := calendar.serials(x.at)
				row = append(row, date, clock)
			}
			s.write(row)
		}
	})
}

// serials makes the date and clock cells of a row as day numbers: 45,000 is 15 March
// 2023, and a clock is a part of a day.
func (c *calendar) serials(at int64) (date, clock *sheetCell) {
	if d, _ := c.cells(at); d == "" {
		return nil, nil
	}
	now := c.epoch.Add(time.Duration(at) * time.Millisecond)
	midnight := now.Truncate(24 * time.Hour)
	days := 45000 + math.Round(midnight.Sub(time.Date(2023, 3, 15, 0, 0, 0, 0, time.UTC)).Hours()/24)
	part := strconv.FormatFloat(now.Sub(midnight).Hours()/24, 'g', -1, 64)
	return &sheetCell{number: strconv.Itoa(int(days)), style: styleDate}, &sheetCell{number: strings.ToUpper(part), style: styleClock}
}
