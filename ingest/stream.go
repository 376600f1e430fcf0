package ingest

import (
	"errors"
	"hash"
	"io"
)

// blockBytes is how much of a file is read at a time, and blocksAhead how many
// such pieces may be read and hashed before they are needed.
const (
	blockBytes  = 256 << 10
	blocksAhead = 3
)

// stream hands on the bytes of a file in their order while a goroutine reads
// and hashes those that follow: hashing takes a third of the time parsing does.
// Only one goroutine may use it.
type stream struct {
	filled  chan block    // in order; the last one has an error
	spare   chan []byte   // to be filled again
	stop    chan struct{} // closed when nobody wants more
	stopped chan struct{} // closed once the goroutine has ended
	block   []byte        // the piece at hand
	rest    []byte        // of it, not handed on yet
	err     error         // after the piece at hand
	size    int64         // of the file; 0: not known
	handed  int64         // bytes handed on
	patient bool          // close waits for the goroutine
	from    *stream       // that in reads from; nil for a file
	reached int64         // bytes of the file that were read for the piece at hand and those before
}

// unknownSize is the size of an input that comes through a pipe, which may not answer for as
// long as its writer likes.
const unknownSize = 0

// block is a piece of the file and what came after it: nil, io.EOF or a failure
// to read.
type block struct {
	data    []byte
	err     error
	reached int64
}

func newStream() *stream {
	return &stream{filled: make(chan block, blocksAhead), spare: make(chan []byte, blocksAhead), stop: make(chan struct{}), stopped: make(chan struct{})}
}

// openStream begins to read in, whose size is a hint, and to add it to sum,
// which is complete once finish has returned.
func openStream(in io.Reader, size int64, sum hash.Hash) *stream {
	s := newStream()
	s.size, s.patient = size, size != unknownSize
	if size > 0 && size < blockBytes { // one piece, with room for the end to be seen
		s.spare <- make([]byte, size+1)
	} else {
		for range blocksAhead {
			s.spare <- make([]byte, blockBytes)
		}
	}
	go s.fill(in, sum)
	return s
}

// behind is a stream of what in makes of s, which in reads from.
func (s *stream) behind(in io.Reader, sum hash.Hash) *stream {
	next := newStream()
	next.from, next.patient = s, true
	for range blocksAhead {
		next.spare <- make([]byte, blockBytes)
	}
	go next.fill(in, sum)
	return next
}

func (s *stream) fill(in io.Reader, sum hash.Hash) {
	defer close(s.stopped)
	for {
		var b block
		select {
		case b.data = <-s.spare:
		case <-s.stop:
			return
		}
		n, err := readAll(in, b.data)
		b.data, b.err = b.data[:n], err
		if s.from != nil {
			b.reached = s.from.read()
		}
		if sum != nil {
			sum.Write(b.data)
		}
		select {
		case s.filled <- b:
		case <-s.stop:
			return
		}
		if err != nil {
			return
		}
	}
}

// readAll fills data, and keeps the error as it is: io.ReadFull would take the end of packed
// data that came too soon for the end.
func readAll(in io.Reader, data []byte) (n int, err error) {
	for n < len(data) && err == nil {
		var more int
		more, err = in.Read(data[n:])
		n += more
	}
	return n, err
}

// Read hands on the next bytes.
func (s *stream) Read(p []byte) (int, error) {
	for len(s.rest) == 0 {
		if s.err != nil {
			return 0, s.err
		}
		s.next()
	}
	n := copy(p, s.rest)
	s.rest = s.rest[n:]
	s.handed += int64(n)
	return n, nil
}

func (s *stream) next() {
	if s.block != nil {
		s.spare <- s.block[:cap(s.block)] // there is room for every piece
	}
	b := <-s.filled
	s.block, s.rest, s.err, s.reached = b.data, b.data, b.err, b.reached
}

// read is how many bytes of the file were read for what was handed on.
func (s *stream) read() int64 {
	if s.from != nil {
		return s.reached
	}
	return s.handed
}

// failure is the error that kept the file from being read; nil at its end.
func (s *stream) failure() error {
	if s.err == nil || errors.Is(s.err, io.EOF) {
		return nil
	}
	return s.err
}

// finish reads the bytes nobody asked for, so that the hash is that of the whole
// file, and returns the file's size.
func (s *stream) finish() (int64, error) {
	for s.err == nil {
		s.handed += int64(len(s.rest))
		s.next()
	}
	s.handed += int64(len(s.rest))
	s.rest = nil
	<-s.stopped
	return s.handed, s.failure()
}

// close ends the reading ahead. A file may be closed after it; a pipe is left to itself.
func (s *stream) close() {
	close(s.stop)
	if s.patient {
		<-s.stopped
	}
}
