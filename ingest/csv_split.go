package ingest

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// cell is one cell of a line that is not blank.
type cell struct {
	text   []byte // without quotes around it
	column int
	at     int // byte offset into the line
}

// splitter cuts lines into cells and keeps those that are wanted.
type splitter struct {
	delimiter byte
	wanted    []bool // by column
	cells     []cell // reused from line to line
	scratch   []byte // text of quoted cells with doubled quotes
}

// split gives the wanted cells of a line without quotes that are not blank, the
// number of all cells, and the offset of the first cell beyond wanted that is
// not blank (-1: none). Most cells of an export are blank, so eight bytes are
// looked at together and only delimiters with text before them cost more.
func (s *splitter) split(line []byte) (cells []cell, width, extra int) {
	pattern := uint64(s.delimiter) * onesInBytes
	cells = s.cells[:0]
	extra = -1
	column, start, i := 0, 0, 0
	for ; i+8 <= len(line); i += 8 {
		marks := equalBytes(binary.LittleEndian.Uint64(line[i:]), pattern)
		if marks == highBits && start == i {
			column += 8
			start += 8
			continue
		}
		for ; marks != 0; marks &= marks - 1 {
			end := i + bits.TrailingZeros64(marks)>>3
			if end > start {
				if column >= len(s.wanted) {
					extra = firstExtra(extra, start, line[start:end])
				} else if s.wanted[column] {
					cells = append(cells, cell{line[start:end], column, start})
				}
			}
			column++
			start = end + 1
		}
	}
	for ; i <= len(line); i++ {
		if i < len(line) && line[i] != s.delimiter {
			continue
		}
		if i > start {
			if column >= len(s.wanted) {
				extra = firstExtra(extra, start, line[start:i])
			} else if s.wanted[column] {
				cells = append(cells, cell{line[start:i], column, start})
			}
		}
		column++
		start = i + 1
	}
	s.cells = cells
	return cells, column, extra
}

const (
	onesInBytes = 0x0101010101010101
	lowBits     = 0x7f7f7f7f7f7f7f7f
	highBits    = 0x8080808080808080
)

// equalBytes sets the high bit of every byte of word that equals the one of
// pattern, and no other bit. No carry runs from byte to byte: the shorter trick
// that lets one run would take "-" after "," for a delimiter.
func equalBytes(word, pattern uint64) uint64 {
	x := word ^ pattern
	return ^((x&lowBits + lowBits) | x | lowBits)
}

func firstExtra(extra, start int, text []byte) int {
	if extra >= 0 || len(bytes.TrimSpace(text)) == 0 {
		return extra
	}
	return start
}

// splitQuoted is split for a line with quotes in it. Where a quoted cell does
// not end, open is the offset of its quote, else -1.
func (s *splitter) splitQuoted(line []byte) (cells []cell, width, extra, open int) {
	cells, extra = s.cells[:0], -1
	s.scratch = s.scratch[:0]
	column := 0
	for start := 0; start <= len(line); column++ {
		text, end, ok := s.cellAt(line, start)
		if !ok {
			return nil, column, extra, start
		}
		if len(text) > 0 {
			if column >= len(s.wanted) {
				extra = firstExtra(extra, start, text)
			} else if s.wanted[column] {
				cells = append(cells, cell{text, column, start})
			}
		}
		start = end + 1
	}
	s.cells = cells
	return cells, column, extra, -1
}

// all gives every cell of a line, blank ones too; a quote that does not end is
// taken as text.
func (s *splitter) all(line []byte) (texts [][]byte) {
	for start := 0; start <= len(line); {
		text, end, ok := s.cellAt(line, start)
		if !ok {
			text, end = line[start:], len(line)
		}
		texts = append(texts, text)
		start = end + 1
	}
	return texts
}

// cellAt gives the text of the cell that begins at start and the offset of the
// delimiter (or line end) after it; ok is false where its quote never ends. A
// quote inside a cell that does not begin with one is text.
func (s *splitter) cellAt(line []byte, start int) (text []byte, end int, ok bool) {
	if start >= len(line) || line[start] != '"' {
		end = bytes.IndexByte(line[start:], s.delimiter)
		if end < 0 {
			end = len(line) - start
		}
		return line[start : start+end], start + end, true
	}
	doubled := false
	i := start + 1
	for {
		n := bytes.IndexByte(line[i:], '"')
		if n < 0 {
			return nil, 0, false
		}
		i += n
		if i+1 < len(line) && line[i+1] == '"' {
			doubled = true
			i += 2
			continue
		}
		break
	}
	text = line[start+1 : i]
	if doubled {
		from := len(s.scratch)
		s.scratch = append(s.scratch, bytes.ReplaceAll(text, []byte(`""`), []byte(`"`))...)
		text = s.scratch[from:]
	}
	end = bytes.IndexByte(line[i:], s.delimiter) // text between the quote and the delimiter is dropped
	if end < 0 {
		end = len(line) - i
	}
	return text, i + end, true
}
