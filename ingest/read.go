package ingest

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"

	"golang.org/x/text/encoding/unicode"

	"downlock/ingest/matlab"
	"downlock/schemas"
)

// Read reads one export within the default limits: wide or long CSV (UTF-8 or
// UTF-16), Parquet, an Arrow IPC file or a MATLAB 5 file, plain or packed with
// gzip, zstd or zip, all told apart by their content. What the user can mend
// comes back as *schemas.Problem or schemas.Problems; other errors are the file
// system's.
func Read(path string, profile *schemas.Profile) (*Recording, error) {
	return Limits{}.Read(path, profile)
}

// Read is the function Read within the limits.
func (l Limits) Read(path string, profile *schemas.Profile) (*Recording, error) {
	sum := sha256.New()
	recording, err := l.readFile(path, profile, sum)
	if err != nil {
		return nil, err
	}
	recording.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return recording, nil
}

// ReadBytes is Read for a file already in memory; path is what messages call
// it. The bytes are not kept and not changed.
func ReadBytes(path string, data []byte, profile *schemas.Profile) (*Recording, error) {
	sum := sha256.New()
	recording, err := Limits{}.read(path, bytes.NewReader(data), int64(len(data)), profile, sum)
	if err != nil {
		return nil, err
	}
	recording.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return recording, nil
}

// openExport opens a file of sensible size.
func openExport(path string, limit int64) (file *os.File, size int64, err error) {
	if file, err = os.Open(path); err != nil {
		return nil, 0, err
	}
	info, err := file.Stat()
	switch {
	case err != nil:
	case info.IsDir():
		err = &schemas.Problem{File: path, Cause: "is a folder, not an export", Hint: "name the export files in it"}
	case info.Size() > limit:
		err = tooLarge(path, limit)
	default:
		return file, info.Size(), nil
	}
	file.Close()
	return nil, 0, err
}

// readFile reads a file and adds its bytes to sum; the hash is left out.
func (l Limits) readFile(path string, profile *schemas.Profile, sum hash.Hash) (*Recording, error) {
	file, size, err := openExport(path, l.maxBytes())
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return l.read(path, file, size, profile, sum)
}

// read reads an export from in, whose size is a hint.
func (l Limits) read(path string, in io.Reader, size int64, profile *schemas.Profile, sum hash.Hash) (*Recording, error) {
	r, err := newReading(path, profile)
	if err != nil {
		return nil, err
	}
	r.packAbove = l.PackAbove
	r.raw = openStream(in, size, sum)
	defer r.raw.close()
	packing, err := r.readContent(l.maxBytes())
	if r.unmapped {
		size, failure := r.raw.finish()
		return nil, cmp.Or(failure, error(unmappedError{err, size}))
	}
	if err != nil {
		return nil, err
	}
	recording, err := r.recording()
	if err != nil {
		return nil, err
	}
	if recording.Bytes, err = r.raw.finish(); err != nil {
		return nil, err
	}
	recording.Name, recording.Format = filepath.Base(path), r.format
	if packing != "" {
		recording.Format += ", " + packing
	}
	return recording, nil
}

// unmappedError says that an export has no column the profile maps, which a part
// of a recording may well be like. The whole of it was added to the hash.
type unmappedError struct {
	error
	bytes int64
}

func (e unmappedError) Unwrap() error { return e.error }

// readContent unpacks the file and picks the reader of its format.
func (r *reading) readContent(limit int64) (packing string, err error) {
	r.limit = limit
	c, err := unpack(r.file, r.raw, limit)
	if err != nil {
		return "", err
	}
	defer c.close()
	head, err := c.peek(128)
	switch {
	case err != nil:
	case len(head) == 0:
		err = r.problem("is empty", "the readout may have failed; export the recording again")
	case bytes.HasPrefix(head, []byte("PAR1")):
		err = r.readWhole(c, "Parquet", r.readParquet)
	case bytes.HasPrefix(head, []byte("ARROW1")):
		err = r.readWhole(c, "Arrow", r.readArrow)
	case matlab.Is(head):
		err = r.readWhole(c, "MATLAB", r.readMAT)
	case matlab.IsHDF5(head):
		err = r.problem("is a MATLAB file of version 7.3, which is another format (HDF5)", "save it again with the option -v7")
	default:
		err = r.readText(c, head)
	}
	return c.packing, err
}

// readText reads CSV, of UTF-16 where its first characters are.
func (r *reading) readText(c *content, head []byte) error {
	order, mark, ok := utf16Order(head)
	if !ok {
		return r.readCSV(c, c.sizeHint())
	}
	err := r.readCSV(unicode.UTF16(order, mark).NewDecoder().Reader(c), 0)
	r.format += ", UTF-16"
	return err
}

// utf16Order knows UTF-16 by its byte-order mark, or by a header of Latin
// letters, where every other byte is NUL.
func utf16Order(head []byte) (order unicode.Endianness, mark unicode.BOMPolicy, ok bool) {
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return unicode.LittleEndian, unicode.ExpectBOM, true
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return unicode.BigEndian, unicode.ExpectBOM, true
	case len(head) < 8:
		return unicode.BigEndian, unicode.IgnoreBOM, false
	}
	var nul [2]int
	for i, b := range head[:len(head)&^1] {
		if b == 0 {
			nul[i%2]++
		}
	}
	switch pairs := len(head) / 2; {
	case nul[0] == 0 && nul[1] == pairs:
		return unicode.LittleEndian, unicode.IgnoreBOM, true
	case nul[1] == 0 && nul[0] == pairs:
		return unicode.BigEndian, unicode.IgnoreBOM, true
	}
	return unicode.BigEndian, unicode.IgnoreBOM, false
}

// readWhole runs a reader that needs the whole file.
func (r *reading) readWhole(c *content, format string, read func(content []byte) error) error {
	data, err := c.whole()
	if err != nil {
		return err
	}
	return guarded(r, format, func() error { return read(data) })
}

// guarded runs a reader whose library may panic on a corrupt file, and makes
// that an error of the file.
func guarded(r *reading, format string, read func() error) (err error) {
	defer func() {
		if cause := recover(); cause != nil {
			err = r.problem(fmt.Sprintf("is not a readable %s file: %s", format, clip(fmt.Sprint(cause))), damagedHint)
		}
	}()
	return read()
}

const damagedHint = "the file is damaged or incomplete: copy or export it again"
