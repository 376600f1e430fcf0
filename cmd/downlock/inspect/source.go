package inspect

import (
	"fmt"
	"io"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/schemas"
)

// source is an export: a file, or standard input, which is held since it is read several
// times.
type source struct {
	path  string
	sheet string // of a workbook, "" for the one that looks like an export
	held  []byte // nil for a file
}

// stdinSource reads standard input to its end. One that is larger than any file inspect
// reads is a problem.
func stdinSource(in io.Reader) (source, error) {
	s := source{path: command.StdinName}
	var err error
	s.held, err = io.ReadAll(io.LimitReader(in, ingest.DefaultMaxBytes+1))
	if err != nil {
		return s, fmt.Errorf("%s: %w", s.path, err)
	}
	if len(s.held) > ingest.DefaultMaxBytes {
		return s, &schemas.Problem{File: s.path, Cause: fmt.Sprintf("has more than %d bytes, the most that is read from one file", int64(ingest.DefaultMaxBytes)),
			Hint: "name a part of the export"}
	}
	return s, nil
}

func (s source) open() (*ingest.Raw, error) {
	if s.held != nil {
		return ingest.OpenRawBytes(s.path, s.held, s.sheet)
	}
	return ingest.OpenRaw(s.path, s.sheet)
}

func (s source) read(profile *schemas.Profile) (*ingest.Recording, error) {
	if s.held != nil {
		return ingest.ReadBytes(s.path, s.held, profile)
	}
	return ingest.Read(s.path, profile)
}
