package ingest

import (
	"bytes"
	"encoding/binary"
)

// readRun takes the lines of a long export after the one at hand that are as most are: a time that
// is that of the line before or a little later, a name that was met, a value that can be read, and
// no other column. All others are left to the steps that know what is wrong with them.
func (r *reading) readRun(rows *csvRows, known *nameTable) {
	t, at := rows.text, r.previous
	if !t.cutsFew() || len(t.columns) != 3 || t.layout.time != 0 || t.layout.parameter != 1 || len(rows.shown) == 0 || rows.shownAt != at ||
		r.follow != followNothing || r.doubt.rows > 0 || r.order > 0 {
		return
	}
	for r.rows+1 < r.nextCheck {
		text := t.data[t.next:min(len(t.data), t.next+mostFewBytes)]
		i := len(rows.shown)
		if i >= len(text) || text[i] != t.delimiter || string(text[:i]) != string(rows.shown) {
			var seconds float64
			var ok bool
			seconds, i, ok = leadingDecimal(text, r.axis.point)
			next := seconds * r.axis.unit
			if !ok || i == len(text) || text[i] != t.delimiter || r.axis.form != formSeconds || !(next > at && next <= maxSeconds) {
				return
			}
			at = next
			rows.shown, rows.shownAt = append(rows.shown[:0], text[:i]...), at
		}
		name := text[i+1:]
		size := bytes.IndexByte(name, t.delimiter)
		if size < 0 {
			return
		}
		met, value := known.met(name[:size]), name[size+1:]
		if met == nil {
			return
		}
		end, c := 0, met.head
		switch {
		case c == nil:
			end = cellEnd(value, t.delimiter)
		case c.also != nil || c.long.at-at > jitterSeconds || r.noteLong(c, at, t.number+1) != nil:
			return
		default:
			end = c.addLast(at, value, t.delimiter)
		}
		if end < 0 {
			return
		}
		r.rows++
		r.take(at)
		t.number++
		t.next += len(text) - len(value) + end + 1
	}
}

// addLast adds the cell that a line ends with and returns where the line ends, -1 where it is not
// an ordinary one.
func (c *channel) addLast(at float64, text []byte, delimiter byte) (end int) {
	if c.plain {
		v, end, ok := leadingDecimal(text, c.meaning.point)
		if ok && end < len(text) && text[end] == '\r' {
			end++
		}
		if ok && end < len(text) && text[end] == '\n' {
			c.addNumeric(at, v)
			return end
		}
	}
	end = cellEnd(text, delimiter)
	if end <= 0 || !c.addText(at, bytes.TrimSuffix(text[:end], []byte{'\r'})) {
		return -1
	}
	return end
}

// cellEnd is where the line ends that begins with its last cell, -1 where it does not.
func cellEnd(text []byte, delimiter byte) int {
	end := bytes.IndexByte(text, '\n')
	if end >= 0 && bytes.IndexByte(text[:end], delimiter) >= 0 {
		return -1
	}
	return end
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
