package ingest

import (
	"io"
	"os"

	"downlock/ingest/objects"
	"downlock/schemas"
)

// Open opens an input, a file or an object of a store; size is what it has, packed or not. The
// error is a schemas.Problem, an objects.Error, or one of the file system.
func Open(path string) (in io.ReadCloser, size int64, err error) {
	if schemas.IsObject(path) {
		return objects.Open(path)
	}
	if err = CheckFile(path); err != nil {
		return nil, 0, err
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	info, err := file.Stat()
	switch {
	case err != nil:
	case info.IsDir():
		err = &schemas.Problem{File: path, Cause: "is a folder, not an export", Hint: "name the export files in it"}
	default:
		return file, info.Size(), nil
	}
	file.Close()
	return nil, 0, err
}
