package ingest

import (
	"bytes"
	"encoding/binary"
)

// readRun takes the lines of a long export after the one at hand that are as most are: their time
// is that of the line before or a little later, their name was met, their value can be read. All
// others are left to the steps that know what is wrong with them.
func (r *reading) readRun(rows *csvRows, known *nameTable) {
	t, line, at := rows.text, &rows.line, r.previous
	if !t.cutsFew() || t.layout.date+t.layout.clock != -2 || t.layout.unit >= 0 || len(rows.shown) == 0 || rows.shownAt != at ||
		r.follow != followNothing || r.doubt.rows > 0 || r.order > 0 {
		return
	}
	for r.rows+1 < r.nextCheck {
		first := rows.shown
		if t.layout.time != 0 {
			first = nil
		}
		if !line.cut(t.data[t.next:], t.delimiter, len(t.columns), first) {
			return
		}
		if text := line.cell(t.layout.time); !line.begins && !bytes.Equal(text, rows.shown) {
			seconds, end, ok := leadingDecimal(text, r.axis.point)
			next := seconds * r.axis.unit
			if !ok || end < len(text) || r.axis.form != formSeconds || !(next > at && next <= maxSeconds) {
				return
			}
			at = next
			rows.shown, rows.shownAt = append(rows.shown[:0], text...), at
		}
		met := known.met(line.cell(t.layout.parameter))
		if met == nil {
			return
		}
		if c := met.head; c != nil {
			value := line.cell(t.layout.value)
			if c.also != nil || len(value) == 0 || c.long.at-at > jitterSeconds || r.noteLong(c, at, t.number+1) != nil || !c.addRun(at, value) {
				return
			}
		}
		r.rows++
		r.take(at)
		t.number++
		t.next += line.size
	}
}

// addRun is addText, and quick for numbers.
func (c *channel) addRun(at float64, cell []byte) bool {
	if c.plain {
		if v, end, ok := leadingDecimal(cell, c.meaning.point); ok && end == len(cell) {
			c.addNumeric(at, v)
			return true
		}
	}
	return c.addText(at, cell)
}

// nameTable finds the channel of a parameter by its name, which stands in every row of a
// long export.
type nameTable [1 << 10]named

// named is a name that was met, and what is read under it; nil for nothing.
type named struct {
	name string
	head *channel
}

// place is where a name stands, if it does.
func (n *nameTable) place(name []byte) *named {
	const spread = 0x9e3779b97f4a7c15 // 2^64 over the golden ratio
	key := uint64(len(name))
	if len(name) >= 8 { // of a name of more than sixteen the middle has no part in it
		key ^= binary.LittleEndian.Uint64(name)*spread ^ binary.LittleEndian.Uint64(name[len(name)-8:])
	} else {
		for _, b := range name {
			key = key<<8 ^ uint64(b)
		}
	}
	return &n[key*spread>>54]
}

// met returns the entry of a name that was added before, else nil.
func (n *nameTable) met(name []byte) *named {
	if at := n.place(name); at.name == string(name) && len(name) > 0 {
		return at
	}
	return nil
}

// add takes a name, in place of one that has its place.
func (n *nameTable) add(name []byte, head *channel) *named {
	at := n.place(name)
	*at = named{string(name), head}
	return at
}
