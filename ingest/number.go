package ingest

import (
	"bytes"
	"strconv"
)

// powers are the powers of ten a float64 holds exactly.
var powers = [23]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseDecimal reads a decimal number such as -12.50 or 1.5e-3, with point as
// its decimal mark. The result is that of strconv.ParseFloat, to the bit.
//
// ok is false for all else: blanks, NaN, hexadecimal, digit separators.
func parseDecimal(cell []byte, point byte) (v float64, ok bool) {
	v, end, ok := leadingDecimal(cell, point)
	if ok && end == len(cell) {
		return v, true
	}
	return parseDecimalSlowly(cell, point, end)
}

// leadingDecimal reads the number at the beginning of a text, without an exponent, and
// returns where it ends. Below 2^53 the digits and the power of ten are exact, so their
// quotient is the nearest float64 (Clinger's fast path); ok is false for the rest.
func leadingDecimal(text []byte, point byte) (v float64, end int, ok bool) {
	i := 0
	negative := false
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		negative = text[0] == '-'
		i = 1
	}
	var mantissa uint64
	digits, fraction := -i, 0
	for ; i < len(text); i++ {
		d := text[i] - '0'
		if d > 9 {
			break
		}
		mantissa = mantissa*10 + uint64(d)
	}
	digits += i
	if i < len(text) && text[i] == point {
		i++
		start := i
		for ; i < len(text); i++ {
			d := text[i] - '0'
			if d > 9 {
				break
			}
			mantissa = mantissa*10 + uint64(d)
		}
		fraction = i - start
		digits += fraction
	}
	// 19 digits never overflow a uint64.
	if digits == 0 || digits > 19 || mantissa >= 1<<53 {
		return 0, i, false
	}
	v = float64(mantissa) / powers[fraction]
	if negative {
		v = -v
	}
	return v, i, true
}

// parseDecimalSlowly leaves the number to strconv once the part after the
// digits, from rest on, is known to be nothing or an exponent.
func parseDecimalSlowly(cell []byte, point byte, rest int) (float64, bool) {
	if rest < len(cell) && !isExponent(cell[rest:]) || !bytes.ContainsAny(cell[:rest], "0123456789") {
		return 0, false
	}
	text := []byte(string(cell))
	for i := range text {
		if text[i] == point {
			text[i] = '.'
		}
	}
	v, err := strconv.ParseFloat(string(text), 64)
	return v, err == nil
}

func isExponent(s []byte) bool {
	if s[0] != 'e' && s[0] != 'E' {
		return false
	}
	s = s[1:]
	if len(s) > 0 && (s[0] == '-' || s[0] == '+') {
		s = s[1:]
	}
	for _, c := range s {
		if c < '0' || c > '9' {
			return false
		}
	}
	return len(s) > 0
}
