package ingest

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"downlock/schemas"
)

var (
	gzipMagic = []byte{0x1f, 0x8b}
	zstdMagic = []byte{0x28, 0xb5, 0x2f, 0xfd}
)

// decompress unwraps gzip or zstd, known by its first bytes, up to limit bytes;
// other data comes back as it is, with no name.
func decompress(path string, data []byte, limit int64) (content []byte, name string, err error) {
	var in io.Reader
	expected := int64(len(data)) * 6 // what gzip usually makes of an export
	switch {
	case bytes.HasPrefix(data, gzipMagic):
		name = "gzip"
		if n := len(data); n >= 18 { // the last four bytes: size modulo 2^32 of the last member
			expected = min(int64(binary.LittleEndian.Uint32(data[n-4:])), 50*int64(n))
		}
		in, err = gzip.NewReader(bytes.NewReader(data))
	case bytes.HasPrefix(data, zstdMagic):
		name = "zstd"
		var z *zstd.Decoder
		z, err = zstd.NewReader(bytes.NewReader(data), zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(uint64(limit)))
		if err == nil {
			defer z.Close()
		}
		in = z
	default:
		return data, "", nil
	}
	var out bytes.Buffer
	if err == nil {
		out.Grow(int(min(expected, limit)) + bytes.MinRead)
		_, err = out.ReadFrom(io.LimitReader(in, limit+1))
	}
	switch {
	case int64(out.Len()) > limit || errors.Is(err, zstd.ErrDecoderSizeExceeded):
		return nil, name, tooLarge(path, limit)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return nil, name, &schemas.Problem{File: path, Cause: fmt.Sprintf("the %s data ends too soon, after %d bytes", name, out.Len()), Hint: damagedHint}
	case err != nil:
		return nil, name, &schemas.Problem{File: path, Cause: fmt.Sprintf("the %s data cannot be read: %v", name, err), Hint: damagedHint}
	}
	return out.Bytes(), name, nil
}

func tooLarge(path string, limit int64) *schemas.Problem {
	return &schemas.Problem{File: path, Cause: fmt.Sprintf("holds more than %d bytes of data, the most that is read from one file", limit), Hint: "split the export by flight or by day"}
}
