package parquet

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/andybalholm/brotli"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/snappy"
	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go/format"
	"github.com/pierrec/lz4/v4"
)

// unpacker unpacks pages, each into as many bytes as its header states: no codec makes room
// by what the packed data says.
type unpacker struct {
	out    []byte // of the page at hand
	zstd   *zstd.Decoder
	gzip   *gzip.Reader
	brotli *brotli.Reader
}

var errSize = errors.New("they do not unpack to the size that the page states")

// unpack returns the size bytes in packed, valid until the next call.
func (u *unpacker) unpack(codec format.CompressionCodec, packed []byte, size int) ([]byte, error) {
	if codec == format.Uncompressed {
		if len(packed) != size {
			return nil, errSize
		}
		return packed, nil
	}
	if cap(u.out) < size {
		u.out = make([]byte, size+size/8)
	}
	out := u.out[:size:size]
	n, err := 0, error(nil)
	switch codec {
	case format.Snappy:
		if n, err = snappy.DecodedLen(packed); err == nil && n == size {
			_, err = snappy.Decode(out, packed)
		}
	case format.Lz4Raw:
		n, err = lz4.UncompressBlock(packed, out)
	case format.Zstd:
		n, err = u.unpackZstd(packed, out)
	case format.Gzip:
		n, err = u.unpackGzip(packed, out)
	case format.Brotli:
		if u.brotli == nil {
			u.brotli = brotli.NewReader(nil)
		}
		if err = u.brotli.Reset(bytes.NewReader(packed)); err == nil {
			n, err = readWhole(u.brotli, out)
		}
	default:
		return nil, fmt.Errorf("pages compressed with %s are not supported; write the file with ZSTD or SNAPPY", codec)
	}
	if err == nil && n != size {
		err = errSize
	}
	if err != nil {
		return nil, fmt.Errorf("its %s data are damaged: %w", codec, err)
	}
	return out, nil
}

func (u *unpacker) unpackZstd(packed, out []byte) (n int, err error) {
	if u.zstd == nil {
		if u.zstd, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecodeAllCapLimit(true), zstd.WithDecoderMaxWindow(maxPageBytes)); err != nil {
			return 0, err
		}
	}
	unpacked, err := u.zstd.DecodeAll(packed, out[:0])
	return len(unpacked), err
}

func (u *unpacker) unpackGzip(packed, out []byte) (n int, err error) {
	in := bytes.NewReader(packed)
	if u.gzip == nil {
		u.gzip, err = gzip.NewReader(in)
	} else {
		err = u.gzip.Reset(in)
	}
	if err != nil {
		u.gzip = nil
		return 0, err
	}
	return readWhole(u.gzip, out)
}

// readWhole fills out and wants the end after it, where the checksum is.
func readWhole(in io.Reader, out []byte) (int, error) {
	n, err := io.ReadFull(in, out)
	if err != nil {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			err = errSize
		}
		return n, err
	}
	var more [1]byte
	switch k, err := io.ReadFull(in, more[:]); {
	case k > 0:
		return n, errSize
	case !errors.Is(err, io.EOF):
		return n, err
	}
	return n, nil
}
