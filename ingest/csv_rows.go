package ingest

import (
	"bytes"
	"fmt"
)

// csvRows walks the data lines of a CSV export.
type csvRows struct {
	text     *csvText
	reading  *reading
	splitter splitter
	cells    []cell // of the line at hand: the wanted ones that are not blank
	few      [fewCells]cell
	line     fewLine

	shown   []byte  // text of the last time
	shownAt float64 // what it says
}

// newCSVRows takes the columns that are wanted besides those of the time.
func newCSVRows(r *reading, t *csvText, wanted []uint8) *csvRows {
	for _, i := range []int{t.layout.time, t.layout.date, t.layout.clock} {
		if i >= 0 {
			wanted[i] = 1
		}
	}
	return &csvRows{text: t, reading: r, splitter: splitter{delimiter: t.delimiter, wanted: wanted}}
}

// next steps to the next row and returns its time; more is false at the end.
// Blank lines, rows without a time and a last line cut off are passed over, the
// last two with a note.
func (rows *csvRows) next() (at float64, more bool, err error) {
	t, r := rows.text, rows.reading
	for {
		width, extra := len(t.columns), -1
		if !rows.advanceFew() {
			if !t.advance() {
				break
			}
			if len(t.line) == 0 {
				continue
			}
			if width, extra, err = rows.cut(); err != nil {
				return 0, false, err
			}
		}
		if extra >= 0 {
			return 0, false, t.problem(extra, fmt.Sprintf("a cell beyond the %d columns of the header", len(t.columns)),
				"if this is a decimal comma in a comma-separated file, export it with ; or tab between the cells")
		}
		if width < len(t.columns) && !t.ended {
			r.notes = append(r.notes, fmt.Sprintf("the last line, %d, is incomplete and was left out", t.number))
			return 0, false, nil
		}
		if len(rows.cells) == 0 {
			continue
		}
		if width < len(t.columns) && t.gaps == nil {
			r.short.add(t.number)
		}
		at, timed, err := rows.time()
		if err != nil {
			return 0, false, err
		}
		if timed {
			rows.noteOpenEnd()
			return at, true, nil
		}
		r.untimed.add(t.number)
	}
	return 0, false, t.failure()
}

// noteOpenEnd notes a last value that may have lost its end: nothing tells 12.3
// from the beginning of 12.375 in a file cut off there.
func (rows *csvRows) noteOpenEnd() {
	t := rows.text
	if last := &rows.cells[len(rows.cells)-1]; !t.ended && int(last.at)+len(rows.splitter.textOf(last)) >= len(t.line) {
		rows.reading.notes = append(rows.reading.notes, fmt.Sprintf("the last line, %d, has no line end: if the file is incomplete, its last value may be wrong", t.number))
	}
}

// cut splits the line at hand, joined with the lines after it that its quoted
// cells run on to.
func (rows *csvRows) cut() (width, extra int, err error) {
	t := rows.text
	if len(t.line) > maxLineBytes {
		return 0, 0, t.tooLong()
	}
	if t.gaps != nil && t.crossed >= 0 {
		return 0, 0, t.problem(t.crossed, "the columns are not aligned here: no blank between two of them, or a tab",
			"the text was read as columns aligned by blanks below their names; export it with a separator between cells")
	}
	if !t.quoted || bytes.IndexByte(t.line, '"') < 0 {
		rows.cells, width, extra = rows.splitter.split(t.line)
		return width, extra, nil
	}
	open := 0
	for t.joined < maxQuotedLines && len(t.line) <= maxLineBytes {
		rows.cells, width, extra, open = rows.splitter.splitQuoted(t.line)
		if open < 0 {
			return width, extra, nil
		}
		if !t.join() {
			if err := t.failure(); err != nil {
				return 0, 0, err
			}
			if t.joined == 0 && !t.ended {
				return 0, -1, nil // the file ends inside the cell: a line cut off
			}
			break
		}
	}
	return 0, 0, t.problem(open, "a quoted cell without an end", "close the quote; write a quote inside a quoted cell twice")
}

// time returns the time of the row at hand; timed is false for one without.
func (rows *csvRows) time() (at float64, timed bool, err error) {
	t, r := rows.text, rows.reading
	c := rows.find(t.layout.time)
	if c == nil {
		return 0, false, nil
	}
	var date, clock []byte
	if t.layout.date >= 0 && r.axis.form != formInstant && r.axis.form != formSeconds {
		date = rows.valid(t.layout.date)
	}
	if at, ok := rows.repeated(c); ok {
		at, err = r.noteRow(at, t.number)
		return at, true, err
	}
	at, cause := rows.timeOf(c, date)
	if cause != "" && rows.valid(t.layout.time) == nil {
		return 0, false, nil
	}
	if cause == "" {
		cause = beyondAxis(at)
	}
	if cause != "" {
		return 0, false, t.problem(int(c.at), cause, timeHint)
	}
	if c.end > 0 {
		rows.shown, rows.shownAt = append(rows.shown[:0], rows.splitter.textOf(c)...), at
	}
	at, err = r.noteRow(at, t.number)
	if t.layout.date+t.layout.clock > -2 && err == nil && r.needsAnchor() {
		if t.layout.date >= 0 {
			date = rows.valid(t.layout.date)
		}
		if t.layout.clock >= 0 {
			clock = rows.valid(t.layout.clock)
		}
		if cause = r.anchor(at, date, clock); cause != "" {
			return 0, false, t.problem(int(c.at), cause, timeHint)
		}
	}
	return at, true, err
}

// repeated returns the time of a cell with the text of the one before, as most have in a
// long export, where nothing else of the row has a part in it.
func (rows *csvRows) repeated(c *cell) (at float64, ok bool) {
	t, r := rows.text, rows.reading
	if c.end == 0 || !bytes.Equal(rows.splitter.text[c.from:c.end], rows.shown) {
		return 0, false
	}
	return rows.shownAt, t.layout.date+t.layout.clock == -2 || r.axis.form != formClock && !r.needsAnchor()
}

// timeOf is axis.parse for a cell: the usual one is a number.
func (rows *csvRows) timeOf(c *cell, date []byte) (at float64, cause string) {
	axis := &rows.reading.axis
	if axis.form == formSeconds {
		if v, ok := rows.splitter.number(c, axis.point); ok {
			return v * axis.unit, ""
		}
	}
	return axis.parse(rows.splitter.textOf(c), date)
}

// find returns the wanted cell of a column in the line at hand; nil when it is
// blank.
func (rows *csvRows) find(column int) *cell {
	for i := range rows.cells {
		if int(rows.cells[i].column) == column {
			return &rows.cells[i]
		}
	}
	return nil
}

// trimmed returns the text of a wanted cell without blanks around it.
func (rows *csvRows) trimmed(column int) []byte {
	if c := rows.find(column); c != nil {
		return bytes.TrimSpace(rows.splitter.textOf(c))
	}
	return nil
}

// valid is trimmed, and nil for a cell that says "no valid value".
func (rows *csvRows) valid(column int) []byte {
	text := rows.trimmed(column)
	if len(text) == 0 || rows.reading.tokens.isInvalidText(text) {
		return nil
	}
	return text
}
