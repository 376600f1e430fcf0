package ingest

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"downlock/schemas"
)

// noCode marks a cell text without a meaning; no parameter has 255 states.
const noCode = math.MaxUint8

// meaning is the meaning of the cells of one export column for one parameter: a
// number, one of a few codes (0 and 1 of a discrete, the index of a state), or
// no valid value. The profile's words come first, then the usual tokens.
type meaning struct {
	point          byte             // decimal mark
	single         [256]uint8       // code of a cell of one character, or noCode
	texts          map[string]uint8 // code by cell text
	folded         map[string]uint8 // code by cell text in lower case
	numbers        map[float64]uint8
	invalidNumbers []float64
	invalidTexts   map[string]bool // in lower case
	computed       *computed       // the code comes from a number; nil for most columns
	angles         []float64       // of flap detents, by code; nil for other columns
}

// usualInvalid are cell texts that mean "no valid value" in any export (common
// practice); runs of one filler character are known by isFiller.
var usualInvalid = []string{"nan", "invalid", "inv", "n/a", "#n/a", "na", "null", "none", "inf", "+inf", "-inf", "infinity", "-infinity", "-nan", "no data", "nodata"}

func newMeaning(parameter schemas.Parameter, source *schemas.Source, invalidTokens []string) meaning {
	m := meaning{point: '.', texts: map[string]uint8{}, folded: map[string]uint8{}, numbers: map[float64]uint8{}, invalidTexts: map[string]bool{}}
	for i := range m.single {
		m.single[i] = noCode
	}
	for _, token := range source.FalseWhen {
		m.addToken(token, 0)
	}
	for _, token := range source.TrueWhen {
		m.addToken(token, 1)
	}
	m.computed = newComputed(source)
	for token, state := range source.States {
		for i, known := range parameter.States {
			if known == state {
				m.addToken(token, uint8(i))
			}
		}
	}
	for _, token := range usualInvalid {
		m.invalidTexts[token] = true
	}
	for _, token := range invalidTokens {
		token = strings.TrimSpace(token)
		m.invalidTexts[strings.ToLower(token)] = true
		if v, ok := parseDecimal([]byte(token), '.'); ok {
			m.invalidNumbers = append(m.invalidNumbers, v)
		}
	}
	return m
}

func (m *meaning) addToken(token string, code uint8) {
	token = strings.TrimSpace(token)
	if m.computed != nil {
		if v, ok := parseDecimal([]byte(token), '.'); ok {
			m.numbers[v] = code
		}
		return
	}
	m.texts[token] = code
	if len(token) == 1 {
		m.single[token[0]] = code
	}
	lower := strings.ToLower(token)
	if other, ok := m.folded[lower]; ok && other != code {
		code = noCode // two texts that differ only in case mean two things
	}
	m.folded[lower] = code
	if v, ok := parseDecimal([]byte(token), '.'); ok {
		m.numbers[v] = code
	}
}

// code returns the meaning of a cell of a discrete or state parameter, or noCode. The
// text counts first, then the text whatever its case, then equality as a
// number ("1" is "1.0" and TRUE).
func (m *meaning) code(cell []byte) uint8 {
	if len(cell) == 1 && m.single[cell[0]] != noCode {
		return m.single[cell[0]]
	}
	if m.computed != nil {
		return m.computedCode(cell)
	}
	if code, ok := m.texts[string(cell)]; ok {
		return code
	}
	if code, ok := m.folded[strings.ToLower(string(cell))]; ok {
		return code
	}
	if v, ok := parseDecimal(cell, m.point); ok {
		return m.codeOfNumber(v)
	}
	switch { // as a spreadsheet writes 1 and 0 of a switch
	case bytes.EqualFold(cell, []byte("true")):
		return m.codeOfNumber(1)
	case bytes.EqualFold(cell, []byte("false")):
		return m.codeOfNumber(0)
	}
	return noCode
}

func (m *meaning) codeOfNumber(v float64) uint8 {
	if m.computed != nil {
		return m.codeOfWritten(v)
	}
	if code, ok := m.numbers[v]; ok {
		return code
	}
	return noCode
}

func (m *meaning) isInvalidNumber(v float64) bool {
	for _, invalid := range m.invalidNumbers {
		if v == invalid {
			return true
		}
	}
	return math.IsNaN(v) || math.IsInf(v, 0)
}

func (m *meaning) isInvalidText(cell []byte) bool {
	if v, ok := parseDecimal(cell, m.point); ok {
		return m.isInvalidNumber(v)
	}
	return isFiller(cell) || m.invalidTexts[string(bytes.ToLower(cell))]
}

// isFiller knows ----, ***, ### and the like.
func isFiller(cell []byte) bool {
	switch cell[0] {
	case '-', '*', '#', '?', '=', '_', '.':
		return len(bytes.TrimLeft(cell, string(cell[:1]))) == 0
	}
	return false
}

// unreadable is the cause and the hint for a cell without a meaning.
func (c *channel) unreadable(cell, profileFile string) (cause, hint string) {
	if profileFile == "" {
		profileFile = "the profile"
	}
	quoted := strconv.Quote(clip(cell))
	invalid := fmt.Sprintf("if %s means no valid value, add it to invalid_tokens", quoted)
	name := c.parameter.Name
	switch {
	case c.meaning.computed != nil:
		cause, hint = c.meaning.computed.unreadable(quoted, c.source, name, profileFile)
		return fmt.Sprintf("column %q: %s", c.source.Column, cause), hint + "; " + invalid
	case c.meaning.angles != nil:
		return fmt.Sprintf("column %q: %s is not a flap detent for %s; the profile's detents are written %s", c.source.Column, quoted, name, c.meaning.detentTexts()),
			fmt.Sprintf("in %s add %s to the states of its detent under flaps; %s", profileFile, quoted, invalid)
	}
	switch c.parameter.Kind {
	case schemas.Discrete:
		return fmt.Sprintf("column %q: %s is neither true nor false for %s", c.column, quoted, name),
			fmt.Sprintf("in %s add %s to true_when or false_when of %s; %s", profileFile, quoted, name, invalid)
	case schemas.State:
		return fmt.Sprintf("column %q: %s is not a known state of %s", c.column, quoted, name),
			fmt.Sprintf("in %s add %s: %s under states of %s; %s", profileFile, quoted, strings.Join(c.parameter.States, " or "), name, invalid)
	}
	hint = fmt.Sprintf("in %s check the column of %s; %s", profileFile, name, invalid)
	if strings.ContainsAny(cell, ",.") && strings.ContainsAny(cell, "0123456789") {
		hint = fmt.Sprintf("numbers in this file have %q as decimal mark and no thousands separator; %s", c.meaning.point, invalid)
	}
	return fmt.Sprintf("column %q: %s is not a number, and %s needs numbers in %s", c.column, quoted, name, c.source.Unit), hint
}

// clip shortens a text from a file for a message.
func clip(text string) string {
	const most = 40
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return text
}
