package scan

import (
	"errors"
	"io"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/report/archive"
	"downlock/schemas"
)

// inputName is the path of the files of an input, or the name of standard input.
func inputName(files []string, profile *schemas.Profile) string {
	if isStdin(files) {
		return command.StdinName
	}
	return ingest.PartsPath(files, profile)
}

func isStdin(files []string) bool { return len(files) == 1 && files[0] == command.Stdin }

// Look is that of the files; standard input is there once, and never seen again.
func (in input) Look() (archive.Sight, error) {
	if isStdin(in.Files) {
		return archive.Sight{}, nil
	}
	return in.Input.Look()
}

// readFiles reads the files of an input, or standard input.
func (o *scanOptions) readFiles(in input) (*ingest.Recording, error) {
	limits := ingest.Limits{MaxBytes: o.maxSize << 20, PackAbove: o.packAbove, Date: o.date}
	if isStdin(in.Files) {
		return limits.ReadFrom(command.StdinName, o.stdin, in.profile)
	}
	return limits.ReadParts(in.Files, in.profile)
}

// awaitStdin waits for the first byte of standard input, or for its end.
func (o *scanOptions) awaitStdin() error {
	if _, err := o.stdin.Peek(1); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	return nil
}
