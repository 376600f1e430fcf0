package review

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// Write fills in Schema, adds the verdict to the archive and returns the path of its
// file. It changes no other file. With share others may read and add verdicts, as the
// umask says; without it the file is private. The error is a schemas.Problem of a verdict
// that is not valid, or an output.Error.
func Write(archive string, v Verdict, share bool) (path string, err error) {
	v.Schema, v.At = verdictSchema, v.At.UTC()
	text, err := encode(v.Event, v, verdictForm)
	if err != nil {
		return "", err
	}
	return writeNote(archive, v.Event, v.At, text, verdictForm, share)
}

func writeNote(archive, event string, at time.Time, text []byte, f form, share bool) (path string, err error) {
	var random [8]byte
	rand.Read(random[:]) // never fails, says its documentation
	return writeNamed(archive, event, at.Format(nameTime)+"-"+hex.EncodeToString(random[:]), text, f, share)
}

// writeNamed writes a file whose name begins as stem.
func writeNamed(archive, event, stem string, text []byte, f form, share bool) (path string, err error) {
	folder, name := filepath.Join(archive, reviewsFolder, event), stem+checkOf(text)+f.ending
	if err := output.WriteNew(folder, output.Options{Sync: true, Share: share}, output.File{Name: name, Data: text}); err != nil {
		return "", err
	}
	return filepath.Join(folder, name), nil
}

// nameTime is how the time of a verdict or an action begins the name of its file.
const nameTime = "20060102T150405.000000000Z"

// The name of a file ends with a check of its content, the first 8 bytes of its SHA-256 in hex,
// after 8 random bytes. Names of files from before there were checks end with the random bytes.
const checkLength = 16

func checkOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])[:checkLength]
}

// checkIn returns the check in the name of a file, "" where it has none.
func checkIn(name string) string {
	stamp, digits, _ := strings.Cut(strings.TrimSuffix(name, filepath.Ext(name)), "-")
	if _, err := time.Parse(nameTime, stamp); err != nil || len(digits) != 2*checkLength {
		return ""
	}
	return digits[checkLength:]
}

// Text returns the text of a lost file of that name with a verdict, whose time the name
// says. The error is a schemas.Problem where the file held something else.
func Text(name string, v Verdict) ([]byte, error) {
	at, err := timeIn(name, verdictForm)
	if err != nil {
		return nil, err
	}
	v.Schema, v.At = verdictSchema, at
	text, err := encode(v.Event, v, verdictForm)
	return sameAs(name, v.Event, text, verdictForm, err)
}

// timeIn is the time in the name of a file.
func timeIn(name string, f form) (time.Time, error) {
	stamp, _, _ := strings.Cut(name, "-")
	at, err := time.Parse(nameTime, stamp)
	if err != nil {
		return at, &schemas.Problem{File: name, Cause: "is not the name of a file of a " + f.word}
	}
	return at, nil
}

// sameAs makes sure that a text is the one the name of a lost file has the check of.
func sameAs(name, event string, text []byte, f form, err error) ([]byte, error) {
	if err == nil && checkIn(name) != checkOf(text) {
		err = &schemas.Problem{File: name, Cause: "held another " + f.word + " than the table of " + f.word + "s", Hint: "set the " + f.word + " again: `downlock review set " + event + "`"}
	}
	return text, err
}

// encode returns the text of a file on an event, which its schema accepts.
func encode(event string, note any, f form) ([]byte, error) {
	if !IsEventID(event) {
		return nil, &schemas.Problem{File: fmt.Sprintf("%.40q", event), Cause: "is not the id of an event: E and twelve digits or letters a to f",
			Hint: "`downlock review --archive DIR` lists the events that are open"}
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	err := enc.Encode(note) // refuses years of five digits
	if err == nil {
		err = validate(b.Bytes(), f)
	}
	if err != nil {
		return nil, &schemas.Problem{File: f.word, Cause: err.Error(), Hint: "see schemas/" + f.schema}
	}
	return b.Bytes(), nil
}
