package ingest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"

	"downlock/schemas"
)

// Read reads one export: wide or long, CSV (plain, gzip or zstd), Parquet or
// Arrow IPC file, told apart by their content. What the user can mend comes
// back as *schemas.Problem or schemas.Problems; other errors are the file
// system's.
func Read(path string, profile *schemas.Profile) (*Recording, error) {
	data, err := readExport(path)
	if err != nil {
		return nil, err
	}
	return ReadBytes(path, data, profile)
}

// readExport reads the bytes of a file of sensible size.
func readExport(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return nil, &schemas.Problem{File: path, Cause: "is a folder, not an export", Hint: "name the export files in it"}
	}
	if info.Size() > maxContentBytes {
		return nil, tooLarge(path, maxContentBytes)
	}
	return os.ReadFile(path)
}

// ReadBytes is Read for a file already in memory; path is what messages call
// it. The bytes are not kept and not changed.
func ReadBytes(path string, data []byte, profile *schemas.Profile) (*Recording, error) {
	content, compression, err := decompress(path, data, maxContentBytes)
	if err != nil {
		return nil, err
	}
	r, err := newReading(path, profile)
	if err != nil {
		return nil, err
	}
	switch {
	case len(content) == 0:
		err = r.problem("is empty", "the readout may have failed; export the recording again")
	case bytes.HasPrefix(content, []byte("PAR1")):
		err = guarded(r, "Parquet", func() error { return r.readParquet(content) })
	case bytes.HasPrefix(content, []byte("ARROW1")):
		err = guarded(r, "Arrow", func() error { return r.readArrow(content) })
	default:
		err = r.readCSV(content)
	}
	if err != nil {
		return nil, err
	}
	recording, err := r.recording()
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	recording.Name = filepath.Base(path)
	recording.SHA256 = hex.EncodeToString(sum[:])
	recording.Bytes = int64(len(data))
	recording.Format = r.format
	if compression != "" {
		recording.Format += ", " + compression
	}
	return recording, nil
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
