package command

import (
	"errors"
	"os"
	"path/filepath"

	"downlock/report/archive"
	"downlock/report/output"
)

// WriteWhole replaces a file in a folder, which must exist. With share others may read
// it, whatever the umask is. The error is an output.Error.
func WriteWhole(path string, data []byte, share bool) error {
	dir, name := filepath.Split(path)
	dir = filepath.Clean(dir)
	if _, err := os.Stat(dir); err != nil {
		return &output.Error{Path: path, Err: err}
	}
	var o output.Options
	if share {
		o.Mode = 0o644
	}
	return output.Write(dir, o, output.File{Name: name, Data: data})
}

// IsOutput reports whether an error came from writing, or from an archive that is no
// longer this run's. Such an error ends the run; an error of an input costs that input
// alone.
func IsOutput(err error) bool {
	var failed *output.Error
	var lost *archive.LockLostError
	return errors.As(err, &failed) || errors.As(err, &lost)
}
