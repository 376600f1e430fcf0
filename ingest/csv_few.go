package ingest

import (
	"encoding/binary"
	"math/bits"
)

// The lines of a long export are short and many. An ordinary one, with a cell for each
// column and no quotes, is found and cut in one pass. All other lines are left to advance and
// cut, which know what is wrong with them.

// fewCells is how many columns are cut so: a long export has three to six.
const fewCells = 8

// mostFewBytes bounds such a line; a longer one is not ordinary.
const mostFewBytes = 1 << 12

// fewLine is a line that is cut so.
type fewLine struct {
	size int // bytes, with its end
	ends [fewCells]int
}

// cut cuts the line at the beginning of a text; false for one that is not ordinary.
func (l *fewLine) cut(text []byte, delimiter byte, width int) bool {
	delimiters, feeds := uint64(delimiter)*onesInBytes, uint64('\n'*onesInBytes)
	column := 0
	for i := 0; i+8 <= len(text) && i < mostFewBytes; i += 8 {
		word := binary.LittleEndian.Uint64(text[i:])
		for marks := equalBytes(word, delimiters) | equalBytes(word, feeds); marks != 0; marks &= marks - 1 {
			end := i + bits.TrailingZeros64(marks)>>3
			if column == width {
				return false
			}
			l.ends[column] = end
			column++
			if text[end] == '\n' {
				l.size = end + 1
				if begin := l.begin(column - 1); end > begin && text[end-1] == '\r' {
					l.ends[column-1]--
				}
				return column == width
			}
		}
	}
	return false
}

// begin is where a cell begins.
func (l *fewLine) begin(column int) int {
	if column == 0 {
		return 0
	}
	return l.ends[column-1] + 1
}

// cutsFew reports whether the lines may be cut so.
func (t *csvText) cutsFew() bool {
	return !t.quoted && t.nul < 0 && t.gaps == nil && len(t.columns) <= fewCells
}

// advanceFew steps to the next line and cuts it; false where nothing was done.
func (rows *csvRows) advanceFew() bool {
	t, s, line := rows.text, &rows.splitter, &rows.line
	if !t.cutsFew() || !line.cut(t.data[t.next:], s.delimiter, len(s.wanted)) {
		return false
	}
	rows.cells = rows.few[:0]
	for column, wanted := range s.wanted {
		if begin, end := line.begin(column), line.ends[column]; wanted == 1 && end > begin {
			rows.cells = append(rows.cells, cell{column: int32(column), at: int32(begin), from: int32(begin), end: int32(end)})
		}
	}
	t.start = t.next
	t.number += 1 + t.joined
	t.joined = 0
	t.endLine(t.start+line.size-1, t.start+line.size, true)
	s.text = t.line
	return true
}
