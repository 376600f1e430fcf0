package ingest

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"downlock/schemas"
)

// csvText is a CSV export and where its parts lie. Copies share the text, which
// lets them look ahead in its head.
type csvText struct {
	*window
	file      string
	delimiter byte
	columns   []string // the header's names, trimmed, without blank ones at the end
	layout    layout
	gaps      []gap // of fixed-width text; nil: cells have a delimiter

	// The line at hand.
	start   int    // its offset
	next    int    // offset of the line after it
	line    []byte // without its line end; good until the next one is asked for
	number  int    // from 1
	joined  int    // lines joined to it, because a quoted cell runs on
	ended   bool   // it has a line end
	crossed int    // of fixed-width text: offset where it has no gap, -1 for none
}

// readCSV reads a wide or long CSV export.
func (r *reading) readCSV(in io.Reader, size int64) error {
	t := &csvText{window: newWindow(in, size), file: r.file}
	if err := r.openCSV(t); err != nil {
		return err
	}
	var byColumn []*channel
	if !t.layout.long() {
		byColumn = r.mapping.wide(t.columns)
		if !slices.ContainsFunc(byColumn, func(c *channel) bool { return c != nil }) { // the sample columns of a row, in part
			return r.noneMapped(t.columns)
		}
	}
	t.skipRule()
	if err := r.readUnitsRow(t, byColumn); err != nil {
		return err
	}
	t.skipRule()
	point := t.decimalMark()
	r.axis.point = point
	r.mapping.decimalMark(point)
	t.keep = false
	var err error
	if t.layout.long() {
		r.format = "long " + t.kind()
		err = r.readLongCSV(t)
	} else {
		r.format = "wide " + t.kind()
		err = r.readWideCSV(t, byColumn)
	}
	if t.codepage {
		r.format += ", " + windows1252
		r.notes = append(r.notes, t.codepageNote())
	}
	return err
}

// openCSV finds the header and stands before the first line after it.
func (r *reading) openCSV(t *csvText) error {
	t.more(0)
	t.skipMark()
	if err := r.findHeader(t); err != nil {
		return cmp.Or(t.failure(), err)
	}
	t.layout = r.layoutOf(t.columns)
	r.noteRepeated(t.columns)
	return nil
}

// noteRepeated notes columns of one name that are read, of which the first is taken.
func (r *reading) noteRepeated(columns []string) {
	seen := map[string]bool{}
	for _, name := range columns {
		if _, mapped := r.mapping.byName[name]; seen[name] && (mapped || name == r.timeColumn()) {
			r.notes = append(r.notes, repeatedColumn(name))
		}
		seen[name] = true
	}
}

func repeatedColumn(name string) string {
	return fmt.Sprintf("column %q %sheader; the first is read", clip(name), standsTwice)
}

const standsTwice = "appears more than once in the "

// ReadOnce returns the notes of a recording on columns of one name, of which the first is
// read: whoever runs the batch must know, since the other may be the right one.
func ReadOnce(r *Recording) (notes []string) {
	for _, n := range r.Notes {
		if strings.Contains(n, standsTwice) {
			notes = append(notes, n)
		}
	}
	return notes
}

// skipMark passes over a byte-order mark.
func (t *csvText) skipMark() {
	if bytes.HasPrefix(t.data, []byte("\xef\xbb\xbf")) {
		t.next = 3
	}
}

// failure is why the text cannot be read on; nil at its end.
func (t *csvText) failure() error {
	if t.err != nil || t.nul < 0 {
		return t.err
	}
	at := max(t.nul, t.start)
	line := t.data[bytes.LastIndexByte(t.data[:at], '\n')+1 : at]
	return &schemas.Problem{File: t.file, Line: t.number + bytes.Count(t.data[t.start:at], []byte{'\n'}), Column: utf8.RuneCount(line) + 1,
		Cause: "a NUL byte: this is not text", Hint: "exports are read as CSV (plain, gzip, zstd or zip), .xlsx workbooks, Parquet, Arrow IPC or MATLAB 5 files"}
}

// delimiters are what may stand between cells.
var delimiters = []byte{',', ';', '\t', '|'}

