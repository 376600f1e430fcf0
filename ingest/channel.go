package ingest

import (
	"bytes"
	"slices"
	"strings"

	"downlock/schemas"
)

// channel collects the samples one parameter takes from one export column, in
// the order of the file and as written: units, plausibility and order follow in
// series.
type channel struct {
	parameter schemas.Parameter
	source    *schemas.Source
	column    string // that it reads
	meaning   meaning
	numeric   bool
	plain     bool // numeric, and its cells are the numbers
	special   bool // some numbers mean "no valid value"

	times   []float64
	numbers []float64 // of a numeric parameter
	codes   []uint8   // of the others
	tokens  int       // cells that said "no valid value"
	packed  *packed   // the samples before them, of a large recording
	chosen  []bool    // of filter
	last    numberCode

	borrowed bool // times and numbers are not the channel's own: see borrow; codes are

	spacing *spacing // of the times, which rise; nil where it is not known

	earlier []*channel // the samples of earlier stretches
	long    longPlace  // in a long export
	unit    rowUnit    // of its rows
	hold    hold       // of one stretch

	seen    bool             // the export has the column
	problem *schemas.Problem // the first cell that could not be read
	also    *channel         // another parameter that reads the same column

	samples []*channel // one for each column of a row of several samples, itself the first; else nil
	behind  bool       // it reads one of those columns and is not the first
	width   float64    // s the times of their rows were spread over, at most
}

// numberCode is the code that a number means.
type numberCode struct {
	number float64
	code   uint8
	known  bool
}

func newChannel(parameter schemas.Parameter, source *schemas.Source, invalidTokens []string) *channel {
	c := &channel{parameter: parameter, source: source, column: strings.TrimSpace(source.Column), numeric: parameter.Numeric(), meaning: newMeaning(parameter, source, invalidTokens)}
	c.special = len(c.meaning.invalidNumbers) > 0
	c.plain = c.numeric
	return c
}

// readDetents has the channel take detents for their angles.
func (c *channel) readDetents(detents []schemas.Detent) {
	c.plain = false
	c.meaning.angles = []float64{}
	for i, d := range detents {
		c.meaning.angles = append(c.meaning.angles, d.Angle)
		for _, text := range d.States {
			c.meaning.addToken(text, uint8(i))
		}
	}
}

// addCell adds a cell of a line; false when it has no meaning.
func (c *channel) addCell(at float64, s *splitter, from *cell) bool {
	if c.plain {
		if v, ok := s.number(from, c.meaning.point); ok {
			c.addNumeric(at, v)
			return true
		}
	} else if letter, ok := s.single(from); ok && c.meaning.single[letter] != noCode {
		c.addCode(at, c.meaning.single[letter])
		return true
	}
	return c.addText(at, s.textOf(from))
}

// addText adds a cell that is not empty; false when it has no meaning.
func (c *channel) addText(at float64, cell []byte) bool {
	if c.plain {
		if v, ok := parseDecimal(cell, c.meaning.point); ok {
			c.addNumeric(at, v)
			return true
		}
	} else if code := c.meaning.code(cell); code != noCode {
		c.addCode(at, code)
		return true
	}
	return c.addOddText(at, cell)
}

// addOddText is addText for the other cells: blanks around the text, and tokens.
func (c *channel) addOddText(at float64, cell []byte) bool {
	trimmed := bytes.TrimSpace(cell)
	switch {
	case len(trimmed) == 0:
		return true
	case len(trimmed) < len(cell):
		return c.addText(at, trimmed)
	case c.meaning.isInvalidText(trimmed):
		c.tokens++
		return true
	}
	return false
}

// addNumber adds a cell of a file that holds numbers as such; false when it has
// no meaning.
func (c *channel) addNumber(at, v float64) bool {
	if c.plain {
		c.addNumeric(at, v)
		return true
	}
	if c.last.number != v || !c.last.known { // samples in a row mostly agree
		c.last = numberCode{v, c.meaning.codeOfNumber(v), true}
	}
	if code := c.last.code; code != noCode {
		c.addCode(at, code)
		return true
	}
	if c.meaning.isInvalidNumber(v) {
		c.tokens++
		return true
	}
	return false
}

