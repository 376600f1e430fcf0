package export

import (
	"bufio"
	"io"
	"strings"
	"unicode/utf8"
)

// blanksBetween is how far apart the columns of fixed-width text are: names and texts have
// single blanks within them.
const blanksBetween = 2

// fixedWidth writes columns as wide as their widest cell, numbers to the right and texts to
// the left.
func (t *Table) fixedWidth(w io.Writer) error {
	out := bufio.NewWriter(w)
	for _, line := range t.Preamble {
		out.WriteString(line + "\n")
	}
	var widths []int
	for cells := range t.wideCells() {
		if widths == nil {
			widths = make([]int, len(cells))
		}
		for i, cell := range cells {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	first := len(widths) - len(t.Columns)
	for cells := range t.wideCells() {
		var line strings.Builder
		for i, cell := range cells {
			room := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			if i == 0 || i >= first && t.Columns[i-first].Texts == nil {
				cell = room + cell
			} else {
				cell += room
			}
			if i > 0 {
				line.WriteString(strings.Repeat(" ", blanksBetween))
			}
			line.WriteString(cell)
		}
		out.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return out.Flush() // which has the first error of the writes before it
}
