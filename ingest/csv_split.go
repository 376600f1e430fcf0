package ingest

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// cell is one cell of a line that is not blank. It holds no pointer, so that
// writing one down costs the garbage collector nothing.
type cell struct {
	column    int32
	at        int32 // byte offset into the line
	from, end int32 // the text without quotes, in splitter.text; end 0: it was not looked for
}

// splitter cuts lines into cells and keeps those that are wanted.
type splitter struct {
	delimiter byte
	wanted    []uint8 // by column: 1 or 0, to be added up without a branch
	text      []byte  // what cells refer to: the line, or scratch
	room      []cell  // reused from line to line
	scratch   []byte  // texts of a line with quotes, without them
}

// textOf returns the text of a cell of the line split last.
func (s *splitter) textOf(c *cell) []byte {
	if c.end == 0 {
		c.end = int32(s.endOf(s.text, int(c.from)))
	}
	return s.text[c.from:c.end]
}

// split returns the wanted cells of a line without quotes that are not blank, the
// number of all cells, and the offset of the first cell beyond wanted that is
// not blank (-1: none).
//
// Most cells of an export are blank and most others not wanted, so delimiters
// are only counted, eight bytes at a time, and only the beginning of a text is
// looked at: a byte that is no delimiter after one that is. Whether a cell is
// wanted follows no pattern a processor could foresee, so each is written down
// and the ones not wanted are written over.
func (s *splitter) split(line []byte) (cells []cell, width, extra int) {
	pattern := uint64(s.delimiter) * onesInBytes
	if len(s.room) <= len(line) {
		s.room = make([]cell, len(line)+64)
	}
	s.text = line
	cells, wanted, extra := s.room, s.wanted, -1
	n, column, i := 0, 0, 0
	before := uint64(highBit) // the byte before a line counts as a delimiter
	for ; i+8 <= len(line); i += 8 {
		marks := equalBytes(binary.LittleEndian.Uint64(line[i:]), pattern)
		starts := ^marks & (marks<<8 | before) & highBits
		before = marks >> 56
		for ; starts != 0; starts &= starts - 1 {
			at := bits.TrailingZeros64(starts)
			here := column + bits.OnesCount64(marks&(1<<at-1))
			begin := int32(i + at>>3)
			cells[n] = cell{column: int32(here), at: begin, from: begin}
			if here >= len(wanted) {
				extra = s.firstExtra(extra, line, i+at>>3)
				continue
			}
			n += int(wanted[here])
		}
		column += bits.OnesCount64(marks)
	}
	for ; i < len(line); i++ {
		if line[i] == s.delimiter {
			column++
			before = highBit
			continue
		}
		if before != 0 {
			cells[n] = cell{column: int32(column), at: int32(i), from: int32(i)}
			if column >= len(wanted) {
				extra = s.firstExtra(extra, line, i)
			} else {
				n += int(wanted[column])
			}
		}
		before = 0
	}
	return cells[:n], column + 1, extra
}

// endOf returns the offset of the first delimiter from start on, or the line's
// end.
func (s *splitter) endOf(line []byte, start int) int {
	pattern := uint64(s.delimiter) * onesInBytes
	i := start
	for ; i+8 <= len(line); i += 8 {
		if marks := equalBytes(binary.LittleEndian.Uint64(line[i:]), pattern); marks != 0 {
			return i + bits.TrailingZeros64(marks)>>3
		}
	}
	for i < len(line) && line[i] != s.delimiter {
		i++
	}
	return i
}

// firstExtra returns the offset of the first cell beyond the wanted columns that
// has more than blanks in it.
func (s *splitter) firstExtra(extra int, line []byte, start int) int {
	if extra >= 0 || len(bytes.TrimSpace(line[start:s.endOf(line, start)])) == 0 {
		return extra
	}
	return start
}

const (
	onesInBytes = 0x0101010101010101
	lowBits     = 0x7f7f7f7f7f7f7f7f
	highBits    = 0x8080808080808080
	highBit     = 0x80
)

// equalBytes sets the high bit of every byte of word that equals the one of
// pattern, and no other bit. No carry runs from byte to byte: the shorter trick
// that lets one run would take "-" after "," for a delimiter.
func equalBytes(word, pattern uint64) uint64 {
	x := word ^ pattern
	return ^((x&lowBits + lowBits) | x | lowBits)
}

// splitQuoted is split for a line with quotes in it. Where a quoted cell does
// not end, open is the offset of its quote, else -1.
func (s *splitter) splitQuoted(line []byte) (cells []cell, width, extra, open int) {
	cells, extra = nil, -1 // quotes are rare in exports, so a new slice does no harm
	s.scratch = s.scratch[:0]
	column := 0
	for start := 0; start <= len(line); column++ {
		text, end, ok := cellAt(line, start, s.delimiter)
		if !ok {
			return nil, column, extra, start
		}
		if len(text) > 0 {
			if column >= len(s.wanted) {
				extra = s.firstExtra(extra, line, start)
			} else if s.wanted[column] == 1 {
				cells = append(cells, cell{int32(column), int32(start), int32(len(s.scratch)), int32(len(s.scratch) + len(text))})
				s.scratch = append(s.scratch, text...)
			}
		}
		start = end + 1
	}
	s.text = s.scratch
	return cells, column, extra, -1
}

// allCells returns every cell of a line, blank ones too; a quote that does not end is
// taken as text.
func allCells(line []byte, delimiter byte) (texts [][]byte) {
	for start := 0; start <= len(line); {
		text, end, ok := cellAt(line, start, delimiter)
		if !ok {
			text, end = line[start:], len(line)
		}
		texts = append(texts, text)
		start = end + 1
	}
	return texts
}

// cellAt returns the text of the cell that begins at start and the offset of the
// delimiter (or line end) after it; ok is false where its quote never ends. A
// quote inside a cell that does not begin with one is text.
func cellAt(line []byte, start int, delimiter byte) (text []byte, end int, ok bool) {
	if start >= len(line) || line[start] != '"' {
		end = bytes.IndexByte(line[start:], delimiter)
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
		text = bytes.ReplaceAll(text, []byte(`""`), []byte(`"`))
	}
	end = bytes.IndexByte(line[i:], delimiter) // text between the quote and the delimiter is dropped
	if end < 0 {
		end = len(line) - i
	}
	return text, i + end, true
}
