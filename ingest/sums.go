package ingest

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
)

// sums are the hashes of a recording: as a hash.Hash that of the bytes of its files on
// disk, and beside it that of their content, out of gzip, zstd and zip.
type sums struct {
	hash.Hash
	content hash.Hash
	several bool // files, of which some may be packed: content takes all of them
	packed  bool // one of them is
}

func newSums(several bool) *sums {
	return &sums{Hash: sha256.New(), content: sha256.New(), several: several}
}

// identify sets the hashes of the recording once all of it was read.
func (s *sums) identify(r *Recording) {
	r.SHA256 = hex.EncodeToString(s.Sum(nil))
	if s.packed {
		r.Unpacked = hex.EncodeToString(s.content.Sum(nil))
	}
}

// Content returns the SHA-256, hex, of the recording's bytes out of gzip, zstd and zip. Ids
// follow from it: a recording that is packed, or packed otherwise, is the same one.
func (r *Recording) Content() string { return cmp.Or(r.Unpacked, r.SHA256) }

// follow adds the content that is read from now on. One file that is not packed is not
// hashed twice.
func (s *sums) follow(c *content) {
	s.packed = s.packed || c.packing != ""
	if !s.packed && !s.several {
		return
	}
	c.sum = s.content
	if c.workbook != nil {
		c.sum.Write(c.workbook)
	}
}

// finish reads the rest of the content, for its hash.
func (c *content) finish() error {
	if c.sum == nil || c.workbook != nil {
		return nil
	}
	_, err := io.Copy(io.Discard, c)
	return err
}
