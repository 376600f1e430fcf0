package command

import (
	"errors"
	"os"
	"path/filepath"

	"downlock/report/output"
)

// WriteWhole replaces a file in a folder that is there. Others may read it
// whatever the umask is, where share is set.
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

// IsOutput reports whether an error is one of writing, which ends the run, and
// not one of an input.
func IsOutput(err error) bool {
	var failed *output.Error
	return errors.As(err, &failed)
}
