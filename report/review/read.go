package review

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"downlock/schemas"
)

const (
	reviewsFolder = "reviews"
	verdictEnding = ".json"
)

// maxVerdictBytes bounds the file of a verdict. It is four times the longest file that
// Write makes.
const maxVerdictBytes = 64 << 10

// Latest returns the last verdict on each event of the archive, by event id. The last
// one counts. An archive may have no verdicts. Damaged files are left out and listed.
// The error is one of reading the folder.
func Latest(archive string) (map[string]Verdict, schemas.Problems, error) {
	latest := map[string]Verdict{}
	folder := filepath.Join(archive, reviewsFolder)
	events, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return latest, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	var damaged schemas.Problems
	for _, e := range events {
		if !e.IsDir() || !IsEventID(e.Name()) {
			continue
		}
		history, bad, err := History(archive, e.Name())
		if err != nil {
			return nil, nil, err
		}
		damaged = append(damaged, bad...)
		if len(history) > 0 {
			latest[e.Name()] = history[len(history)-1]
		}
	}
	return latest, damaged, nil
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
	if !IsEventID(event) {
		return nil, nil, nil
	}
	folder := filepath.Join(archive, reviewsFolder, event)
	files, err := os.ReadDir(folder) // in order of name, and names begin with the time
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	for _, f := range files {
		if strings.HasPrefix(f.Name(), ".") || !strings.HasSuffix(f.Name(), verdictEnding) || !f.Type().IsRegular() {
			continue
		}
		path := filepath.Join(folder, f.Name())
		v, err := readVerdict(path, event)
		if err != nil {
			damaged = append(damaged, &schemas.Problem{File: path, Cause: "is no verdict that can be read, and is left out: " + err.Error(),
				Hint: "mend it with `downlock verify --archive DIR --repair`, or set the verdict again: `downlock review set " + event + "`"})
			continue
		}
		verdicts = append(verdicts, File{v, f.Name()})
	}
	slices.SortStableFunc(verdicts, func(a, b File) int { return a.At.Compare(b.At) })
	return verdicts, damaged, nil
}

func readVerdict(path, event string) (v Verdict, err error) {
	f, err := os.Open(path)
	if err != nil {
		return v, withoutPath(err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxVerdictBytes+1))
	switch {
	case err != nil:
		return v, withoutPath(err)
	case len(text) > maxVerdictBytes:
		return v, fmt.Errorf("it has more than %d bytes", maxVerdictBytes)
	}
	if v, err = parseVerdict(text, event); err != nil {
		return v, err
	}
	if check := checkIn(filepath.Base(path)); check != "" && check != checkOf(text) {
		return Verdict{}, errors.New("its bytes are not those its name has the check of")
	}
	return v, nil
}

// parseVerdict reads the text of a verdict on an event.
func parseVerdict(text []byte, event string) (v Verdict, err error) {
	if err := validate(text); err != nil {
		return Verdict{}, err
	}
	if err := json.Unmarshal(text, &v); err != nil {
		return Verdict{}, err
	}
	if v.Event != event {
		return Verdict{}, fmt.Errorf("it is of the event %.20q", v.Event)
	}
	return v, nil
}

// validate holds the text of a verdict against its schema.
func validate(text []byte) error {
	schema, err := schemas.CompiledSchema(schemas.VerdictSchema)
	if err != nil {
		return err
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return errors.New("it is no JSON")
	}
	var invalid *jsonschema.ValidationError
	if err := schema.Validate(value); errors.As(err, &invalid) {
		return errors.New(firstCause(invalid))
	}
	return nil
}

// firstCause returns the first objection of a schema, in words.
func firstCause(e *jsonschema.ValidationError) string {
	for len(e.Causes) > 0 {
		e = e.Causes[0]
	}
	text := e.ErrorKind.LocalizedString(english)
	if len(e.InstanceLocation) > 0 {
		text = strings.Join(e.InstanceLocation, ".") + ": " + text
	}
	return text
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
