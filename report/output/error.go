package output

import "os"

// Error reports that a file or folder cannot be written, for instance because the
// disk is full or the folder is read-only.
type Error struct {
	Path string
	Err  error
}

func (e *Error) Error() string { return e.Path + ": cannot be written: " + Cause(e.Err) }

func (e *Error) Unwrap() error { return e.Err }

// Hint returns the remedy for the user.
func (e *Error) Hint() string {
	return "check that the output folder exists or can be made, that you may write there and that the disk has room"
}

// Cause returns the text of a system error without the operation and the name of a
// temporary file, which mean nothing to the user.
func Cause(err error) string {
	switch e := err.(type) {
	case *os.PathError:
		return e.Err.Error()
	case *os.LinkError:
		return e.Err.Error()
	}
	return err.Error()
}
