package objects

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/minio/minio-go/v7"
)

const (
	// rangeBytes is how much one request asks for: so much that the time until a store answers (some
	// 20 ms, from memory) is little beside that of the bytes.
	rangeBytes = 4 << 20
	// rangesAhead is how many ranges are asked for before they are wanted, side by side. They and the one
	// at hand take 16 MiB.
	rangesAhead = 3
)

// body hands on the bytes of an object in their order.
type body struct {
	ordered chan chan piece
	cancel  context.CancelFunc
	rest    []byte // of the piece at hand
	err     error
}

// piece is the content of a range, or why it could not be had.
type piece struct {
	bytes []byte
	err   error
}

// Open is the function Open. All that is read has the ETag that the object has now: where that
// changes on the way, reading fails.
func (s *Store) Open(address string) (io.ReadCloser, int64, error) {
	o, err := s.Stat(address)
	if err != nil {
		return nil, 0, err
	}
	c, _, _, err := s.at(address)
	if err != nil {
		return nil, 0, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	b := &body{ordered: make(chan chan piece, rangesAhead), cancel: cancel}
	go func() {
		defer close(b.ordered)
		for at := int64(0); at < o.Size; at += rangeBytes {
			one := make(chan piece, 1)
			select {
			case b.ordered <- one: // waits while enough are on the way
			case <-ctx.Done():
				return
			}
			go func() {
				bytes, err := s.fetch(ctx, c, o, at, min(rangeBytes, o.Size-at))
				one <- piece{bytes, c.failure(address, err)}
			}()
		}
	}()
	return b, o.Size, nil
}

// Read hands on the next bytes.
func (b *body) Read(into []byte) (int, error) {
	for len(b.rest) == 0 {
		if b.err != nil {
			return 0, b.err
		}
		next, more := <-b.ordered
		if !more {
			b.err = io.EOF
			continue
		}
		p := <-next
		b.rest, b.err = p.bytes, p.err
	}
	n := copy(into, b.rest)
	b.rest = b.rest[n:]
	return n, nil
}

// Close gives up what is on the way.
func (b *body) Close() error {
	b.cancel()
	return nil
}

// fetch returns so many bytes of an object from a place on. Where a connection is cut, it goes on at
// the next byte.
func (s *Store) fetch(ctx context.Context, c *connection, o Object, at, size int64) ([]byte, error) {
	all := make([]byte, size)
	rest := all
	err := s.tries.do(ctx, func(ctx context.Context, alive func()) error {
		in, err := c.open(ctx, o, at+size-int64(len(rest)), int64(len(rest)))
		if err != nil {
			return err
		}
		defer in.Close()
		for len(rest) > 0 && err == nil {
			var n int
			if n, err = in.Read(rest); n > 0 {
				alive()
			}
			rest = rest[n:]
		}
		switch {
		case len(rest) == 0:
			return nil
		case errors.Is(err, io.EOF):
			return io.ErrUnexpectedEOF
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return all, nil
}

// open asks for so many bytes of an object from a place on.
func (c *connection) open(ctx context.Context, o Object, at, size int64) (io.ReadCloser, error) {
	var options minio.GetObjectOptions
	if err := errors.Join(options.SetRange(at, at+size-1), options.SetMatchETag(o.ETag)); err != nil {
		return nil, err
	}
	bucket, key := split(o.Address)
	in, info, header, err := minio.Core{Client: c.Client}.GetObject(ctx, bucket, key, options)
	switch {
	case err != nil:
		return nil, err
	case info.ETag != o.ETag: // a store that knows no condition
		err = replaced(o.Address)
	case at > 0 && !strings.HasPrefix(header.Get("Content-Range"), fmt.Sprintf("bytes %d-", at)):
		err = &Error{Address: o.Address, Cause: "the store does not support requests for a range", Help: "copy the object to a file, and name that"}
	default:
		return in, nil
	}
	in.Close()
	return nil, err
}
