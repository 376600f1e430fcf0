package ingest

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas"
)

// between is the code of a number between two levels until settle finds the state.
const between = noCode - 1

// computed is how the code of a cell comes from a number: the cell's own or that of
// a field of bits, and then by levels or by equality with the profile's numbers.
type computed struct {
	field     bool
	low, bits uint   // of the field
	word      string // how words without 0x are written

	levels      bool
	upper       float64 // above it the code is high
	lower       float64 // below it the code is low
	high, below uint8
}

// newComputed returns nil for a source whose codes come from texts.
func newComputed(source *schemas.Source) *computed {
	low, high, field := source.Field()
	if !field && !source.HasLevels() {
		return nil
	}
	c := &computed{word: source.Word}
	if field {
		c.field, c.low, c.bits = true, uint(low), uint(high-low+1)
	}
	switch {
	case source.TrueAbove != nil && source.FalseBelow != nil:
		c.levels, c.upper, c.lower, c.high, c.below = true, *source.TrueAbove, *source.FalseBelow, 1, 0
	case source.TrueBelow != nil && source.FalseAbove != nil:
		c.levels, c.upper, c.lower, c.high, c.below = true, *source.FalseAbove, *source.TrueBelow, 0, 1
	}
	return c
}

// computedCode is code for a column whose codes come from numbers.
func (m *meaning) computedCode(cell []byte) uint8 {
	if m.computed.field {
		if m.invalidTexts[strings.ToLower(string(cell))] {
			return noCode
		}
		if word, ok := m.computed.parseWord(cell, m.point); ok {
			if m.isInvalidNumber(float64(int64(word))) {
				return noCode
			}
			return m.codeOfField(word)
		}
		return noCode
	}
	if v, ok := parseDecimal(cell, m.point); ok {
		return m.codeOfWritten(v)
	}
	return noCode
}

// codeOfWritten is the code of a number the export writes.
func (m *meaning) codeOfWritten(v float64) uint8 {
	if m.isInvalidNumber(v) {
		return noCode
	}
	if !m.computed.field {
		return m.computed.codeOfLevel(v)
	}
	const exact = 1 << 53 // float64 holds every whole number up to it
	if v != math.Trunc(v) || math.Abs(v) > exact {
		return noCode
	}
	return m.codeOfField(uint64(int64(v)))
}

func (m *meaning) codeOfField(word uint64) uint8 {
	v := float64(word >> m.computed.low & (1<<m.computed.bits - 1))
	if m.computed.levels {
		return m.computed.codeOfLevel(v)
	}
	if code, ok := m.numbers[v]; ok {
		return code
	}
	return noCode
}

func (c *computed) codeOfLevel(v float64) uint8 {
	switch {
	case v > c.upper:
		return c.high
	case v < c.lower:
		return c.below
	}
	return between
}

// parseWord reads a whole number, decimal or hexadecimal; a negative one is its two's
// complement. Without 0x and without word in the profile, hexadecimal digits and
// leading zeros leave a doubt: such a cell is refused, not guessed.
func (c *computed) parseWord(cell []byte, point byte) (word uint64, ok bool) {
	text := strings.ToLower(string(cell))
	if digits, hex := strings.CutPrefix(text, "0x"); hex {
		return parseDigits(digits, 16)
	}
	if c.word == "hex" {
		return parseDigits(text, 16)
	}
	digits, negative := strings.CutPrefix(text, "-")
	if whole, fraction, cut := strings.Cut(digits, string(rune(point))); cut && strings.Trim(fraction, "0") == "" {
		digits = whole // 26.0, as a table of floating-point numbers is written
	}
	if c.word == "" && len(digits) > 1 && digits[0] == '0' {
		return 0, false
	}
	word, ok = parseDigits(digits, 10)
	if negative {
		return -word, ok && word <= 1<<63
	}
	return word, ok
}

func parseDigits(digits string, base int) (uint64, bool) {
	if strings.ContainsAny(digits, "+-_") {
		return 0, false
	}
	word, err := strconv.ParseUint(digits, base, 64)
	return word, err == nil
}

// unreadable is the cause and the hint for a cell without a meaning.
func (c *computed) unreadable(quoted string, source *schemas.Source, name, profileFile string) (cause, hint string) {
	if !c.field {
		return quoted + " is not a number, and " + name + " is read from a number by its levels", fmt.Sprintf("in %s check the column of %s", profileFile, name)
	}
	bare, _ := strconv.Unquote(quoted)
	if word, ok := c.parseWord([]byte(bare), '.'); ok {
		v := word >> c.low & (1<<c.bits - 1)
		return fmt.Sprintf("%s of %s is %d, which has no meaning for %s", source.FieldName(), quoted, v, name),
			fmt.Sprintf("in %s add %d under states, or to true_when or false_when, of %s", profileFile, v, name)
	}
	if c.word == "" {
		if _, ok := parseDigits(strings.ToLower(bare), 16); ok {
			return fmt.Sprintf("%s may be hexadecimal or decimal", quoted), fmt.Sprintf("in %s add word: hex or word: decimal to %s", profileFile, name)
		}
	}
	return fmt.Sprintf("%s is not a packed word: a whole number, decimal or with 0x", quoted), fmt.Sprintf("in %s check the column and word of %s", profileFile, name)
}

// settle gives numbers between two levels the state before them. None is known at the
// beginning and after a gap: those samples are taken out, and counted.
func (c *channel) settle() (undecided int) {
	gap, state := c.gap(spacingOf(c.times).typical), uint8(between)
	for i, code := range c.codes {
		if i > 0 && c.times[i]-c.times[i-1] > gap {
			state = between
		}
		if code != between {
			state = code
		}
		c.codes[i] = state
	}
	return c.filter(func(i int) bool { return c.codes[i] != between })
}

// detentTexts lists the texts of the detents and their angles.
func (m *meaning) detentTexts() string {
	lists := make([]string, len(m.angles))
	for code := range lists {
		var texts []string
		for text, of := range m.texts {
			if int(of) == code {
				texts = append(texts, text)
			}
		}
		slices.Sort(texts)
		lists[code] = fmt.Sprintf("%s (%g deg)", strings.Join(texts, " or "), m.angles[code])
	}
	return joinNames(lists)
}
