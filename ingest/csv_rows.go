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
}

// newCSVRows takes the columns that are wanted besides those of the time.
func newCSVRows(r *reading, t *csvText, wanted []bool) *csvRows {
	for _, i := range []int{t.layout.time, t.layout.date, t.layout.clock} {
		if i >= 0 {
			wanted[i] = true
		}
	}
	return &csvRows{text: t, reading: r, splitter: splitter{delimiter: t.delimiter, wanted: wanted}}
}

// next steps to the next row and gives its time; more is false at the end.
// Blank lines, rows without a time and a last line cut off are passed over, the
// last two with a note.
func (rows *csvRows) next() (at float64, more bool, err error) {
	t, r := rows.text, rows.reading
	for t.advance() {
		if len(t.line) == 0 {
			continue
		}
		width, extra, err := rows.cut()
		if err != nil {
			return 0, false, err
		}
		if extra >= 0 {
			return 0, false, t.problem(extra, fmt.Sprintf("a cell beyond the %d columns of the header", len(t.columns)),
				"if this is a decimal comma in a comma-separated file, export it with ; or tab between the cells")
		}
		if width < len(t.columns) && !t.ended {
			r.notes = append(r.notes, fmt.Sprintf("the last line, %d, is cut off and was left out", t.number))
			return 0, false, nil
		}
		if len(rows.cells) == 0 {
			continue
		}
		if width < len(t.columns) {
			r.short.add(t.number)
		}
		at, timed, err := rows.time()
		if err != nil || timed {
			return at, timed, err
		}
		r.untimed.add(t.number)
	}
	return 0, false, nil
}

// cut splits the line at hand, joined with the lines after it that its quoted
// cells run on to.
func (rows *csvRows) cut() (width, extra int, err error) {
	t := rows.text
	if len(t.line) > maxLineBytes {
		return 0, 0, t.problem(0, fmt.Sprintf("a line of %d bytes; at most %d are read", len(t.line), maxLineBytes), "is this a CSV export?")
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
			if t.joined == 0 && !t.ended {
				return 0, -1, nil // the file ends inside the cell: a line cut off
			}
			break
		}
	}
	return 0, 0, t.problem(open, "a quoted cell that does not end", "close the quote; a quote inside a quoted cell is written twice")
}

// time gives the time of the row at hand; timed is false for one without.
func (rows *csvRows) time() (at float64, timed bool, err error) {
	t, r := rows.text, rows.reading
	c := rows.find(t.layout.time)
	if c == nil {
		return 0, false, nil
	}
	var date *cell
	if r.axis.needsDate() {
		date = rows.find(t.layout.date)
	}
	at, cause := r.axis.parse(c.text, date.bytes())
	if cause == "" {
		cause = beyondAxis(at)
	}
	if cause == "" && r.axis.needsAnchor() && t.layout.clock >= 0 {
		cause = r.axis.anchor(at, date.bytes(), rows.find(t.layout.clock).bytes())
	}
	if cause != "" {
		return 0, false, t.problem(c.at, cause, timeHint)
	}
	r.noteRow(at, t.number)
	return at, true, nil
}

// find gives the wanted cell of a column in the line at hand; nil when it is
// blank or says "no valid value".
func (rows *csvRows) find(column int) *cell {
	for i := range rows.cells {
		if c := &rows.cells[i]; c.column == column {
			text := bytes.TrimSpace(c.text)
			if len(text) == 0 || rows.reading.tokens.isInvalidText(text) {
				return nil
			}
			return c
		}
	}
	return nil
}

func (c *cell) bytes() []byte {
	if c == nil {
		return nil
	}
	return c.text
}

// readWideCSV reads a row per time, a column per parameter.
func (r *reading) readWideCSV(t *csvText, byColumn []*channel) error {
	wanted := make([]bool, len(byColumn))
	for i := range byColumn {
		wanted[i] = byColumn[i] != nil
	}
	rows := newCSVRows(r, t, wanted)
	for {
		at, more, err := rows.next()
		if err != nil || !more {
			return err
		}
		for i := range rows.cells {
			c := &rows.cells[i]
			for channel := byColumn[c.column]; channel != nil; channel = channel.also {
				if !channel.addText(at, c.text) {
					r.fail(t, channel, c)
				}
			}
		}
	}
}

// readLongCSV reads a row per sample. Which parameters the export has is known
// only at its end.
func (r *reading) readLongCSV(t *csvText) error {
	wanted := make([]bool, len(t.columns))
	wanted[t.layout.parameter], wanted[t.layout.value] = true, true
	r.axis.midnight = midnightStepLong
	rows := newCSVRows(r, t, wanted)
	names := &nameList{seen: map[string]bool{}}
	for {
		at, more, err := rows.next()
		if err != nil {
			return err
		}
		if !more {
			return r.checkLong(names)
		}
		name, value := rows.find(t.layout.parameter), rows.find(t.layout.value)
		if name == nil {
			r.unnamed.add(t.number)
			continue
		}
		channel := r.mapping.byName[string(bytes.TrimSpace(name.text))]
		if channel == nil {
			names.add(name.text)
		}
		for ; channel != nil; channel = channel.also {
			channel.seen = true
			if value != nil && !channel.addText(at, value.text) {
				r.fail(t, channel, value)
			}
		}
	}
}

// checkLong wants at least one mapped parameter in a long export.
func (r *reading) checkLong(names *nameList) error {
	if chosen, _ := r.mapping.choose(); len(chosen) == 0 && r.rows > 0 {
		return r.noneMapped(names.names)
	}
	return nil
}

// nameList keeps the names of a long export nobody reads, for a message.
type nameList struct {
	seen  map[string]bool
	names []string
}

func (l *nameList) add(name []byte) {
	if !l.seen[string(name)] && len(l.names) < maxNames {
		text := string(bytes.TrimSpace(name))
		l.seen[string(name)] = true
		l.names = append(l.names, text)
	}
}

// fail notes the first cell of a channel that has no meaning.
func (r *reading) fail(t *csvText, channel *channel, c *cell) {
	if channel.problem == nil {
		cause, hint := channel.unreadable(string(bytes.TrimSpace(c.text)), r.profile.File)
		channel.problem = t.problem(c.at, cause, hint)
	}
}
