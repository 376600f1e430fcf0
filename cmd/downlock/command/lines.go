package command

import (
	"fmt"
	"io"
	"strings"

	"downlock/report/output"
)

// Lines writes result lines for scripts, their cells separated by tabs. After the
// first error it writes nothing more.
type Lines struct {
	To  io.Writer
	Err error // the first one
}

// Line writes one line. A line break in a cell becomes a space.
func (l *Lines) Line(cells ...string) {
	if l.Err != nil {
		return
	}
	for i, c := range cells {
		cells[i] = strings.ReplaceAll(Printable(c), "\n", " ")
	}
	_, l.Err = fmt.Fprintln(l.To, strings.Join(cells, "\t"))
}

// Failure returns the error that kept a line from being written as one of output,
// nil when there is none.
func (l *Lines) Failure() error {
	if l.Err == nil {
		return nil
	}
	return &output.Error{Path: "standard output", Err: l.Err}
}
