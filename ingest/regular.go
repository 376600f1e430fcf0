package ingest

import (
	"cmp"
	"io/fs"
	"os"

	"downlock/schemas"
)

// CheckFile returns an error for a path that leads to something which cannot be read
// again, and perhaps not once: a pipe, a device or a socket. Opening one may take for
// ever. The error is a schemas.Problem, or one of the file system.
func CheckFile(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return cmp.Or(schemas.OtherAddress(path), err)
	}
	if kind := irregular(info.Mode()); kind != "" {
		return &schemas.Problem{File: path, Cause: "is a " + kind + ", not a file", Hint: "write its output to a file, and name that; scan and inspect read standard input as -"}
	}
	return nil
}

// irregular names what is neither a file nor a folder, "" for those.
func irregular(mode fs.FileMode) string {
	switch {
	case mode.IsRegular() || mode.IsDir():
		return ""
	case mode&fs.ModeNamedPipe != 0:
		return "pipe"
	case mode&fs.ModeSocket != 0:
		return "socket"
	}
	return "device"
}
