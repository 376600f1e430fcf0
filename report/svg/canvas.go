// Package svg draws the inline charts of a report: a canvas of a few shapes, a linear
// scale with round ticks, and lines of samples thinned to the resolution of the page.
//
// Lengths are in the units of the view box of the canvas, rounded to tenths, since finer
// steps are invisible and double the size of a page. Shapes carry class names; the style
// sheet of the report sets their look. The package escapes every text. Nothing is
// animated, scripted or loaded.
package svg

import (
	"math"
	"strconv"
	"unicode/utf8"
)

// Canvas collects the shapes of one drawing. The zero value is not ready: use
// New.
type Canvas struct{ buf []byte }

// New starts a drawing of a width and a height. label describes it in words, for users
// of a screen reader.
func New(width, height float64, class, label string) *Canvas {
	c := &Canvas{buf: make([]byte, 0, 8<<10)}
	c.raw(`<svg class="`).text(class).raw(`" viewBox="0 0 `).number(width).raw(" ").number(height)
	c.raw(`" role="img" aria-label="`).text(label).raw(`">`)
	return c
}

// Bytes ends the drawing and returns it.
func (c *Canvas) Bytes() []byte { return append(c.buf, "</svg>"...) }

// Rect draws a filled box. It widens a thinner box to a tenth of a unit, so that a
// state of an instant is visible.
func (c *Canvas) Rect(x, y, width, height float64, class string) {
	c.raw(`<rect x="`).number(x).raw(`" y="`).number(y).raw(`" width="`).number(max(width, 0.1))
	c.raw(`" height="`).number(max(height, 0.1)).raw(`" class="`).text(class).raw(`"/>`)
}

func (c *Canvas) Line(x1, y1, x2, y2 float64, class string) {
	c.raw(`<path class="`).text(class).raw(`" d="M`).number(x1).raw(" ").number(y1)
	c.raw("L").number(x2).raw(" ").number(y2).raw(`"/>`)
}

// Text writes text with its baseline at y. The class decides whether x is the start, the
// middle or the end of the text, in the style sheet.
func (c *Canvas) Text(x, y float64, class, text string) {
	c.raw(`<text x="`).number(x).raw(`" y="`).number(y).raw(`" class="`).text(class).raw(`">`)
	c.text(text).raw(`</text>`)
}

// Path draws a path and leaves out an empty one.
func (c *Canvas) Path(p *Path, class string) {
	if len(p.d) == 0 {
		return
	}
	c.raw(`<path class="`).text(class).raw(`" d="`)
	c.buf = append(c.buf, p.d...)
	c.raw(`"/>`)
}

// Link makes the shapes that draw adds a link to a place on the same page.
func (c *Canvas) Link(anchor, title string, draw func()) {
	c.raw(`<a href="#`).text(anchor).raw(`"><title>`).text(title).raw(`</title>`)
	draw()
	c.raw(`</a>`)
}

func (c *Canvas) raw(s string) *Canvas {
	c.buf = append(c.buf, s...)
	return c
}

func (c *Canvas) number(x float64) *Canvas {
	c.buf = appendTenths(c.buf, tenths(x))
	return c
}

// text appends s, escaped for element content and for quoted attributes alike. Characters
// that no XML document may hold become the replacement character.
func (c *Canvas) text(s string) *Canvas {
	for _, r := range s {
		switch {
		case r == '<':
			c.raw("&lt;")
		case r == '>':
			c.raw("&gt;")
		case r == '&':
			c.raw("&amp;")
		case r == '"':
			c.raw("&#34;")
		case r == '\'':
			c.raw("&#39;")
		case r < ' ' || r == 0x7f || r == 0xfffe || r == 0xffff:
			c.raw("\ufffd")
		default:
			c.buf = utf8.AppendRune(c.buf, r)
		}
	}
	return c
}

// maxTenths keeps coordinates far from integer overflow. A page is about a thousand units
// wide.
const maxTenths = 1e7

func tenths(x float64) int64 {
	if math.IsNaN(x) {
		return 0
	}
	return int64(math.Round(max(-maxTenths, min(maxTenths, x*10))))
}

func appendTenths(buf []byte, t int64) []byte {
	if t < 0 {
		buf = append(buf, '-')
		t = -t
	}
	buf = strconv.AppendInt(buf, t/10, 10)
	if d := t % 10; d != 0 {
		buf = append(buf, '.', byte('0'+d))
	}
	return buf
}
