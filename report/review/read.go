package review

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"downlock/schemas"
)

const reviewsFolder = "reviews"

// maxNoteBytes bounds a file. It is four times the longest one that Write makes.
const maxNoteBytes = 64 << 10

// Latest returns the last verdict on each event of the archive, by event id. The last
// one counts. An archive may have no verdicts. Damaged files are left out and listed.
// The error is one of reading the folder.
func Latest(archive string) (map[string]Verdict, schemas.Problems, error) {
	latest := map[string]Verdict{}
	events, err := Events(archive)
	if err != nil {
		return nil, nil, err
	}
	var damaged schemas.Problems
	for _, event := range events {
		history, bad, err := History(archive, event)
		if err != nil {
			return nil, nil, err
		}
		damaged = append(damaged, bad...)
		if len(history) > 0 {
			latest[event] = history[len(history)-1]
		}
	}
	return latest, damaged, nil
}

// Events lists the ids of the events that have files, in order.
func Events(archive string) (ids []string, err error) {
	folders, err := os.ReadDir(filepath.Join(archive, reviewsFolder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, f := range folders {
		if f.IsDir() && IsEventID(f.Name()) {
			ids = append(ids, f.Name())
		}
	}
	return ids, err
}

// History returns the verdicts on one event in order of time, none for an event nobody
// has looked at. Damaged files are left out and listed.
func History(archive, event string) (verdicts []Verdict, damaged schemas.Problems, err error) {
	files, damaged, err := Files(archive, event)
	for _, f := range files {
		verdicts = append(verdicts, f.Verdict)
	}
	return verdicts, damaged, err
}

// File is a verdict and the name of its file.
type File struct {
	Verdict
	Name string
}

// Files is History with the names of the files.
func Files(archive, event string) (verdicts []File, damaged schemas.Problems, err error) {
	list, names, damaged, err := readNotes(archive, event, verdictForm, parseVerdict)
	for i, v := range list {
		verdicts = append(verdicts, File{v, names[i]})
	}
	slices.SortStableFunc(verdicts, func(a, b File) int { return a.At.Compare(b.At) })
	return verdicts, damaged, err
}

// form is a kind of file that reviewers add below the folder of an event.
type form struct {
	word   string // for messages
	ending string
	schema string // file of its JSON Schema
}

var (
	verdictForm = form{"verdict", ".json", schemas.VerdictSchema}
	actionForm  = form{"action", ".action", schemas.ActionSchema}
)

// readNotes reads the files of a form on an event, in order of name, which begins with the
// time. Damaged files are left out and listed.
func readNotes[T any](archive, event string, f form, parse func(text []byte, event string) (T, error)) (notes []T, names []string, damaged schemas.Problems, err error) {
	if !IsEventID(event) {
		return nil, nil, nil, nil
	}
	folder := filepath.Join(archive, reviewsFolder, event)
	files, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil, nil
	}
	if err != nil {
		return nil, nil, nil, err
	}
	for _, file := range files {
		name := file.Name()
		if strings.HasPrefix(name, ".") || !strings.HasSuffix(name, f.ending) || !file.Type().IsRegular() {
			continue
		}
		path := filepath.Join(folder, name)
		note, err := readNote(path, event, parse)
		if err != nil {
			damaged = append(damaged, &schemas.Problem{File: path, Cause: "is not a readable " + f.word + ", and is left out: " + err.Error(),
				Hint: "mend it with `downlock verify --archive DIR --repair`, or set the " + f.word + " again: `downlock review set " + event + "`"})
			continue
		}
		notes, names = append(notes, note), append(names, name)
	}
	return notes, names, damaged, nil
}

// readNote reads one file, and compares it with the check in its name.
func readNote[T any](path, event string, parse func(text []byte, event string) (T, error)) (note T, err error) {
	f, err := os.Open(path)
	if err != nil {
		return note, withoutPath(err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxNoteBytes+1))
	switch {
	case err != nil:
		return note, withoutPath(err)
	case len(text) > maxNoteBytes:
		return note, fmt.Errorf("it has more than %d bytes", maxNoteBytes)
	}
	if note, err = parse(text, event); err != nil {
		return note, err
	}
	if check := checkIn(filepath.Base(path)); check != "" && check != checkOf(text) {
		return note, errors.New("its bytes are not those its name has the check of")
	}
	return note, nil
}

// parseVerdict reads the text of a verdict on an event.
func parseVerdict(text []byte, event string) (v Verdict, err error) {
	if err := parseNote(text, verdictForm, &v); err != nil {
		return Verdict{}, err
	}
	if v.Event != event {
		return Verdict{}, fmt.Errorf("it is of the event %.20q", v.Event)
	}
	return v, nil
}

func parseNote(text []byte, f form, note any) error {
	if err := validate(text, f); err != nil {
		return err
	}
	return json.Unmarshal(text, note)
}

// validate holds the text of a file against its schema.
func validate(text []byte, f form) error {
	schema, err := schemas.Schema(f.schema)
	if err != nil {
		return err
	}
	var value any
	if json.Unmarshal(text, &value) != nil {
		return errors.New("it is no JSON")
	}
	objection := schema.Validate(value)
	if objection == nil {
		return nil
	}
	first := objection.Leaves()[0]
	if len(first.At) > 0 {
		return errors.New(strings.Join(first.At, ".") + " " + first.Text)
	}
	return errors.New("it " + first.Text)
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
