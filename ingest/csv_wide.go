package ingest

import (
	"bytes"
	"slices"
)

// readWideCSV reads a row per time, a column per parameter.
func (r *reading) readWideCSV(t *csvText, byColumn []*channel) error {
	wanted := make([]uint8, len(byColumn))
	for i := range byColumn {
		if byColumn[i] != nil {
			wanted[i] = 1
		}
	}
	rows := newCSVRows(r, t, wanted)
	for {
		at, more, err := rows.next()
		if err != nil || !more {
			return err
		}
		if r.rows == sizingRows {
			reserve(byColumn, float64(len(t.data)-t.next)/float64(t.next))
		}
		for i := range rows.cells {
			c := &rows.cells[i]
			for channel := byColumn[c.column]; channel != nil; channel = channel.also {
				if text := rows.splitter.textOf(c); !channel.addText(at, text) {
					r.fail(t, channel, c, text)
				}
			}
		}
	}
}

// sizingRows is how many rows tell how often each parameter is sampled: half a
// minute and more at 8 rows a second, several samples of the slowest.
const sizingRows = 512

// reserve makes room for the samples to come, so that arrays are not grown and
// copied over and over; ahead is the rest of the file over the part read.
func reserve(byColumn []*channel, ahead float64) {
	for _, head := range byColumn {
		for c := head; c != nil; c = c.also {
			n := int(float64(len(c.times)+2) * ahead * 1.02)
			c.times = slices.Grow(c.times, n)
			if c.numeric {
				c.numbers = slices.Grow(c.numbers, n)
			} else {
				c.codes = slices.Grow(c.codes, n)
			}
		}
	}
}

// fail notes the first cell of a channel that has no meaning.
func (r *reading) fail(t *csvText, channel *channel, c *cell, text []byte) {
	if channel.problem == nil {
		cause, hint := channel.unreadable(string(bytes.TrimSpace(text)), r.profile.File)
		channel.problem = t.problem(int(c.at), cause, hint)
	}
}
