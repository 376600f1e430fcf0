package ingest

import (
	"bytes"
	"slices"
	"strings"
	"unicode/utf8"
)

// Fixed-width text has its columns aligned by blanks below a line of names. What is blank
// in that line and in all rows below it is a gap between columns. A tab in place of one
// blank of each gap makes tab-separated text of it, in which everything stands where it
// stood. Such text is looked for where no separator makes a header.

// alignedLines is how many lines below the names show the gaps.
const alignedLines = 1000

// fewerLines are tried one after the other: a row that is not aligned is told once it is
// read, where those before it show the columns.
var fewerLines = []int{alignedLines, 20, 2}

// gap is the place between two columns, in characters: from the first to before the last.
type gap struct{ from, to int }

func isBlank(b byte) bool { return b == ' ' || b == '\t' }

// isRule knows a line drawn below the names: ----- or |---|---|.
func isRule(line []byte) bool {
	drawn := 0
	for _, b := range line {
		switch b {
		case '-', '=', '_':
			drawn++
		case '|', '+', ':', ' ', '\t':
		default:
			return false
		}
	}
	return drawn > 2
}

// skipRule passes over a rule.
func (t *csvText) skipRule() {
	if ahead := *t; ahead.advance() && isRule(ahead.line) {
		*t = ahead
	}
}

// cutColumns puts a tab into each gap of the line at hand, which does so once for all. A
// text that fills a gap, or a tab elsewhere, leaves open what belongs where: crossed is its
// offset.
func (t *csvText) cutColumns() {
	t.crossed = -1
	line, gaps, blank := t.line, t.gaps, -1
	char, before := 0, 0 // before: offset of the character before
	for i := 0; i < len(line); char++ {
		for len(gaps) > 0 && char == gaps[0].to {
			if blank < 0 {
				t.cross(before)
			} else {
				line[blank] = '\t'
			}
			gaps, blank = gaps[1:], -1
		}
		before = i
		if isBlank(line[i]) {
			if line[i] == '\t' && (len(gaps) == 0 || char < gaps[0].from) {
				t.cross(i)
			}
			if len(gaps) > 0 && char >= gaps[0].from {
				if blank >= 0 && line[blank] == '\t' {
					t.cross(blank)
				}
				blank = i
			}
			i++
			continue
		}
		if line[i] < utf8.RuneSelf {
			i++
			continue
		}
		_, size := utf8.DecodeRune(line[i:])
		i += size
	}
	if blank >= 0 {
		line[blank] = '\t'
	}
}

func (t *csvText) cross(at int) {
	if t.crossed < 0 {
		t.crossed = at
	}
}

// marks is where the lines of a text have characters that are not blank.
type marks []bool

// add marks the characters of a line; false for one with a tab in it.
func (m *marks) add(line []byte) bool {
	char := 0
	for i := 0; i < len(line); char++ {
		if line[i] == '\t' {
			return false
		}
		for char >= len(*m) {
			*m = append(*m, false)
		}
		if line[i] != ' ' {
			(*m)[char] = true
		}
		_, size := utf8.DecodeRune(line[i:])
		i += size
	}
	return true
}

func (m marks) at(char int) bool { return char < len(m) && m[char] }

// any reports whether there is a mark in a stretch.
func (m marks) any(from, to int) bool {
	return from < len(m) && slices.Contains(m[from:min(to, len(m))], true)
}

