package ingest

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"downlock/schemas"
)

// maxSniffedLines is how many lines are looked at for the decimal mark.
const maxSniffedLines = 1000

// readUnitsRow passes over a row of units after the header: one whose time cell
// is no time, and that has at least one known unit. A unit that is not the
// profile's is an error, as is one that is not known.
func (r *reading) readUnitsRow(t *csvText, byColumn []*channel) error {
	row := *t
	if !row.advance() || len(row.line) > maxLineBytes {
		return nil
	}
	s := splitter{delimiter: t.delimiter, wanted: bytes.Repeat([]byte{1}, len(t.columns))}
	cells, _, _, open := s.splitQuoted(row.line)
	if open >= 0 || !isUnitsRow(&s, cells, t.layout.time) {
		return nil
	}
	*t = row
	var problems schemas.Problems
	for _, c := range cells {
		spelling := bareUnit(s.textOf(&c))
		if int(c.column) == t.layout.time {
			if cause := r.otherTimeUnit(spelling); cause != "" {
				problems = append(problems, t.problem(int(c.at), cause, "give the export's time unit under time in "+r.profileName()))
			}
		}
		if byColumn == nil {
			continue
		}
		for channel := byColumn[c.column]; channel != nil; channel = channel.also {
			if cause, hint := r.otherUnit(channel, spelling); cause != "" {
				problems = append(problems, t.problem(int(c.at), cause, hint))
			}
		}
	}
	if len(problems) > 0 {
		return problems.InOrder()
	}
	return nil
}

func isUnitsRow(s *splitter, cells []cell, timeColumn int) bool {
	units := 0
	for _, c := range cells {
		text := bytes.TrimSpace(s.textOf(&c))
		if int(c.column) == timeColumn && (formOf(text, '.') != formUnknown || formOf(text, ',') != formUnknown) {
			return false
		}
		_, number := parseDecimal(text, '.')
		if _, known := schemas.UnitName(bareUnit(text)); known && !number && !(len(text) > 0 && isFiller(text)) {
			units++
		}
	}
	return units > 0
}

// bareUnit takes the brackets off "(kt)" and "[kt]".
func bareUnit(text []byte) string {
	return strings.TrimSpace(strings.Trim(strings.TrimSpace(string(text)), "()[]"))
}

// otherUnit is the cause and the hint where the export states another unit than the
// profile, or one that is not known: nothing tells then what the numbers are.
func (r *reading) otherUnit(c *channel, spelling string) (cause, hint string) {
	if !c.numeric || spelling == "" || isFiller([]byte(spelling)) || strings.EqualFold(spelling, "none") {
		return "", ""
	}
	name, written, column := c.parameter.Name, strconv.Quote(clip(spelling)), fmt.Sprintf("column %q", c.column)
	if expected := bareUnit([]byte(c.source.StatedUnit)); expected != "" {
		if sameUnit(expected, spelling) {
			return "", ""
		}
		return fmt.Sprintf("%s is in %s here, but the profile says that the export states %q", column, written, expected),
			fmt.Sprintf("correct stated_unit under %s in %s, and with it unit, scale and offset", name, r.profileName())
	}
	if c.plain && c.source.Unit == "" {
		return c.takeUnit(spelling), fmt.Sprintf("give the unit of the export under %s in %s, and stated_unit as the export spells it", name, r.profileName())
	}
	stated, known := schemas.UnitName(spelling)
	if !known {
		return fmt.Sprintf("%s is in %s here, a unit that is not known, and the profile says %s for %s", column, written, c.source.Unit, name),
			fmt.Sprintf("under %s in %s add stated_unit: %s if that is another spelling of %s; if not, also add the scale and offset that convert these numbers to %s",
				name, r.profileName(), written, c.source.Unit, c.source.Unit)
	}
	if mapped, _ := schemas.UnitName(c.source.Unit); mapped == stated {
		return "", ""
	}
	return fmt.Sprintf("%s is in %s here, but the profile says %s", column, spelling, c.source.Unit),
		fmt.Sprintf("give the unit the export writes under %s in %s", name, r.profileName())
}

// sameUnit reports whether two spellings are one unit, known or not.
func sameUnit(a, b string) bool {
	x, known := schemas.UnitName(a)
	y, _ := schemas.UnitName(b)
	return strings.EqualFold(a, b) || known && x == y
}

func (r *reading) otherTimeUnit(spelling string) string {
	stated, err := schemas.UnitFactor(spelling, "s")
	if err != nil || stated == r.axis.unit {
		return ""
	}
	mapped := r.profile.Time.Unit
	if mapped == "" {
		mapped = "s"
	}
	return fmt.Sprintf("time column %q is in %s here, but the profile says %s", r.timeColumn(), spelling, mapped)
}

// decimalMark finds the decimal mark of a file not separated by commas: what
// most numbers with a mark in its first lines use. Between commas it is a point.
func (t *csvText) decimalMark() byte {
	if t.delimiter == ',' {
		return '.'
	}
	ahead := *t
	points, commas := 0, 0
	for n := 0; n < maxSniffedLines && ahead.advance() && len(ahead.line) <= maxLineBytes; n++ {
		for _, text := range allCells(ahead.line, t.delimiter) {
			text = bytes.TrimSpace(text)
			if _, ok := parseDecimal(text, '.'); ok && bytes.IndexByte(text, '.') >= 0 {
				points++
			}
			if _, ok := parseDecimal(text, ','); ok && bytes.IndexByte(text, ',') >= 0 {
				commas++
			}
		}
	}
	if commas > points {
		return ','
	}
	return '.'
}
