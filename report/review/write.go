package review

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"downlock/report"
	"downlock/schemas"
)

var english = message.NewPrinter(language.English)

// Write adds a verdict to the archive and gives the name of its file; Schema is
// filled in. Nothing that is there changes. Where share is set, others may read
// and add as the umask says; else the file is its writer's alone. The error is a
// schemas.Problem of a verdict that is none, or a report.OutputError.
func Write(archive string, v Verdict, share bool) (path string, err error) {
	v.Schema, v.At = verdictSchema, v.At.UTC()
	text, err := encode(v)
	if err != nil {
		return "", err
	}
	folder := filepath.Join(archive, reviewsFolder, v.Event)
	if err := os.MkdirAll(folder, report.FolderMode(share)); err != nil {
		return "", &report.OutputError{Path: folder, Err: err}
	}
	var random [8]byte
	rand.Read(random[:]) // never fails, says its documentation
	name := v.At.Format("20060102T150405.000000000Z") + "-" + hex.EncodeToString(random[:]) + verdictEnding
	path = filepath.Join(folder, name)
	if err := writeNew(filepath.Join(folder, "."+name), path, text, report.FileMode(share)); err != nil {
		return "", &report.OutputError{Path: path, Err: err}
	}
	return path, nil
}

// encode gives the text of a verdict that its schema takes.
func encode(v Verdict) ([]byte, error) {
	if !IsEventID(v.Event) {
		return nil, &schemas.Problem{File: fmt.Sprintf("%.40q", v.Event), Cause: "is no event's id: E and twelve digits or letters a to f",
			Hint: "`downlock review --archive DIR` lists the events that are open"}
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	err := enc.Encode(v) // refuses years of five digits
	if err == nil {
		err = validate(b.Bytes())
	}
	if err != nil {
		return nil, &schemas.Problem{File: "verdict", Cause: err.Error(), Hint: "see schemas/verdict.schema.json"}
	}
	return b.Bytes(), nil
}

// writeNew puts a whole file where none is. A link cannot overwrite, whatever
// others do; where a disk has no links, the random part of the name must do.
func writeNew(temporary, place string, text []byte, mode fs.FileMode) error {
	f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	defer os.Remove(temporary)
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return err
	}
	if err = os.Link(temporary, place); err != nil && !errors.Is(err, fs.ErrExist) {
		err = os.Rename(temporary, place)
	}
	return err
}
