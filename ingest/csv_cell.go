package ingest

// Nearly all cells of an export are short numbers and single characters. They are read from
// the line as it is, before anybody looks where they end.

// number reads a cell that is a decimal number. ok is false for all else, and for a number
// with an exponent or very many digits.
func (s *splitter) number(c *cell, point byte) (v float64, ok bool) {
	text := s.text[c.from:]
	if c.end != 0 {
		text = s.text[c.from:c.end]
	}
	v, end, ok := leadingDecimal(text, point)
	return v, ok && (end == len(text) || c.end == 0 && text[end] == s.delimiter)
}

// single reads a cell of one character.
func (s *splitter) single(c *cell) (letter byte, ok bool) {
	if c.end != 0 {
		return s.text[c.from], c.end-c.from == 1
	}
	text := s.text[c.from:]
	return text[0], len(text) == 1 || text[1] == s.delimiter
}
