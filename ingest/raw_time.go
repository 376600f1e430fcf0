package ingest

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"downlock/schemas"
)

// head holds the first rows of an export, a list of texts per column, and finds the
// columns of the time in them.
type head struct {
	names, units []string
	point        byte // decimal mark
	rows         int
	cells        [][]string // by column, then row; "" is blank
}

func newHead(names, units []string) *head {
	if units == nil {
		units = make([]string, len(names))
	}
	trimmed := make([]string, len(names))
	for i, name := range names {
		trimmed[i] = strings.TrimSpace(name)
	}
	return &head{names: trimmed, units: units, point: '.', cells: make([][]string, len(names))}
}

func (h *head) addRow(cells [][]byte) {
	h.rows++
	for i := range h.cells {
		text := ""
		if i < len(cells) {
			text = string(bytes.TrimSpace(cells[i]))
		}
		h.cells[i] = append(h.cells[i], text)
	}
}

// timeCandidate is a column that may be the time of a row.
type timeCandidate struct {
	column   int
	form     timeForm
	step     float64 // usual step between rows that differ, in the column's unit
	repeats  float64 // share of rows with the time of the row before
	score    float64
	evidence []string
}

// findTime finds the time, date and clock columns and, in a long export, those
// of the parameter and its value; ok is false when nothing looks like time.
func (h *head) findTime() (t RawTime, ok bool) {
	var best *timeCandidate
	for i := range h.names {
		if c := h.candidate(i); c != nil && (best == nil || c.score > best.score) {
			best = c
		}
	}
	if best == nil {
		return t, false
	}
	t.Column = h.names[best.column]
	t.Form = map[timeForm]string{formSeconds: "seconds", formClock: "clock", formInstant: "date and time"}[best.form]
	t.Evidence = best.evidence
	if best.form == formSeconds {
		t.Unit, t.Doubt = h.timeUnit(best)
	}
	if best.form == formInstant {
		h.setFormat(&t, best.column, h.instants(best.column), true)
	}
	for i, name := range h.names {
		switch {
		case i == best.column || best.form == formInstant || name == "":
		case t.Date == "" && t.Undated == "" && len(h.dates(i).formats) > 0:
			h.setFormat(&t, i, h.dates(i), false)
		case t.Clock == "" && best.form == formSeconds && h.all(i, isClock):
			t.Clock = name
		}
	}
	h.findLong(&t, best)
	return t, true
}

// setFormat takes over how the dates of a column are read. Where that is left open a
// column of the time itself is read by the first format all the same.
func (h *head) setFormat(t *RawTime, i int, d dateReading, time bool) {
	if d.decided() || time && len(d.formats) > 0 {
		t.DateFormat = d.formats[0]
	}
	if d.decided() && d.formats[0] != "" {
		t.Evidence = append(t.Evidence, fmt.Sprintf("the dates of %q can only be read as %s", h.names[i], d.formats[0]))
	}
	switch {
	case d.decided() && !time:
		t.Date = h.names[i]
	case !d.decided() && len(d.formats) > 0:
		t.Doubt = joinDoubts(t.Doubt, d.doubt(h.names[i]))
		t.DateFormats, t.Undated = d.formats, h.names[i]
	}
}

func joinDoubts(doubts ...string) string {
	return strings.Join(slices.DeleteFunc(doubts, func(d string) bool { return d == "" }), "; ")
}

// candidate holds a column against the marks of a time column: filled in nearly every
// row, and never falling but for a few rows out of place or a new day.
func (h *head) candidate(i int) *timeCandidate {
	c := &timeCandidate{column: i}
	a := axis{unit: 1, point: h.point, midnight: midnightStepWide}
	if d := h.instants(i); len(d.formats) > 0 && d.formats[0] != "" {
		a.format, _ = schemas.ParseDateFormat(d.formats[0])
	}
	filled, steps, falls, repeats := 0, 0, 0, 0
	var last float64
	var rises []float64
	for _, cell := range h.cells[i] {
		if cell == "" {
			continue
		}
		at, cause := a.parse([]byte(cell), nil)
		if cause != "" {
			if isInvalidCell(cell) {
				continue
			}
			return nil
		}
		if filled > 0 {
			steps++
			switch {
			case at < last:
				falls++
			case at == last:
				repeats++
			default:
				rises = append(rises, at-last)
			}
		}
		filled++
		last = at
	}
	outOfPlace := 50*falls <= steps || falls == 1 && steps >= 10
	if filled == 0 || 10*filled < 9*h.rows || !outOfPlace || len(rises) == 0 && h.rows > 1 {
		return nil
	}
	c.form = a.form
	c.repeats = float64(repeats) / float64(max(steps, 1))
	c.step = middle(rises)
	c.evidence = []string{fmt.Sprintf("a value in %d of the first %d rows; the values never fall", filled, h.rows)}
	if falls > 0 {
		c.evidence[0] = fmt.Sprintf("a value in %d of the first %d rows; the values fall in %d", filled, h.rows, falls)
	}
	c.weigh(h.names[i], rises)
	return c
}

