package schemas

import "unicode"

// Hidden reports whether a character shows nothing, or changes how the text around it is
// shown: control characters of both sets, marks that reverse the direction of text,
// characters of no width, and those no font need show (Unicode 15: Cc, Cf, Co, Cs, Cn, Zl,
// Zp and the default ignorable ones, of which Go has the lists). Text of files is shown
// without them. A line break is one, too.
func Hidden(r rune) bool {
	if r < 0x7f {
		return r < ' ' // almost every character, known without a table
	}
	return !unicode.IsGraphic(r) || unicode.In(r, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}