// align finds the columns of fixed-width text below the line at hand, taken for its names,
// some of which may be known, in so many lines; ok is false where there are not two of them,
// each with a name.
func (t *csvText) align(lines int, known func(name string) bool) (names []string, gaps []gap, ok bool) {
	var head, body, rule marks
	if !head.add(t.line) {
		return nil, nil, false
	}
	ahead, rows := *t, 0
	for n := 0; n < lines && ahead.advance() && len(ahead.line) <= maxLineBytes; n++ {
		switch {
		case len(bytes.TrimSpace(ahead.line)) == 0:
		case isRule(ahead.line):
			if rows == 0 && rule == nil && bytes.IndexByte(bytes.TrimSpace(ahead.line), ' ') > 0 {
				rule.add(ahead.line)
			}
		case !body.add(ahead.line):
			return nil, nil, false
		default:
			rows++
		}
	}
	if rows == 0 {
		return nil, nil, false
	}
	header := []rune(string(t.line))
	nameOf := func(c gap) string {
		return strings.TrimSpace(string(header[min(c.from, len(header)):min(c.to, len(header))]))
	}
	columns := stretches(head, body)
	if rule != nil {
		columns = stretches(rule, nil)
	} else if len(columns) <= maxColumns {
		columns = joined(columns, func(c gap) bool { return head.any(c.from, c.to) && body.any(c.from, c.to) },
			func(c gap) bool { return c.to-c.from <= maxNameBytes && known(nameOf(c)) })
	}
	for i, c := range columns {
		name := nameOf(c)
		if name == "" {
			return nil, nil, false
		}
		names = append(names, name)
		if i > 0 {
			gaps = append(gaps, gap{columns[i-1].to, c.from})
		}
	}
	return names, gaps, len(names) > 1
}

// stretches lists the stretches in which some line is not blank.
func stretches(head, body marks) (columns []gap) {
	for char := range max(len(head), len(body)) {
		switch {
		case !head.at(char) && !body.at(char):
		case len(columns) > 0 && columns[len(columns)-1].to == char:
			columns[len(columns)-1].to++
		default:
			columns = append(columns, gap{char, char + 1})
		}
	}
	return columns
}

// joined joins stretches that are no column by themselves, having no name or nothing below
// it, to a neighbour one blank away: names and texts have blanks within them. Known names
// come first, whole or joined.
func joined(columns []gap, whole func(c gap) bool, known func(c gap) bool) []gap {
	for i := 0; i < len(columns); {
		c := columns[i]
		if whole(c) {
			i++
			continue
		}
		// may returns how well the stretch joins its neighbour at j: 0 for not at all.
		may := func(j int) int {
			switch {
			case j < 0 || j == len(columns):
			case max(c.from, columns[j].from) != min(c.to, columns[j].to)+1:
			case known(gap{min(c.from, columns[j].from), max(c.to, columns[j].to)}):
				return 2
			case !known(c) && !known(columns[j]):
				return 1
			}
			return 0
		}
		switch left, right := may(i-1), may(i+1); {
		case right > 0 && right >= left:
			columns[i+1].from = c.from
		case left > 0:
			columns[i-1].to = c.to
		default:
			i++
			continue
		}
		columns = slices.Delete(columns, i, i+1)
	}
	return columns
}

// setAligned makes the text at hand one of these columns.
func (t *csvText) setAligned(names []string, gaps []gap) {
	t.columns, t.gaps, t.delimiter = names, gaps, '\t'
}

// findAligned is findHeader for fixed-width text.
func (r *reading) findAligned(t *csvText) bool {
	name, tried := []byte(r.timeColumn()), 0
	known := func(name string) bool { return r.mapping.byName[name] != nil }
	for t.number < maxHeaderLines && tried < headerSampleLines && t.advance() && len(t.line) <= maxLineBytes {
		if len(name) == 0 || !bytes.Contains(t.line, name) {
			continue
		}
		tried++
		for _, lines := range fewerLines {
			if names, gaps, ok := t.align(lines, known); ok && r.layoutOf(names).time >= 0 {
				t.setAligned(names, gaps)
				return true
			}
		}
	}
	return false
}

// findRawAligned is findRawHeader for fixed-width text.
func (t *csvText) findRawAligned() bool {
	var best *csvText
	for tried := 0; tried < headerSampleLines && t.number < maxHeaderLines && t.advance() && len(t.line) <= maxLineBytes; {
		if fields := bytes.Fields(t.line); 2*len(slices.DeleteFunc(fields, isTime)) < len(fields) {
			continue // a row
		}
		tried++
		names, gaps, ok := t.align(alignedLines, func(string) bool { return false })
		if !ok || best != nil && len(names) <= len(best.columns) || !allNames(names) {
			continue
		}
		found := *t
		found.setAligned(names, gaps)
		best = &found
	}
	if best == nil {
		return false
	}
	*t = *best
	return true
}

// kind is what the text is called.
func (t *csvText) kind() string {
	if t.gaps != nil {
		return "fixed-width text"
	}
	return "CSV"
}
