package ingest

import (
	"bytes"
	"cmp"
	"hash"
	"io"
	"path/filepath"

	"downlock/schemas"
)

// Read reads one export within the default limits: wide or long CSV or fixed-width text
// (UTF-8, UTF-16 or Windows-1252), a sheet of an .xlsx workbook, Parquet, an Arrow IPC file
// or a MATLAB 5 file, plain or packed with gzip, zstd or zip, all told apart by their
// content. A fault the user can mend comes back as *schemas.Problem or schemas.Problems;
// other errors are the file system's.
func Read(path string, profile *schemas.Profile) (*Recording, error) {
	return Limits{}.Read(path, profile)
}

// Read is the function Read within the limits.
func (l Limits) Read(path string, profile *schemas.Profile) (*Recording, error) {
	sums := newSums(false)
	recording, err := l.readFile(path, profile, sums)
	if err != nil {
		return nil, err
	}
	sums.identify(recording)
	return recording, nil
}

// ReadBytes is Read for a file already in memory; path is what messages call
// it. The bytes are not kept and not changed.
func ReadBytes(path string, data []byte, profile *schemas.Profile) (*Recording, error) {
	sums := newSums(false)
	recording, err := Limits{}.read(path, bytes.NewReader(data), int64(len(data)), profile, sums)
	if err != nil {
		return nil, err
	}
	sums.identify(recording)
	return recording, nil
}

// ReadFrom is Read for an export that comes from in, which is read once, as far as it goes or
// to the limit; name is what messages call it. After an error in may still be being read.
func (l Limits) ReadFrom(name string, in io.Reader, profile *schemas.Profile) (*Recording, error) {
	sums := newSums(false)
	recording, err := l.read(name, &bounded{in, name, l.maxBytes(), 0}, unknownSize, profile, sums)
	if err != nil {
		return nil, err
	}
	sums.identify(recording)
	return recording, nil
}

// bounded is an input without an end that is known beforehand. The bytes after its content,
// which are read for their hash, count too.
type bounded struct {
	in    io.Reader
	name  string
	limit int64
	count int64
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.in.Read(p)
	if b.count += int64(n); b.count > b.limit {
		return 0, tooLarge(b.name, b.limit)
	}
	return n, err
}

// openExport opens an input of sensible size.
func openExport(path string, limit int64) (in io.ReadCloser, size int64, err error) {
	if in, size, err = Open(path); err == nil && size > limit {
		in.Close()
		return nil, 0, tooLarge(path, limit)
	}
	return in, size, err
}

// readFile reads a file and adds its bytes to sum, and its content to that of sums; the
// hashes are left out.
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
	r.packAbove, r.date = l.PackAbove, l.Date
	r.sums, _ = sum.(*sums)
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
	r.boundUse(recording)
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

// readContent unpacks the file and reads it with the reader of its format.
func (r *reading) readContent(limit int64) (packing string, err error) {
	r.limit = limit
	c, err := unpack(r.file, r.raw, limit)
	if err != nil {
		return "", err
	}
	defer func() { c.close() }() // readAhead gives it another
	if r.sums != nil {
		r.sums.follow(c)
	}
	c.readAhead()
	r.unpacked = c.ahead
	utf16, err := r.openContent(c, formats{columnar: r.readColumnar, mat: r.readMAT, csv: r.readCSV})
	if utf16 {
		r.format += ", UTF-16"
	}
	if err == nil || r.unmapped {
		if damage := c.finish(); damage != nil {
			r.unmapped = false
			return c.packing, damage
		}
	}
	return c.packing, err
}
