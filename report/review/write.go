package review

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"

	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"downlock/report/output"
	"downlock/schemas"
)

var english = message.NewPrinter(language.English)

// Write fills in Schema, adds the verdict to the archive and returns the path of its
// file. It changes no other file. With share others may read and add verdicts, as the
// umask says; without it the file is private. The error is a schemas.Problem of a verdict
// that is not valid, or an output.Error.
func Write(archive string, v Verdict, share bool) (path string, err error) {
	v.Schema, v.At = verdictSchema, v.At.UTC()
	text, err := encode(v)
	if err != nil {
		return "", err
	}
	folder := filepath.Join(archive, reviewsFolder, v.Event)
	var random [8]byte
	rand.Read(random[:]) // never fails, says its documentation
	name := v.At.Format("20060102T150405.000000000Z") + "-" + hex.EncodeToString(random[:]) + verdictEnding
	if err := output.WriteNew(folder, output.Options{Sync: true, Share: share}, output.File{Name: name, Data: text}); err != nil {
		return "", err
	}
	return filepath.Join(folder, name), nil
}

// encode returns the text of a verdict, which its schema accepts.
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
