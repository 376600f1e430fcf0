package ingest

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"downlock/schemas"
)

// csvText is a CSV export in memory and where its parts lie.
type csvText struct {
	file      string
	data      []byte // after a byte-order mark
	delimiter byte
	quoted    bool     // a quote stands somewhere in the data
	columns   []string // the header's names, trimmed, without blank ones at the end
	layout    layout

	// The line at hand.
	start  int    // its offset
	next   int    // offset of the line after it
	line   []byte // without its line end
	number int    // from 1
	joined int    // lines joined to it, because a quoted cell runs on
	ended  bool   // it has a line end
}

// readCSV reads a wide or long CSV export.
func (r *reading) readCSV(content []byte) error {
	t, err := r.openCSV(content)
	if err != nil {
		return err
	}
	var byColumn []*channel
	if !t.layout.long() {
		byColumn = r.mapping.wide(t.columns)
	}
	if err := r.readUnitsRow(t, byColumn); err != nil {
		return err
	}
	point := t.decimalMark()
	r.axis.point = point
	r.mapping.decimalMark(point)
	if t.layout.long() {
		r.format = "long CSV"
		return r.readLongCSV(t)
	}
	r.format = "wide CSV"
	return r.readWideCSV(t, byColumn)
}

// openCSV finds the header and stands before the first line after it.
func (r *reading) openCSV(content []byte) (*csvText, error) {
	t := &csvText{file: r.file, data: bytes.TrimPrefix(content, []byte("\xef\xbb\xbf"))}
	if err := t.refuseBinary(); err != nil {
		return nil, err
	}
	t.quoted = bytes.IndexByte(t.data, '"') >= 0
	if err := r.findHeader(t); err != nil {
		return nil, err
	}
	t.layout = r.layoutOf(t.columns)
	seen := map[string]bool{}
	for _, name := range t.columns {
		if _, mapped := r.mapping.byName[name]; seen[name] && (mapped || name == r.timeColumn()) {
			r.notes = append(r.notes, fmt.Sprintf("column %q stands more than once in the header; the first is read", name))
		}
		seen[name] = true
	}
	return t, nil
}

func (t *csvText) refuseBinary() error {
	i := bytes.IndexByte(t.data, 0)
	if i < 0 {
		return nil
	}
	line := 1 + bytes.Count(t.data[:i], []byte{'\n'})
	start := bytes.LastIndexByte(t.data[:i], '\n') + 1
	p := &schemas.Problem{File: t.file, Line: line, Column: utf8.RuneCount(t.data[start:i]) + 1,
		Cause: "a NUL byte: this is no text", Hint: "exports are read as CSV (plain, gzip or zstd), Parquet or Arrow IPC files"}
	if bytes.HasPrefix(t.data, []byte("\xff\xfe")) || bytes.HasPrefix(t.data, []byte("\xfe\xff")) {
		p.Cause, p.Hint = "the text is UTF-16", "export it as UTF-8 or plain ASCII"
	}
	return p
}

// findHeader looks for the first line with the time column and something to
// read, or else for the first with the time column, below preamble lines.
func (r *reading) findHeader(t *csvText) error {
	var widest []string
	var fallback *csvText
	for t.number < maxHeaderLines && t.advance() {
		for _, delimiter := range []byte{',', ';', '\t'} {
			columns := headerCells(t.line, delimiter)
			if len(columns) > len(widest) {
				widest = columns
			}
			l := r.layoutOf(columns)
			if l.time < 0 {
				continue
			}
			if len(columns) > maxColumns {
				return t.problem(0, fmt.Sprintf("the header has %d columns; at most %d are read", len(columns), maxColumns), "export fewer parameters")
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
	return t.takeLine()
}

// join adds the next line to the line at hand; false at the end of the data.
func (t *csvText) join() bool {
	if !t.takeLine() {
		return false
	}
	t.joined++
	return true
}

func (t *csvText) takeLine() bool {
	if t.next >= len(t.data) {
		return false
	}
	end := bytes.IndexByte(t.data[t.next:], '\n')
	t.ended = end >= 0
	if t.ended {
		end += t.next
		t.next = end + 1
	} else {
		end = len(t.data)
		t.next = end
	}
	if end > t.start && t.data[end-1] == '\r' {
		end--
	}
	t.line = t.data[t.start:end]
	return true
}

// problem makes a problem at a byte offset into the line at hand.
func (t *csvText) problem(offset int, cause, hint string) *schemas.Problem {
	p := &schemas.Problem{File: t.file, Line: t.number, Cause: cause, Hint: hint}
	if offset >= 0 && offset <= len(t.line) {
		p.Column = utf8.RuneCount(t.line[:offset]) + 1
	}
	if len(t.line) <= maxSource {
		p.Source = string(t.line)
	}
	return p
}
