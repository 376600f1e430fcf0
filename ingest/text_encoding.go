package ingest

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

const windows1252 = "Windows-1252"

// textOf reads UTF-16 as UTF-8, and all else as it is: ASCII and UTF-8 are not copied, and
// utf16 is nil. The window reads Windows-1252, which only the text itself shows. file is
// the name for messages.
func textOf(c *content, head []byte, file string) (in io.Reader, size int64, utf16 *utf16Text) {
	if order, mark, ok := utf16Order(head); ok {
		utf16 = newUTF16Text(c, file, order, mark)
		return utf16, 0, utf16
	}
	return c, c.sizeHint(), nil
}

// utf16Order knows UTF-16 by its byte-order mark, or by a header of Latin letters, where
// every other byte is NUL but for a sign or two.
func utf16Order(head []byte) (order unicode.Endianness, mark unicode.BOMPolicy, ok bool) {
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return unicode.LittleEndian, unicode.ExpectBOM, true
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return unicode.BigEndian, unicode.ExpectBOM, true
	case len(head) < 8:
		return unicode.BigEndian, unicode.IgnoreBOM, false
	}
	var latin [2]int // pairs that are a printed Latin letter, by the place of the letter
	for i := 0; i+1 < len(head); i += 2 {
		for letter, other := range [2]int{1, 0} {
			if b := head[i+letter]; head[i+other] == 0 && (b >= ' ' || b == '\t' || b == '\r' || b == '\n') {
				latin[letter]++
			}
		}
	}
	switch pairs := len(head) / 2; {
	case 10*latin[0] >= 9*pairs:
		return unicode.LittleEndian, unicode.IgnoreBOM, true
	case 10*latin[1] >= 9*pairs:
		return unicode.BigEndian, unicode.IgnoreBOM, true
	}
	return unicode.BigEndian, unicode.IgnoreBOM, false
}

// findEncoding looks for the first character beyond ASCII in what was read from offset old
// on. If it is not written in UTF-8, the text is Windows-1252: all from there on is read
// again through its decoder, and again is true.
func (w *window) findEncoding(old int) (again bool) {
	from := max(old-utf8.UTFMax+1, 0) // the piece before may have ended within a character
	at := beyondASCII(w.data[from:])
	if at < 0 {
		return false
	}
	at += from
	rest := w.data[at:]
	if !utf8.FullRune(rest) && !w.done {
		return false
	}
	w.encoded = true
	if _, size := utf8.DecodeRune(rest); size > 1 {
		return false
	}
	w.codepage, w.firstRune = true, charmap.Windows1252.DecodeByte(rest[0])
	w.in = transform.NewReader(io.MultiReader(bytes.NewReader(bytes.Clone(rest)), w.in), charmap.Windows1252.NewDecoder())
	w.data, w.done = w.data[:at], false
	return true
}

// codepageNote says what the text was taken for.
func (w *window) codepageNote() string {
	return fmt.Sprintf("the text is neither UTF-8 nor UTF-16 and was read as %s: its first character beyond ASCII is then %q", windows1252, w.firstRune)
}

// beyondASCII returns the offset of the first byte above 127, -1 for none.
func beyondASCII(data []byte) int {
	i := 0
	for ; i+32 <= len(data); i += 32 {
		part := data[i : i+32]
		if (binary.LittleEndian.Uint64(part)|binary.LittleEndian.Uint64(part[8:])|binary.LittleEndian.Uint64(part[16:])|binary.LittleEndian.Uint64(part[24:]))&highBits != 0 {
			break
		}
	}
	for ; i < len(data); i++ {
		if data[i] >= utf8.RuneSelf {
			return i
		}
	}
	return -1
}
