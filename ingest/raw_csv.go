package ingest

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
)

// headRows is how many rows tell the time columns: four minutes and
// more at 8 rows a second.
const headRows = 2000

// headerSampleLines is how many lines after a header are held against it.
const headerSampleLines = 20

// openCSV finds header, units and time columns of a CSV export.
func (raw *Raw) openCSV(r *reading, in io.Reader) error {
	t := &csvText{window: newWindow(in, 0), file: r.file}
	t.more(0)
	t.skipMark()
	begin := *t
	if !t.findRawHeader() && t.failure() == nil {
		*t = begin
		t.findRawAligned()
	}
	if t.columns == nil {
		if err := t.failure(); err != nil {
			return err
		}
		return r.problem("has no line that looks like a header: names, with rows of as many cells below",
			"a survey reads CSV with , ; | or tab between the cells, text in columns aligned by blanks, Parquet and Arrow IPC files")
	}
	if len(t.columns) > maxColumns {
		return t.problem(0, fmt.Sprintf("the header has %d columns; at most %d are read", len(t.columns), maxColumns), "export fewer parameters")
	}
	t.skipRule()
	units := t.takeUnits()
	t.skipRule()
	h := newHead(t.columns, units)
	ahead := *t
	h.point = t.decimalMark()
	for n := 0; n < headRows && ahead.advance(); n++ {
		if len(ahead.line) > 0 && len(ahead.line) <= maxLineBytes {
			h.addRow(allCells(ahead.line, t.delimiter))
		}
	}
	time, ok := h.findTime()
	if !ok {
		return noRawTime(r, t.columns)
	}
	raw.Time = time
	raw.Format = "wide " + t.kind()
	places := raw.takeColumns(h)
	if raw.Time.Long.Parameter != "" {
		raw.Format = "long " + t.kind()
	}
	if t.codepage {
		raw.Format += ", " + windows1252
	}
	w := csvWalk{columns: t.columns, delimiter: t.delimiter, point: h.point, places: places, lines: t.number, gaps: t.gaps}
	raw.walk = func(visit RawVisitor) error {
		_, _, err := raw.unpacked(sha256.New(), func(r *reading, c *content) error {
			if c.workbook != nil {
				return r.readWorkbook(c.workbook, func(in io.Reader, _ int64) error { return raw.walkCSV(r, in, w, visit) })
			}
			head, err := c.peek(128)
			if err != nil {
				return err
			}
			in, _, _ := textOf(c, head, r.file)
			return raw.walkCSV(r, in, w, visit)
		})
		return err
	}
	return nil
}

// findRawHeader stands after the first line of names that has the most cells.
// A name is neither a number nor a time; below it are rows of as many cells.
func (t *csvText) findRawHeader() bool {
	var best *csvText
	for t.number < maxHeaderLines && t.advance() {
		for _, delimiter := range delimiters {
			columns := headerCells(t.line, delimiter)
			if len(columns) < 2 || best != nil && len(columns) <= len(best.columns) || !allNames(columns) {
				continue
			}
			found := *t
			found.columns, found.delimiter = columns, delimiter
			if found.rowsFit() {
				best = &found
			}
		}
	}
	if best == nil {
		return false
	}
	*t = *best
	return true
}

func allNames(columns []string) bool {
	named := 0
	for _, name := range columns {
		if isTime([]byte(name)) {
			return false
		}
		if name != "" {
			named++
		}
	}
	return 2*named > len(columns)
}

// rowsFit reports whether most lines after the header have as many cells as it;
// of a header without rows that cannot be said and it fits.
func (t *csvText) rowsFit() bool {
	ahead := *t
	lines, fit := 0, 0
	for lines < headerSampleLines && ahead.advance() {
		if len(ahead.line) == 0 {
			continue
		}
		lines++
		cells := allCells(ahead.line, t.delimiter)
		if n := len(cells); n >= len(t.columns) && len(bytes.TrimSpace(bytes.Join(cells[len(t.columns):], nil))) == 0 {
			fit++
		}
	}
	return 2*fit > lines || lines == 0
}

// takeUnits passes over a row of units and returns them by column, nil for none.
func (t *csvText) takeUnits() []string {
	row := *t
	if !row.advance() || len(row.line) > maxLineBytes {
		return nil
	}
	s := splitter{delimiter: t.delimiter, wanted: bytes.Repeat([]byte{1}, len(t.columns))}
	cells, _, _, open := s.splitQuoted(row.line)
	if open >= 0 || !isUnitsRow(&s, cells, -1) {
		return nil
	}
	units := make([]string, len(t.columns))
	for i := range cells {
		text := s.textOf(&cells[i])
		if isTime(bytes.TrimSpace(text)) {
			return nil // a row with a number or a time in it holds data
		}
		units[cells[i].column] = bareUnit(text)
	}
	*t = row
	return units
}

// csvWalk holds the facts a walk needs of a CSV export.
type csvWalk struct {
	columns   []string
	delimiter byte
	point     byte  // decimal mark
	places    []int // of the columns, among those that are no time
	lines     int   // up to the header, or the units below it
	gaps      []gap // of fixed-width text
}

// walkCSV hands every row and cell to the visitor.
func (raw *Raw) walkCSV(r *reading, in io.Reader, w csvWalk, visit RawVisitor) error {
	t := csvText{window: newWindow(in, 0), file: r.file, columns: w.columns, delimiter: w.delimiter}
	t.more(0)
	t.skipMark()
	for t.number < w.lines && t.advance() {
	}
	t.keep = false
	t.gaps = w.gaps
	point, places := w.point, w.places
	r.axis.point = point
	t.layout = r.layoutOf(t.columns)
	if t.layout.long() {
		r.axis.midnight = midnightStepLong
	}
	known := map[string]int{}
	for i, c := range raw.Columns {
		known[c.Name] = i
	}
	rows := newCSVRows(r, &t, bytes.Repeat([]byte{1}, len(t.columns)))
	var cell RawCell
	for {
		at, more, err := rows.next()
		if err != nil {
			return err
		}
		if !more {
			if t.codepage {
				r.notes = append(r.notes, t.codepageNote())
			}
			raw.finish(r)
			return nil
		}
		visit.Row(at)
		cell.Time = at
		if t.layout.long() {
			name := rows.trimmed(t.layout.parameter)
			if len(name) == 0 {
				r.unnamed.add(t.number)
				continue
			}
			cell.Column = raw.index(known, string(name))
			if cell.take(rows.trimmed(t.layout.value), point, &r.tokens) && cell.Column >= 0 {
				visit.Cell(&cell)
			}
			continue
		}
		for i := range rows.cells {
			c := &rows.cells[i]
			cell.Column = places[c.column]
			if cell.Column >= 0 && cell.take(rows.splitter.textOf(c), point, &r.tokens) {
				visit.Cell(&cell)
			}
		}
	}
}

// take fills the cell from its text; false for a blank one.
func (cell *RawCell) take(text []byte, point byte, tokens *meaning) bool {
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return false
	}
	cell.Text = text
	cell.Number, cell.Numeric = parseDecimal(text, point)
	cell.Invalid = !cell.Numeric && tokens.isInvalidText(text)
	return true
}

// noRawTime is the problem of a file in which nothing looks like time.
func noRawTime(r *reading, columns []string) error {
	return r.problem("has no column that looks like the time of a row; it has: "+listed(columns),
		"a time column has a value in nearly every row, and the values never fall: seconds, HH:MM:SS or ISO 8601")
}