// findHeader looks for the first line with the time column and something to
// read, or else for the first with the time column, below preamble lines.
func (r *reading) findHeader(t *csvText) error {
	var widest []string
	var fallback *csvText
	begin := *t
	for t.number < maxHeaderLines && t.advance() {
		if len(t.line) > maxLineBytes {
			return t.tooLong()
		}
		for _, delimiter := range delimiters {
			if n := 1 + bytes.Count(t.line, []byte{delimiter}); n > maxColumns {
				return t.tooMany(n)
			}
			columns := headerCells(t.line, delimiter)
			if len(columns) > len(widest) {
				widest = columns
			}
			l := r.layoutOf(columns)
			if l.time < 0 {
				continue
			}
			t.columns, t.delimiter = columns, delimiter
			if l.long() || r.mapsAny(columns) {
				return nil
			}
			if fallback == nil {
				found := *t
				fallback = &found
			}
		}
	}
	if fallback != nil {
		p := r.noneMapped(fallback.columns)
		p.Line = fallback.number
		return p
	}
	if t.failure() == nil {
		if *t = begin; r.findAligned(t) {
			if len(t.columns) > maxColumns {
				return t.tooMany(len(t.columns))
			}
			if l := r.layoutOf(t.columns); !l.long() && !r.mapsAny(t.columns) {
				p := r.noneMapped(t.columns)
				p.Line = t.number
				return p
			}
			return nil
		}
	}
	return r.noTime(widest)
}

func (r *reading) mapsAny(columns []string) bool {
	for _, name := range columns {
		if r.mapping.byName[name] != nil {
			return true
		}
	}
	return false
}

func headerCells(line []byte, delimiter byte) []string {
	var columns []string
	for _, text := range allCells(line, delimiter) {
		columns = append(columns, strings.TrimSpace(string(text)))
	}
	for len(columns) > 0 && columns[len(columns)-1] == "" {
		columns = columns[:len(columns)-1]
	}
	return columns
}

// advance steps to the next line; false at the end of the data.
func (t *csvText) advance() bool {
	t.start = t.next
	t.number += 1 + t.joined
	t.joined = 0
	if !t.takeLine() {
		return false
	}
	if t.gaps != nil {
		t.cutColumns()
	}
	return true
}

// join adds the next line to the line at hand; false at the end of the data.
func (t *csvText) join() bool {
	if !t.takeLine() {
		return false
	}
	t.joined++
	return true
}

// takeLine takes the text up to the next line end, after the part already in
// the line. A line that is too long is left at the length it had by then.
func (t *csvText) takeLine() bool {
	from := t.next // where the search goes on
	for {
		if t.nul >= 0 {
			return false
		}
		if end := bytes.IndexByte(t.data[from:], '\n'); end >= 0 {
			t.endLine(from+end, from+end+1, true)
			return true
		}
		from = len(t.data)
		if from-t.start > maxLineBytes {
			t.endLine(from, from, false)
			return true
		}
		shift, ok := t.more(t.start)
		t.start, t.next, from = t.start-shift, t.next-shift, from-shift
		if ok {
			continue
		}
		if !t.done || t.next == len(t.data) {
			return false
		}
		t.endLine(from, from, false)
		return true
	}
}

func (t *csvText) endLine(end, next int, ended bool) {
	t.next, t.ended = next, ended
	if end > t.start && t.data[end-1] == '\r' {
		end--
	}
	t.line = t.data[t.start:end]
}

// tooLong is the problem of a line that is longer than the limit.
func (t *csvText) tooLong() error {
	return t.problem(0, fmt.Sprintf("a line of more than %d bytes", maxLineBytes), "is this a CSV export? its lines should end in a line feed")
}

// tooMany is the problem of a header with more columns than the limit.
func (t *csvText) tooMany(n int) error {
	return t.problem(0, fmt.Sprintf("a header of %d columns; at most %d are read", n, maxColumns), "export fewer parameters")
}

// problem makes a problem at a byte offset into the line at hand.
func (t *csvText) problem(offset int, cause, hint string) *schemas.Problem {
	p := &schemas.Problem{File: t.file, Line: t.number, Cause: cause, Hint: hint}
	if offset >= 0 && offset <= len(t.line) {
		p.Column = utf8.RuneCount(t.line[:offset]) + 1
	}
	if len(t.line) <= maxSource {
		p.Source = string([]rune(string(t.line))) // a byte that is no UTF-8 becomes one character, as it counts
		if t.gaps != nil {
			p.Source = strings.ReplaceAll(p.Source, "\t", " ")
		}
	}
	return p
}
