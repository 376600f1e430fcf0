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

	"downlock/schemas"
)

// Messages writes messages for people. Each begins with its kind, and a hint on a line
// of its own says what to do. LogTo turns each into a line of a log.
type Messages struct{ To io.Writer }

func (m Messages) Error(text string)   { m.write(slog.LevelError, "error: ", text) }
func (m Messages) Warning(text string) { m.write(slog.LevelWarn, "warning: ", text) }
func (m Messages) Note(text string)    { m.write(slog.LevelInfo, "", text) }

// Notes writes a note for each text.
func (m Messages) Notes(texts []string) {
	for _, text := range texts {
		m.Note(text)
	}
}

func (m Messages) Hint(text string) {
	if _, log := m.To.(logLines); text != "" && !log {
		fmt.Fprintf(m.To, "  hint: %s\n", OneLine(text))
	}
}

// Detail writes a line below a message. A log has none.
func (m Messages) Detail(text string) {
	if _, log := m.To.(logLines); !log {
		fmt.Fprintf(m.To, "  %s\n", OneLine(text))
	}
}

// write writes a message on one line: a line break in the name of a file must not look
// like another message.
func (m Messages) write(level slog.Level, word, text string) {
	if log, ok := m.To.(logLines); ok {
		log.to.Log(context.Background(), level, OneLine(text))
		return
	}
	fmt.Fprintf(m.To, "downlock: %s%s\n", word, OneLine(text))
}

// logLines is a place for messages. It makes each a line of a log with its time and
// level.
type logLines struct {
	io.Writer
	to *slog.Logger
}

// Forms of a log.
const (
	LogText = "text"
	LogJSON = "json"
)

// LogTo returns a place for messages that writes them as a log in a form; it returns
// the place itself for "".
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
func (m Messages) Problem(p *schemas.Problem) { m.problem(slog.LevelError, "error: ", p) }

// Doubt prints one problem that leaves the rest as it is.
func (m Messages) Doubt(p *schemas.Problem) { m.problem(slog.LevelWarn, "warning: ", p) }

func (m Messages) problem(level slog.Level, word string, p *schemas.Problem) {
	log, ok := m.To.(logLines)
	if !ok {
		shown := *p
		shown.Source = strings.ReplaceAll(shown.Source, "\t", " ")
		for _, text := range []*string{&shown.File, &shown.Cause, &shown.Hint, &shown.Source} {
			*text = OneLine(*text)
		}
		fmt.Fprintf(m.To, "downlock: %s%s\n", word, shown.Detail())
		return
	}
	attributes := []any{"file", OneLine(p.File)}
	for _, place := range []struct {
		name  string
		value int
	}{{"line", p.Line}, {"column", p.Column}} {
		if place.value > 0 {
			attributes = append(attributes, place.name, place.value)
		}
	}
	log.to.Log(context.Background(), level, OneLine(p.Cause), append(attributes, "hint", OneLine(p.Hint))...)
}

// Failure prints a whole error: every problem with its line and hint.
func (m Messages) Failure(err error) {
	var many schemas.Problems
	var one *schemas.Problem
	var hinted interface {
		error
		Hint() string
	}
	var path *fs.PathError
	switch {
	case errors.As(err, &many):
	case errors.As(err, &one):
		many = schemas.Problems{one}
	case errors.As(err, &hinted):
		m.Error(hinted.Error())
		m.Hint(hinted.Hint())
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

// Printable returns text that cannot steer a terminal, wherever it comes from: it
// replaces characters that cannot be printed, except line breaks, with U+FFFD.
func Printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && (!strconv.IsPrint(r) || schemas.Hidden(r)) {
			return '\uFFFD'
		}
		return r
	}, text)
}

// OneLine is Printable without line breaks, which become U+FFFD too.
func OneLine(text string) string { return strings.ReplaceAll(Printable(text), "\n", "\uFFFD") }

// Quote returns text from a command line between quotation marks, with escapes.
func Quote(text string) string { return strconv.Quote(text) }

// Count returns a number with its noun, in the plural where it is not one.
func Count(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
