package ingest

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// Nearly all cells of an export are short numbers and single characters. They are read from
// the line as it is, before anybody looks where they end.

// short returns the first eight bytes of a cell as they stand in the line, and how many of
// them are the cell's. ok is false for a cell of more, or one whose end is known.
func (s *splitter) short(c *cell) (word uint64, n int, ok bool) {
	if c.end != 0 || cap(s.text)-int(c.from) < 8 {
		return 0, 0, false
	}
	rest := s.text[c.from:]
	word = binary.LittleEndian.Uint64(rest[:8]) // the bytes after a line are there too
	n = min(bits.TrailingZeros64(equalBytes(word, uint64(s.delimiter)*onesInBytes))>>3, len(rest))
	return word, n, n < 8
}

// number reads a cell that is a decimal number, as parseDecimal does. ok is false for most
// that are something else and for some that are long.
func (s *splitter) number(c *cell, point byte) (v float64, ok bool) {
	word, n, ok := s.short(c)
	if !ok {
		return 0, false
	}
	return shortDecimal(word, n, point)
}

// single reads a cell of one character.
func (s *splitter) single(c *cell) (letter byte, ok bool) {
	word, n, ok := s.short(c)
	return byte(word), ok && n == 1
}

// shortDecimal is parseDecimal for the first n bytes of a word, at most seven, without a
// branch on what they are: the point is taken out, the digits are put side by side at the
// end of the word and added up in pairs. ok is false for some more: a plus, an exponent.
func shortDecimal(word uint64, n int, point byte) (v float64, ok bool) {
	const zeros = '0' * onesInBytes
	negative := uint64(0)
	if byte(word) == '-' {
		negative = 1
	}
	word >>= 8 * negative
	length := uint(n) - uint(negative)
	before := uint(bits.TrailingZeros64(equalBytes(word, uint64(point)*onesInBytes))) / 8 // the point; beyond the end for none
	whole := uint64(1)<<(8*before) - 1
	word = word&whole | word>>8&^whole
	digits, places := length, uint(0)
	if before < length {
		digits, places = length-1, length-1-before
	}
	free := 64 - 8*digits
	word = word<<free | zeros>>(8*digits)
	if digits-1 > 6 || (word&highNibbles)|((word+6*onesInBytes)&highNibbles)>>4 != zeros|zeros>>4 {
		return 0, false
	}
	word -= zeros
	word = word*10 + word>>8
	const pair = 0x000000ff000000ff
	word = ((word&pair)*(100+1000000<<32) + (word>>16&pair)*(1+10000<<32)) >> 32
	return math.Float64frombits(math.Float64bits(float64(int64(word))/powers[places]) | negative<<63), true
}

const highNibbles = 0xf0 * onesInBytes
