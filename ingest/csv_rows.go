package ingest

import (
	"bytes"
	"fmt"
	"slices"
)

// csvRows walks the data lines of a CSV export.
type csvRows struct {
	text     *csvText
	reading  *reading
	splitter splitter
	cells    []cell // of the line at hand: the wanted ones that are not blank
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
	var date []byte
	if r.axis.needsDate() && t.layout.date >= 0 {
		date = rows.valid(t.layout.date)
	}
	at, cause := r.axis.parse(rows.splitter.textOf(c), date)
	if cause != "" && rows.valid(t.layout.time) == nil {
		return 0, false, nil
	}
	if cause == "" {
		cause = beyondAxis(at)
	}
	if cause == "" && r.axis.needsAnchor() && t.layout.clock >= 0 {
		cause = r.axis.anchor(at, date, rows.valid(t.layout.clock))
	}
	if cause != "" {
		return 0, false, t.problem(int(c.at), cause, timeHint)
	}
	r.noteRow(at, t.number)
	return at, true, nil
}

// find gives the wanted cell of a column in the line at hand; nil when it is
// blank.
func (rows *csvRows) find(column int) *cell {
	for i := range rows.cells {
		if int(rows.cells[i].column) == column {
			return &rows.cells[i]
		}
	}
	return nil
}

// trimmed gives the text of a wanted cell without blanks around it.
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

// readWideCSV reads a row per time, a column per parameter.
func (r *reading) readWideCSV(t *csvText, byColumn []*channel) error {
	wanted := make([]uint8, len(byColumn))
	for i := range byColumn {
		if byColumn[i] != nil {
			wanted[i] = 1
		}
	}
	rows := newCSVRows(r, t, wanted)
	for {
		at, more, err := rows.next()
		if err != nil || !more {
			return err
		}
		if r.rows == sizingRows {
			reserve(byColumn, float64(len(t.data)-t.next)/float64(t.next))
		}
		for i := range rows.cells {
			c := &rows.cells[i]
			for channel := byColumn[c.column]; channel != nil; channel = channel.also {
				if text := rows.splitter.textOf(c); !channel.addText(at, text) {
					r.fail(t, channel, c, text)
				}
			}
		}
	}
}

// sizingRows is how many rows tell how often each parameter is sampled: half a
// minute and more at 8 rows a second, several samples of the slowest.
const sizingRows = 512

// reserve makes room for the samples to come, so that arrays are not grown and
// copied over and over; ahead is the rest of the file over the part read.
func reserve(byColumn []*channel, ahead float64) {
	for _, head := range byColumn {
		for c := head; c != nil; c = c.also {
			n := int(float64(len(c.times)+2) * ahead * 1.02)
			c.times = slices.Grow(c.times, n)
			if c.numeric {
				c.numbers = slices.Grow(c.numbers, n)
			} else {
				c.codes = slices.Grow(c.codes, n)
			}
		}
	}
}

// readLongCSV reads a row per sample. Which parameters the export has is known
// only at its end.
func (r *reading) readLongCSV(t *csvText) error {
	wanted := make([]uint8, len(t.columns))
	wanted[t.layout.parameter], wanted[t.layout.value] = 1, 1
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
		name := rows.trimmed(t.layout.parameter)
		if len(name) == 0 {
			r.unnamed.add(t.number)
			continue
		}
		channel := r.mapping.byName[string(name)]
		if channel == nil {
			names.add(name)
			continue
		}
		value := rows.find(t.layout.value)
		for ; channel != nil; channel = channel.also {
			channel.seen = true
			if value == nil {
				continue
			}
			if text := rows.splitter.textOf(value); !channel.addText(at, text) {
				r.fail(t, channel, value, text)
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
		l.seen[string(name)] = true
		l.names = append(l.names, string(name))
	}
}

// fail notes the first cell of a channel that has no meaning.
func (r *reading) fail(t *csvText, channel *channel, c *cell, text []byte) {
	if channel.problem == nil {
		cause, hint := channel.unreadable(string(bytes.TrimSpace(text)), r.profile.File)
		channel.problem = t.problem(int(c.at), cause, hint)
	}
}