// weigh scores a candidate: how it is written, its name, how even and how fine its
// steps are, and that it comes first.
func (c *timeCandidate) weigh(name string, rises []float64) {
	if c.form != formSeconds {
		c.score += 2
		c.evidence = append(c.evidence, "every cell is a clock time or date and time")
	}
	lower := strings.ToLower(name)
	for _, word := range []string{"time", "sec", "elapsed", "utc", "gmt", "clock"} {
		if strings.Contains(lower, word) {
			c.score += 3
			c.evidence = append(c.evidence, fmt.Sprintf("the name has %q in it", word))
			break
		}
	}
	even := 0
	for _, r := range rises {
		if math.Abs(r-c.step) < 1e-3*c.step+1e-9 {
			even++
		}
	}
	if len(rises) > 0 && 10*even >= 9*len(rises) {
		c.score += 2
		c.evidence = append(c.evidence, fmt.Sprintf("even steps of %g", math.Round(c.step*1e6)/1e6))
	}
	c.score += 3 * (1 - c.repeats) // the finer of two
	c.score += 1 / float64(c.column+1)
}

// timeUnit is the unit of a time column of numbers: the one the export states,
// or else seconds unless name or steps speak for milliseconds.
func (h *head) timeUnit(c *timeCandidate) (unit, doubt string) {
	switch stated := strings.ToLower(h.units[c.column]); stated {
	case "s", "ms", "min":
		return stated, ""
	case "sec", "secs", "seconds":
		return "s", ""
	}
	lower := strings.ToLower(h.names[c.column])
	switch {
	case strings.HasSuffix(lower, "ms") || strings.Contains(lower, "milli"):
		return "ms", ""
	case strings.Contains(lower, "min"):
		return "min", "the unit of the time is taken from the name of its column"
	case c.step >= 20: // s; no recorder leaves a whole frame of several seconds without a row
		return "ms", fmt.Sprintf("the unit of the time is not stated; rows are %g apart, so it is taken for milliseconds", c.step)
	}
	return "s", ""
}

// isTime reports whether a cell is a number or a time.
func isTime(cell []byte) bool {
	for _, point := range []byte{'.', ','} {
		a := axis{unit: 1, point: point}
		if _, cause := a.parse(cell, nil); cause == "" {
			return true
		}
	}
	return false
}

// findLong finds the columns of a long export: few columns, one of them the
// names of parameters, another a value in every row.
func (h *head) findLong(t *RawTime, time *timeCandidate) {
	const mostLongColumns = 8
	if len(h.names) > mostLongColumns {
		return
	}
	parameter := -1
	for i, name := range h.names {
		if i == time.column || name == t.Date || name == t.Clock {
			continue
		}
		hinted := hasWord(name, "param", "signal", "mnemonic", "channel", "variable", "name")
		if (hinted || time.repeats > 0.2) && h.isNames(i) {
			parameter = i
			break
		}
	}
	if parameter < 0 {
		return
	}
	value := -1
	for i, name := range h.names {
		if i == time.column || i == parameter || name == t.Date || name == t.Clock || h.filled(i) < 0.5 {
			continue
		}
		if value < 0 || hasWord(name, "value", "data") && !hasWord(h.names[value], "value", "data") {
			value = i
		}
	}
	if value >= 0 {
		t.Long.Parameter, t.Long.Value = h.names[parameter], h.names[value]
		t.Evidence = append(t.Evidence, fmt.Sprintf("a row per sample: %q holds names, %q their values", t.Long.Parameter, t.Long.Value))
	}
}

// isNames reports whether a column holds a name in nearly every row, of several.
func (h *head) isNames(i int) bool {
	distinct, named := map[string]bool{}, 0
	for _, cell := range h.cells[i] {
		if _, number := parseDecimal([]byte(cell), h.point); cell != "" && !number {
			distinct[cell] = true
			named++
		}
	}
	return 10*named >= 9*h.rows && len(distinct) > 1
}

func (h *head) filled(i int) float64 {
	n := 0
	for _, cell := range h.cells[i] {
		if cell != "" {
			n++
		}
	}
	return float64(n) / float64(max(h.rows, 1))
}

// all reports whether a column has cells and each is of a kind.
func (h *head) all(i int, is func(string) bool) bool {
	n := 0
	for _, cell := range h.cells[i] {
		if cell == "" || isInvalidCell(cell) {
			continue
		}
		if !is(cell) {
			return false
		}
		n++
	}
	return n > 0
}

func isClock(cell string) bool {
	_, ok := parseClock([]byte(cell))
	return ok
}

func isInvalidCell(cell string) bool {
	return isFiller([]byte(cell)) || slices.Contains(usualInvalid, strings.ToLower(cell))
}

func hasWord(name string, words ...string) bool {
	lower := strings.ToLower(name)
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(lower, w) })
}

// middle is the median, 0 of nothing.
func middle(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(values))
	return sorted[len(sorted)/2]
}