func (c *channel) addCode(at float64, code uint8) {
	c.times = append(c.times, at)
	if c.numeric {
		c.numbers = append(c.numbers, c.meaning.angles[code])
		return
	}
	c.codes = append(c.codes, code)
}

// borrow has the channels of a chain take a column and the times of its rows as their
// samples without a copy, where every cell is one; codes are made of the cells. It reports
// whether they did. What changes samples later makes them its own first. spacing is that of
// the times, nil where they do not rise.
func (c *channel) borrow(times []float64, spacing *spacing, from *column) bool {
	if from.sparse || from.valid != nil {
		return false
	}
	var codes [][]uint8
	for b := c; b != nil; b = b.also {
		switch {
		case b.plain && !from.text && !b.hasToken(from.numbers):
			codes = append(codes, nil)
		case !b.numeric:
			one := b.codesOf(from)
			if one == nil {
				return false
			}
			codes = append(codes, one)
		default:
			return false
		}
	}
	for b := c; b != nil; b = b.also {
		b.times, b.spacing, b.borrowed = slices.Clip(times), spacing, true
		if b.codes, codes = codes[0], codes[1:]; b.codes == nil {
			b.numbers = slices.Clip(from.numbers)
		}
	}
	return true
}

// keepsNumbers reports whether a chain that borrowed a column has its numbers.
func (c *channel) keepsNumbers() bool {
	return c != nil && (c.plain || c.also.keepsNumbers())
}

// codesOf returns the codes of the cells of a column, nil where one of them has none.
func (c *channel) codesOf(from *column) []uint8 {
	codes := make([]uint8, from.rows())
	code := uint8(noCode)
	for i := range codes {
		switch { // cells in a row mostly agree
		case from.text && (i == 0 || from.texts[i] != from.texts[i-1]):
			code = c.meaning.code([]byte(from.texts[i]))
		case !from.text && (i == 0 || from.numbers[i] != from.numbers[i-1]):
			code = c.meaning.codeOfNumber(from.numbers[i])
		}
		if code == noCode {
			return nil
		}
		codes[i] = code
	}
	return codes
}

// own copies samples that are not the channel's own, before they are changed.
func (c *channel) own() {
	if c.borrowed {
		c.times, c.numbers, c.borrowed = slices.Clone(c.times), slices.Clone(c.numbers), false
	}
}

// grow makes room for so many more samples.
func (c *channel) grow(n int) {
	c.times = slices.Grow(c.times, n)
	if c.numeric {
		c.numbers = slices.Grow(c.numbers, n)
	} else {
		c.codes = slices.Grow(c.codes, n)
	}
}

// count is how many samples there are.
func (c *channel) count() int {
	if c.packed != nil {
		return c.packed.times.count + len(c.times)
	}
	return len(c.times)
}

// whole is count with the samples of earlier stretches.
func (c *channel) whole() int {
	n := c.count()
	for _, e := range c.earlier {
		n += e.count()
	}
	return n
}

// packedBytes is the size of the packed samples.
func (c *channel) packedBytes() (size int) {
	if c.packed != nil {
		size = c.packed.bytes()
	}
	for _, e := range c.earlier {
		size += e.packedBytes()
	}
	return size
}

func (c *channel) addNumeric(at, v float64) {
	if c.isToken(v) {
		c.tokens++
		return
	}
	c.times = append(c.times, at)
	c.numbers = append(c.numbers, v)
}

// isToken reports whether a number means "no valid value".
func (c *channel) isToken(v float64) bool {
	return (c.special || v-v != 0) && c.meaning.isInvalidNumber(v) // v-v is not 0 for NaN and infinities
}

// hasToken reports whether one of the numbers does.
func (c *channel) hasToken(numbers []float64) bool {
	for _, v := range numbers {
		if c.isToken(v) {
			return true
		}
	}
	return false
}
