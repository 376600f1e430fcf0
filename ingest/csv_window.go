package ingest

import (
	"bytes"
	"errors"
	"io"
)

// windowBytes is how much of a text is in memory at a time; it grows, up to
// maxHeadBytes, for what needs to be seen as a whole.
const windowBytes = 256 << 10

// window is the part of a text that is in memory. Lines that are done with are
// let go of, so that an export of any size takes little room.
type window struct {
	in     io.Reader
	data   []byte
	before int64 // bytes of text in front of data
	keep   bool  // nothing is let go of: the head of a file is looked at more than once
	quoted bool  // a quote stands in data
	done   bool  // nothing follows data
	err    error // in could not be read on, or holds no text
	nul    int   // offset of a NUL byte in data, -1 for none

	returns   bool // lines end in a carriage return alone: they end in a line feed in data
	encoded   bool // the encoding is known: a byte beyond ASCII was there
	codepage  bool // it is Windows-1252
	firstRune rune // of those beyond ASCII, where it is
}

func newWindow(in io.Reader, size int64) *window {
	room := windowBytes
	if size > 0 && size < windowBytes {
		room = int(size) + 1
	}
	return &window{in: in, data: make([]byte, 0, room), keep: true, nul: -1}
}

// more reads on; the bytes before offset from are done with and may go. The rest
// has then moved to the front by shift bytes. It is false when there is
// nothing more, or no room for it.
func (w *window) more(from int) (shift int, ok bool) {
	if w.done || w.err != nil {
		return 0, false
	}
	if !w.keep && from > 0 {
		shift = from
		w.before += int64(from)
		w.data = w.data[:copy(w.data, w.data[from:])]
	}
	if len(w.data) == cap(w.data) {
		if len(w.data) >= maxHeadBytes {
			return shift, false
		}
		w.data = append(make([]byte, 0, min(2*cap(w.data), maxHeadBytes)), w.data...)
	}
	return shift, w.fill()
}

// fill reads until the window is full; false when nothing came.
func (w *window) fill() bool {
	old := len(w.data)
	for len(w.data) < cap(w.data) {
		n, err := w.in.Read(w.data[len(w.data):cap(w.data)])
		w.data = w.data[:len(w.data)+n]
		if errors.Is(err, io.EOF) {
			w.done = true
			break
		}
		if err != nil {
			w.err = err
			return false
		}
	}
	if w.before+int64(old) == 0 {
		w.returns = endsInReturns(w.data)
	}
	if w.returns {
		returnsToFeeds(w.data[old:])
	}
	if !w.encoded && w.findEncoding(old) {
		return w.fill()
	}
	w.quoted = bytes.IndexByte(w.data, '"') >= 0
	if i := bytes.IndexByte(w.data[old:], 0); i >= 0 {
		w.nul = old + i
	}
	return len(w.data) > old
}

// read is how many bytes of the text have been read.
func (w *window) read() int64 { return w.before + int64(len(w.data)) }

// endsInReturns reports whether the lines of the first part of a text end in a carriage
// return alone, as some old exports have them: it has one, and no line feed.
func endsInReturns(data []byte) bool {
	return bytes.IndexByte(data, '\n') < 0 && bytes.IndexByte(data[:max(len(data)-1, 0)], '\r') >= 0
}

func returnsToFeeds(data []byte) {
	for {
		i := bytes.IndexByte(data, '\r')
		if i < 0 {
			return
		}
		data[i] = '\n'
		data = data[i+1:]
	}
}
