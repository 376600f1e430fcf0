package ingest

import (
	"bytes"
	"cmp"
)

// readWideCSV reads a row per time, a column per parameter.
func (r *reading) readWideCSV(t *csvText, byColumn []*channel) error {
	wanted := make([]uint8, len(byColumn))
	for i := range byColumn {
		if byColumn[i] != nil {
			wanted[i] = 1
		}
	}
	r.follow = followSamples
	rows := newCSVRows(r, t, wanted)
	for {
		at, more, err := rows.next()
		if err != nil || !more {
			return err
		}
		if r.rows == sizingRows && len(r.earlier) == 0 {
			r.reserve(byColumn, r.ahead(t))
		}
		if err := r.checkRoom(); err != nil {
			return err
		}
		for i := range rows.cells {
			c := &rows.cells[i]
			for channel := byColumn[c.column]; channel != nil; channel = channel.also {
				if !channel.addCell(at, &rows.splitter, c) {
					r.fail(t, channel, c, rows.splitter.textOf(c))
				}
			}
		}
	}
}

// sizingRows is how many rows tell how often each parameter is sampled: half a
// minute and more at 8 rows a second, several samples of the slowest.
const sizingRows = 512

// ahead estimates the text to come over the text read, from how far the file has
// been read; 0 where that is not known or the text too much to be likely.
func (r *reading) ahead(t *csvText) float64 {
	if r.raw == nil {
		return 0
	}
	from := cmp.Or(r.unpacked, r.raw).read()
	if from == 0 || r.raw.size < from {
		return 0
	}
	whole := float64(t.read()) * float64(r.raw.size) / float64(from)
	if r.sheet != nil { // the file is read as a whole, the sheet is not
		whole = float64(t.read()) / max(r.sheet.Part(), 1e-9)
	}
	if whole > mostGrowth*float64(r.raw.size) {
		return 0
	}
	return whole/float64(t.before+int64(t.next)) - 1
}

// mostGrowth is how many times its size an export may be expected to unpack to;
// usual is 6.
const mostGrowth = 50

// reserve makes room for the samples to come, so that arrays are not grown and
// copied over and over; of a recording that will be packed they are from now on.
func (r *reading) reserve(byColumn []*channel, ahead float64) {
	total := 0.0
	for _, head := range byColumn {
		for c := head; c != nil; c = c.also {
			total += float64(len(c.times)+2) * ahead
		}
	}
	r.packing = r.packAbove > 0 && total > float64(r.packAbove)
	if r.packing || total > maxSamples {
		return
	}
	for _, head := range byColumn {
		for c := head; c != nil; c = c.also {
			c.grow(int(float64(len(c.times)+2) * ahead * 1.02))
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

// rowsPerCheck is how often the samples are counted, and packed.
const rowsPerCheck = 1 << 10

// checkRoom looks at the samples kept every so many rows. The times of rows that
// share a second are not known until it is over.
func (r *reading) checkRoom() error {
	if r.rows < r.nextCheck || r.order > 0 || r.doubt.rows > 0 {
		return nil
	}
	r.nextCheck = r.rows + rowsPerCheck
	return r.checkSamples()
}
