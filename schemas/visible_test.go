package schemas

import "testing"

// The characters are taken from the code charts by hand: UnicodeData.txt has their
// category, PropList.txt what is default ignorable (Unicode 15, from memory).
func TestHidden(t *testing.T) {
	t.Parallel()
	for _, r := range []rune{0, '\t', '\n', '\r', 0x1b, 0x7f, // C0
		0x80, 0x85, 0x9b, 0x9f, // C1: next line, control sequence introducer
		0x061c, 0x200e, 0x200f, 0x202a, 0x202b, 0x202c, 0x202d, 0x202e, 0x2066, 0x2067, 0x2068, 0x2069, // direction
		0xad, 0x034f, 0x115f, 0x1160, 0x180e, 0x200b, 0x200c, 0x200d, 0x2060, 0x3164, 0xfeff, 0xffa0, // no width
		0x2028, 0x2029, // line and paragraph separator
		0xfe00, 0xfe0f, 0xe0100, // variations
		0xe0001, 0xe0041, 0xfff9, 0xd800, 0xe000, 0x10ffff} { // tags, annotations, surrogate, private, no character
		if !Hidden(r) {
			t.Errorf("%U is not hidden", r)
		}
	}
	for _, r := range "A z~\u00a0°éµß−–…飛한\u0301\ufffd🛬٣" {
		if Hidden(r) {
			t.Errorf("%U is hidden", r)
		}
	}
}
