package ingest

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"hash"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"downlock/ingest/workbook"
	"downlock/schemas"
)

var (
	gzipMagic = []byte{0x1f, 0x8b}
	zstdMagic = []byte{0x28, 0xb5, 0x2f, 0xfd}
	zipMagic  = []byte{'P', 'K'} // and two bytes below 9
)

// maxWindowBytes bounds how far back a zstd file may refer; the decoder makes
// that much room. The highest level of the usual tool asks for this much.
const maxWindowBytes = 128 << 20

const peekBytes = 16 << 10

// content is an export out of its packing, and within a limit.
// Faults come as a problem of the file.
type content struct {
	file    string
	raw     *stream
	in      *bufio.Reader
	packing string // gzip, zstd, zip or nothing
	limit   int64
	count   int64 // bytes handed on
	close   func()
	sum     hash.Hash // takes the bytes handed on; nil for none
	ahead   *stream   // that in reads from, where it is unpacked ahead

	workbook []byte // the whole of it, where the content is one
}

// unpack takes gzip, zstd and zip off, each known by its first bytes.
func unpack(file string, raw *stream, limit int64) (*content, error) {
	c := &content{file: file, raw: raw, limit: limit, close: func() {}}
	packed := bufio.NewReaderSize(raw, peekBytes)
	c.in = packed
	packing, err := packingOf(packed)
	if err != nil {
		return nil, c.problem(err)
	}
	c.packing = packing
	var in io.Reader
	switch packing {
	case "":
		return c, nil
	case "gzip":
		in, err = gzip.NewReader(packed)
	case "zstd":
		var z *zstd.Decoder
		z, err = zstd.NewReader(packed, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(maxWindowBytes), zstd.WithDecoderLowmem(true))
		if err == nil {
			c.close, in = z.Close, z
		}
	case "zip":
		in, err = c.openZip(packed, min(limit, maxContentBytes))
	}
	if err != nil {
		return nil, c.problem(err)
	}
	if c.workbook != nil {
		c.packing = ""
		return c, nil
	}
	c.in = bufio.NewReaderSize(in, peekBytes)
	again, err := packingOf(c.in)
	if err != nil || again == "" {
		return c, nil
	}
	if head, _ := c.in.Peek(64); workbook.Begins(head) {
		if _, err := c.openZip(c.in, min(limit, maxContentBytes)); err != nil {
			c.close()
			return nil, c.problem(err)
		}
		if c.workbook != nil {
			return c, nil
		}
	}
	c.close()
	return nil, &schemas.Problem{File: file, Cause: fmt.Sprintf("is packed twice: %s in %s", again, c.packing), Hint: "unpack the outer one"}
}

// packingOf names the packing of the bytes ahead, "" for nothing known.
func packingOf(in *bufio.Reader) (string, error) {
	head, err := in.Peek(4)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return "", err
	case bytes.HasPrefix(head, gzipMagic):
		return "gzip", nil
	case bytes.HasPrefix(head, zstdMagic):
		return "zstd", nil
	case len(head) == 4 && bytes.HasPrefix(head, zipMagic) && head[2] < 9 && head[3] < 9:
		return "zip", nil
	}
	return "", nil
}

// peek returns the first n bytes of the content, fewer where it has no more.
func (c *content) peek(n int) ([]byte, error) {
	head, err := c.in.Peek(n)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, c.problem(err)
	}
	return head, nil
}

func (c *content) Read(p []byte) (int, error) {
	n, err := c.in.Read(p)
	if c.sum != nil && c.ahead == nil {
		c.sum.Write(p[:n])
	}
	c.count += int64(n)
	if c.count > c.limit {
		return n, tooLarge(c.file, c.limit)
	}
	if err != nil && !errors.Is(err, io.EOF) {
		err = c.problem(err)
	}
	return n, err
}

// sizeHint is the size of the content where it is known, else 0.
func (c *content) sizeHint() int64 {
	if c.packing == "" {
		return c.raw.size
	}
	return 0
}

// whole reads the content into memory.
func (c *content) whole() ([]byte, error) {
	c.limit = min(c.limit, maxContentBytes)
	var out bytes.Buffer
	out.Grow(int(min(c.sizeHint(), c.limit)) + bytes.MinRead)
	_, err := out.ReadFrom(c)
	return out.Bytes(), err
}

// damage reads the rest of packed data, whose checksum stands at the end, and returns the
// problem if the data are damaged. Data beyond the limit are not looked at.
func (c *content) damage() error {
	switch {
	case c.workbook != nil:
		if err := checkParts(c.workbook, c.limit); err != nil {
			return &schemas.Problem{File: c.file, Cause: fmt.Sprintf("the zip data cannot be read: %v", err), Hint: damagedHint}
		}
	case c.packing != "":
		var problem *schemas.Problem
		if _, err := io.Copy(io.Discard, c); !errors.As(err, &problem) || problem.Hint == damagedHint {
			return err
		}
	}
	return nil
}

// problem makes an error of unpacking a problem of the file; an error of the
// file system stays as it is.
func (c *content) problem(err error) error {
	var told *schemas.Problem
	switch {
	case c.raw.failure() != nil:
		return c.raw.failure()
	case errors.As(err, &told) || c.packing == "":
		return err
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		return &schemas.Problem{File: c.file, Cause: fmt.Sprintf("the %s data ends too soon, after %d bytes", c.packing, c.count), Hint: damagedHint}
	}
	return &schemas.Problem{File: c.file, Cause: fmt.Sprintf("the %s data cannot be read, after %d bytes: %v", c.packing, c.count, err), Hint: damagedHint}
}

func tooLarge(file string, limit int64) *schemas.Problem {
	return &schemas.Problem{File: file, Cause: fmt.Sprintf("has more than %d bytes of data, the most that is read from one file", limit),
		Hint: "split the export by flight or by day, or raise the limit"}
}
