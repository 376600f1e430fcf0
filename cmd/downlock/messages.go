package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"strconv"
	"strings"

	"downlock/report/output"
	"downlock/schemas"
)

// messages are for people: each begins with what it is, and a hint on a line of
// its own says what to do. Where a log is wanted (logTo), each is a line of it.
type messages struct{ to io.Writer }

func (m messages) error(text string)   { m.write(slog.LevelError, "error: ", text) }
func (m messages) warning(text string) { m.write(slog.LevelWarn, "warning: ", text) }
func (m messages) note(text string)    { m.write(slog.LevelInfo, "", text) }
func (m messages) hint(text string) {
	if _, log := m.to.(logLines); text != "" && !log {
		fmt.Fprintf(m.to, "  hint: %s\n", printable(text))
	}
}

func (m messages) write(level slog.Level, word, text string) {
	if log, ok := m.to.(logLines); ok {
		log.to.Log(context.Background(), level, printable(text))
		return
	}
	fmt.Fprintf(m.to, "downlock: %s%s\n", word, printable(text))
}

// logLines stands in for the place messages go to, and makes each a line of a
// log with its time and level.
type logLines struct {
	io.Writer
	to *slog.Logger
}

// logTo makes a log of a form, text or json, of where messages go; none for "".
func logTo(to io.Writer, form string) io.Writer {
	switch form {
	case "text":
		return logLines{to, slog.New(slog.NewTextHandler(to, nil))}
	case "json":
		return logLines{to, slog.New(slog.NewJSONHandler(to, nil))}
	}
	return to
}

// problem prints one problem of a file.
func (m messages) problem(p *schemas.Problem) {
	log, ok := m.to.(logLines)
	if !ok {
		m.error(p.Detail())
		return
	}
	attributes := []any{"file", printable(p.File)}
	for _, place := range []struct {
		name  string
		value int
	}{{"line", p.Line}, {"column", p.Column}} {
		if place.value > 0 {
			attributes = append(attributes, place.name, place.value)
		}
	}
	log.to.Error(printable(p.Cause), append(attributes, "hint", printable(p.Hint))...)
}

// failure prints an error in full: every problem with its line and hint.
func (m messages) failure(err error) {
	var many schemas.Problems
	var one *schemas.Problem
	var failed *output.Error
	var path *fs.PathError
	switch {
	case errors.As(err, &many):
	case errors.As(err, &one):
		many = schemas.Problems{one}
	case errors.As(err, &failed):
		m.error(failed.Error())
		m.hint(failed.Hint())
	case errors.As(err, &path):
		m.error(path.Path + ": " + path.Err.Error())
		m.hint("check the name and that you may read it")
	default:
		m.error(err.Error())
	}
	for _, p := range many {
		m.problem(p)
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
