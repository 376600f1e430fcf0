package parquet

import (
	"bytes"
	"math/rand/v2"
	"sync"
	"testing"

	lib "github.com/parquet-go/parquet-go"
)

// The library's own codec says what the bytes must be, with writers at once.
func TestZstdIsTheLibrarys(t *testing.T) {
	t.Parallel()
	if Zstd.CompressionCodec() != lib.Zstd.CompressionCodec() {
		t.Fatal("another codec is named in the file")
	}
	var writers sync.WaitGroup
	for seed := range uint64(8) {
		writers.Go(func() {
			r := rand.New(rand.NewPCG(seed, 1))
			for n := range 40 {
				page := make([]byte, n*n*20) // the first is empty
				for i := range page {
					page[i] = byte(r.IntN(1 + int(seed)*8))
				}
				want, _ := lib.Zstd.Encode(nil, page)
				got, err := Zstd.Encode(make([]byte, 3, 100), page)
				if err != nil || !bytes.Equal(got, want) {
					t.Errorf("a page of %d bytes: %d bytes instead of %d, %v", len(page), len(got), len(want), err)
				}
				if back, err := Zstd.Decode(nil, got); err != nil || !bytes.Equal(back, page) {
					t.Errorf("a page of %d bytes does not come back: %v", len(page), err)
				}
			}
		})
	}
	writers.Wait()
}
