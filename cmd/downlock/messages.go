package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"

	"downlock/report"
	"downlock/schemas"
)

// messages are for people: each begins with what it is, and a hint on a line of
// its own says what to do.
type messages struct{ to io.Writer }

func (m messages) error(text string)   { fmt.Fprintf(m.to, "downlock: error: %s\n", printable(text)) }
func (m messages) warning(text string) { fmt.Fprintf(m.to, "downlock: warning: %s\n", printable(text)) }
func (m messages) note(text string)    { fmt.Fprintf(m.to, "downlock: %s\n", printable(text)) }
func (m messages) hint(text string) {
	if text != "" {
		fmt.Fprintf(m.to, "  hint: %s\n", printable(text))
	}
}

// failure prints an error in full: every problem with its line and hint.
func (m messages) failure(err error) {
	var many schemas.Problems
	var one *schemas.Problem
	var output *report.OutputError
	var path *fs.PathError
	switch {
	case errors.As(err, &many):
	case errors.As(err, &one):
		many = schemas.Problems{one}
	case errors.As(err, &output):
		m.error(output.Error())
		m.hint(output.Hint())
	case errors.As(err, &path):
		m.error(path.Path + ": " + path.Err.Error())
		m.hint("check the name and that you may read it")
	default:
		m.error(err.Error())
	}
	for _, p := range many {
		m.error(p.Detail())
	}
}

// printable keeps text from files from steering a terminal: control characters
// are shown as their escapes, line breaks kept.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && !strconv.IsPrint(r) {
			return '\uFFFD'
		}
		return r
	}, text)
}

func quote(text string) string { return strconv.Quote(text) }

// count writes a number with its noun.
func count(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
