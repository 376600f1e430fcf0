package ingest

import (
	"bufio"
	"fmt"
	"io"
	"runtime"
)

// readAhead has content unpacked on one goroutine and hashed on another while the reader is
// at work on what came before: each takes about as long. A pipe may not answer, so nobody
// reads ahead of what is wanted of it.
func (c *content) readAhead() {
	if c.packing == "" || c.workbook != nil || !c.raw.patient || runtime.GOMAXPROCS(0) == 1 {
		return
	}
	unpacked := c.raw.behind(noPanic{c.in}, nil)
	hashed := unpacked
	if c.sum != nil {
		hashed = unpacked.behind(unpacked, c.sum)
	}
	closeUnpacker := c.close
	c.close = func() {
		hashed.close()
		if unpacked != hashed {
			unpacked.close()
		}
		closeUnpacker()
	}
	c.ahead, c.in = hashed, bufio.NewReaderSize(hashed, peekBytes)
}

// noPanic makes a panic of a library an error: on a goroutine of its own it would end the
// batch.
type noPanic struct{ in io.Reader }

func (r noPanic) Read(p []byte) (n int, err error) {
	defer func() {
		if cause := recover(); cause != nil {
			n, err = 0, fmt.Errorf("%v", cause)
		}
	}()
	return r.in.Read(p)
}
