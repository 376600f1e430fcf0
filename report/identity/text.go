package identity

import (
	"errors"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"downlock/schemas"
)

// Input holds the name of an input for every output, Shown, and the names of its files,
// which must not be shown.
type Input struct {
	Shown    string
	files    map[string]string // token by file as named, profile included
	withheld *strings.Replacer // nil where nothing is withheld
}

// minWithheld is the length of the shortest name withheld in messages. A name of two
// letters is part of every other word.
const minWithheld = 3

// Input returns the names of an input, from its path, its files and the profile it is
// read with.
func (k *Key) Input(path string, files []string, profile string) Input {
	if k == nil {
		return Input{Shown: path}
	}
	in := Input{Shown: k.Path(schemas.Absolute(path)), files: map[string]string{}}
	type pair struct{ text, token string }
	var pairs []pair
	add := func(text, token string) {
		if len(text) >= minWithheld {
			pairs = append(pairs, pair{text, token})
		}
	}
	for _, file := range append([]string{path}, files...) {
		shown := k.Path(schemas.Absolute(file))
		name := filepath.Base(file)
		in.files[file] = shown
		add(file, shown)
		add(schemas.Absolute(file), shown)
		add(name, filepath.Base(shown))
		for stem := name; filepath.Ext(stem) != ""; { // export.csv.gz: export.csv, export
			stem = strings.TrimSuffix(stem, filepath.Ext(stem))
			add(stem, filepath.Base(shown))
		}
	}
	if profile != "" {
		in.files[profile] = k.Token(Profile, profile)
		add(profile, k.Token(Profile, profile))
		add(filepath.Base(profile), k.Token(Profile, profile))
	}
	// The longest come first: a path before the name in it.
	slices.SortStableFunc(pairs, func(a, b pair) int { return len(b.text) - len(a.text) })
	var list []string
	for _, p := range pairs {
		list = append(list, p.text, p.token)
	}
	in.withheld = strings.NewReplacer(list...)
	return in
}

// The forms in which messages show text from a file. Cells and names of columns are
// quoted; dates, clock times and hashes may be bare.
var (
	quoted = schemas.Pattern(`"(?:[^"\\]|\\.)*"`)
	dated  = schemas.Pattern(`\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{4}|\d{1,2}[ -]?(?i:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[ -]?\d{2,4}|(?:19|20)\d{6}`)
	timed  = schemas.Pattern(`\d{1,2}:\d{2}:\d{2}(?:[.,]\d+)?`)
	hashed = schemas.Pattern(`\b[0-9a-fA-F]{32,}\b`)
)

const withheldText = "(withheld)"

// Text returns a message about the input without withheld names.
func (in Input) Text(s string) string {
	if in.withheld == nil {
		return s
	}
	s = in.withheld.Replace(s)
	for _, form := range []func() *regexp.Regexp{quoted, dated, timed, hashed} {
		s = form().ReplaceAllString(s, withheldText)
	}
	return s
}

// Error returns an error about the input without withheld names. The place in the file
// stays; the content of that place does not.
func (in Input) Error(err error) error {
	if in.withheld == nil || err == nil {
		return err
	}
	var many schemas.Problems
	var one *schemas.Problem
	var path *fs.PathError
	switch {
	case errors.As(err, &many):
		out := make(schemas.Problems, len(many))
		for i, p := range many {
			out[i] = in.problem(p)
		}
		return out
	case errors.As(err, &one):
		return in.problem(one)
	case errors.As(err, &path):
		return &fs.PathError{Op: path.Op, Path: in.Shown, Err: path.Err}
	}
	return errors.New(in.Text(err.Error()))
}

func (in Input) problem(p *schemas.Problem) *schemas.Problem {
	return &schemas.Problem{File: in.file(p.File), Line: p.Line, Column: p.Column, Cause: in.Text(p.Cause), Hint: in.Text(p.Hint)}
}

// file returns the token of a file of the input, and the token of the input for any
// other file that a problem names.
func (in Input) file(name string) string {
	if shown := in.files[name]; shown != "" {
		return shown
	}
	return in.Shown
}

// withoutPath returns an error without the path of a file, for messages that begin
// with that path.
func withoutPath(err error) error {
	var of *fs.PathError
	if errors.As(err, &of) {
		return of.Err
	}
	return err
}
