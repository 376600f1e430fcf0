package parquet

import (
	"github.com/klauspost/compress/zstd"
	lib "github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress"
)

// Zstd compresses the pages of tables: the library's codec, with the same bytes, and encoders that
// are kept. The library's lie in a pool that every collection empties, and a new one has 1.4 MB.
var Zstd compress.Codec = zstdCodec{&lib.Zstd}

type zstdCodec struct{ compress.Codec }

// idle keeps the encoders that nobody uses now, of as many writers as may write at once.
var idle = make(chan *zstd.Encoder, 64)

func (zstdCodec) Encode(dst, src []byte) ([]byte, error) {
	var e *zstd.Encoder
	select {
	case e = <-idle:
	default:
		e, _ = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithZeroFrames(true), zstd.WithEncoderCRC(false)) // fails on bad options alone
	}
	dst = e.EncodeAll(src, dst[:0])
	select {
	case idle <- e:
	default:
	}
	return dst, nil
}
