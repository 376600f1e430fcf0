package ingest

import (
	"io"

	"golang.org/x/text/encoding/unicode"

	"downlock/schemas"
)

// utf16Text is UTF-16 as UTF-8. A byte that is missing or too many turns all that follows
// into other characters. Nothing else shows it but the line feed, which then is U+0A00:
// that character is not assigned (Unicode 15, from memory), so no text has it.
type utf16Text struct {
	even    *wholeUnits
	decoded io.Reader
	file    string
	line    int
	matched int // bytes of turnedLineFeed read last
}

const turnedLineFeed = "\u0a00"

func newUTF16Text(in io.Reader, file string, order unicode.Endianness, mark unicode.BOMPolicy) *utf16Text {
	even := &wholeUnits{in: in}
	return &utf16Text{even: even, decoded: unicode.UTF16(order, mark).NewDecoder().Reader(even), file: file, line: 1}
}

func (t *utf16Text) Read(p []byte) (int, error) {
	n, err := t.decoded.Read(p)
	for _, b := range p[:n] {
		switch {
		case b == turnedLineFeed[t.matched]:
			t.matched++
		case b == turnedLineFeed[0]:
			t.matched = 1
		default:
			t.matched = 0
		}
		if t.matched == len(turnedLineFeed) {
			return n, &schemas.Problem{File: t.file, Line: t.line, Cause: "UTF-16 with a missing or extra byte, in this line or near it",
				Hint: damagedHint}
		}
		if b == '\n' {
			t.line++
		}
	}
	return n, err
}

// halfUnitNote says what became of the last byte of a text with an odd number of them.
const halfUnitNote = "the text is UTF-16 with an odd number of bytes, as if it were incomplete: the last byte was left out"

// wholeUnits passes on an even number of bytes: units of UTF-16.
type wholeUnits struct {
	in   io.Reader
	held [1]byte
	half bool // held is half a unit; at the end it was left out
}

func (w *wholeUnits) Read(p []byte) (int, error) {
	if len(p) < 2 {
		return 0, io.ErrShortBuffer // the decoder reads 4096 bytes at a time
	}
	n := 0
	if w.half {
		p[0], n = w.held[0], 1
	}
	read, err := w.in.Read(p[n:])
	n += read
	if w.half = n%2 == 1; w.half {
		n--
		w.held[0] = p[n]
	}
	return n, err
}
