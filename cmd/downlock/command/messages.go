package command

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

// Messages are for people: each begins with what it is, and a hint on a line of
// its own says what to do. Where a log is wanted (LogTo), each is a line of it.
type Messages struct{ To io.Writer }

func (m Messages) Error(text string)   { m.write(slog.LevelError, "error: ", text) }
func (m Messages) Warning(text string) { m.write(slog.LevelWarn, "warning: ", text) }
func (m Messages) Note(text string)    { m.write(slog.LevelInfo, "", text) }
func (m Messages) Hint(text string) {
	if _, log := m.To.(logLines); text != "" && !log {
		fmt.Fprintf(m.To, "  hint: %s\n", Printable(text))
	}
}

func (m Messages) write(level slog.Level, word, text string) {
	if log, ok := m.To.(logLines); ok {
		log.to.Log(context.Background(), level, Printable(text))
		return
	}
	fmt.Fprintf(m.To, "downlock: %s%s\n", word, Printable(text))
}

// logLines stands in for the place messages go to, and makes each a line of a
// log with its time and level.
type logLines struct {
	io.Writer
	to *slog.Logger
}

// Forms of a log.
const (
	LogText = "text"
	LogJSON = "json"
)

// LogTo makes a log of a form, text or json, of where messages go; none for "".
func LogTo(to io.Writer, form string) io.Writer {
	switch form {
	case LogText:
		return logLines{to, slog.New(slog.NewTextHandler(to, nil))}
	case LogJSON:
		return logLines{to, slog.New(slog.NewJSONHandler(to, nil))}
	}
	return to
}

// Problem prints one problem of a file.
func (m Messages) Problem(p *schemas.Problem) {
	log, ok := m.To.(logLines)
	if !ok {
		m.Error(p.Detail())
		return
	}
	attributes := []any{"file", Printable(p.File)}
	for _, place := range []struct {
		name  string
		value int
	}{{"line", p.Line}, {"column", p.Column}} {
		if place.value > 0 {
			attributes = append(attributes, place.name, place.value)
		}
	}
	log.to.Error(Printable(p.Cause), append(attributes, "hint", Printable(p.Hint))...)
}

// Failure prints an error in full: every problem with its line and hint.
func (m Messages) Failure(err error) {
	var many schemas.Problems
	var one *schemas.Problem
	var failed *output.Error
	var path *fs.PathError
	switch {
	case errors.As(err, &many):
	case errors.As(err, &one):
		many = schemas.Problems{one}
	case errors.As(err, &failed):
		m.Error(failed.Error())
		m.Hint(failed.Hint())
	case errors.As(err, &path):
		m.Error(path.Path + ": " + path.Err.Error())
		m.Hint("check the name and that you may read it")
	default:
		m.Error(err.Error())
	}
	for _, p := range many {
		m.Problem(p)
	}
}

// Printable keeps text from files from steering a terminal: control characters
// are shown as their escapes, line breaks kept.
func Printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && !strconv.IsPrint(r) {
			return '\uFFFD'
		}
		return r
	}, text)
}

// Quote puts text from a command line between quotation marks.
func Quote(text string) string { return strconv.Quote(text) }

// Count writes a number with its noun.
func Count(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
