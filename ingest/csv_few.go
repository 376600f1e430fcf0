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

// advanceFew steps to the next line and cuts it; false where nothing was done.
func (rows *csvRows) advanceFew() bool {
	t, s := rows.text, &rows.splitter
	if t.quoted || t.nul >= 0 || t.gaps != nil || len(s.wanted) > fewCells {
		return false
	}
	data := t.data[t.next:min(len(t.data), t.next+mostFewBytes)]
	delimiters, feeds := uint64(s.delimiter)*onesInBytes, uint64('\n'*onesInBytes)
	cells := rows.few[:0]
	column, begin := 0, 0
	for i := 0; i+8 <= len(data); i += 8 {
		word := binary.LittleEndian.Uint64(data[i:])
		for marks := equalBytes(word, delimiters) | equalBytes(word, feeds); marks != 0; marks &= marks - 1 {
			end := i + bits.TrailingZeros64(marks)>>3
			if column >= len(s.wanted) {
				return false
			}
			if s.wanted[column] == 1 && end > begin {
				cells = append(cells, cell{column: int32(column), at: int32(begin), from: int32(begin), end: int32(end)})
			}
			column++
			if data[end] == '\n' {
				if column < len(s.wanted) {
					return false
				}
				rows.takeFew(cells, end)
				return true
			}
			begin = end + 1
		}
	}
	return false
}

// takeFew makes the next so many bytes the line at hand.
func (rows *csvRows) takeFew(cells []cell, size int) {
	t := rows.text
	t.start = t.next
	t.number += 1 + t.joined
	t.joined = 0
	t.endLine(t.start+size, t.start+size+1, true)
	rows.splitter.text, rows.cells = t.line, cells
	if n := len(cells); n > 0 && int(cells[n-1].end) > len(t.line) { // a carriage return
		if last := &cells[n-1]; last.at < last.end-1 {
			last.end--
		} else {
			rows.cells = cells[:n-1]
		}
	}
}

// nameTable finds the channel of a parameter by its name, which stands in every row of a
// long export.
type nameTable [1 << 10]named

// named is a name that was met, and what is read under it; nil for nothing.
type named struct {
	name string
	head *channel
}

// place is where a name stands, if it does.
func (n *nameTable) place(name []byte) *named {
	first := uint64(len(name))
	for len(name) > 8 {
		first = (first ^ binary.LittleEndian.Uint64(name)) * 0x9e3779b97f4a7c15
		name = name[8:]
	}
	for _, b := range name {
		first = first<<8 ^ first>>56 ^ uint64(b)
	}
	return &n[first*0x9e3779b97f4a7c15>>54]
}

// met returns the entry of a name that was added before, else nil.
func (n *nameTable) met(name []byte) *named {
	if at := n.place(name); at.name == string(name) && len(name) > 0 {
		return at
	}
	return nil
}

// add takes a name, in place of one that has its place.
func (n *nameTable) add(name []byte, head *channel) *named {
	at := n.place(name)
	*at = named{string(name), head}
	return at
}
