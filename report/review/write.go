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
	name := v.At.Format(nameTime) + "-" + hex.EncodeToString(random[:]) + checkOf(text) + verdictEnding
	if err := output.WriteNew(folder, output.Options{Sync: true, Share: share}, output.File{Name: name, Data: text}); err != nil {
		return "", err
	}
	return filepath.Join(folder, name), nil
}

// nameTime is how the time of a verdict begins the name of its file.
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
	stamp, digits, _ := strings.Cut(strings.TrimSuffix(name, verdictEnding), "-")
	if _, err := time.Parse(nameTime, stamp); err != nil || len(digits) != 2*checkLength {
		return ""
	}
	return digits[checkLength:]
}

// Text returns the text of a lost file of that name with a verdict, whose time the name
// says. The error is a schemas.Problem where the file held something else.
func Text(name string, v Verdict) ([]byte, error) {
	stamp, _, _ := strings.Cut(name, "-")
	at, err := time.Parse(nameTime, stamp)
	if err != nil {
		return nil, &schemas.Problem{File: name, Cause: "is no name of a verdict's file"}
	}
	v.Schema, v.At = verdictSchema, at
	text, err := encode(v)
	if err != nil {
		return nil, err
	}
	if checkIn(name) != checkOf(text) {
		return nil, &schemas.Problem{File: name, Cause: "held another verdict than the table of verdicts", Hint: "set the verdict again: `downlock review set " + v.Event + "`"}
	}
	return text, nil
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
