package schemas

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
)

// A document that is compiled in is compiled in a second time as the value it decodes to,
// in JSON: reading YAML takes some twenty times as long, and every run begins with it.
// The prepared form names the document by its hash. Where that has changed since, the
// document itself is read, and a test asks for the form to be prepared anew.

// Prepare returns the prepared form of a document that decodes to a value: the hash of the
// document on a line of its own, and the value.
func Prepare(document []byte, value any) ([]byte, error) {
	text, err := json.Marshal(value)
	if err != nil {
		return nil, err
	}
	var fields any
	if err := json.Unmarshal(text, &fields); err != nil {
		return nil, err
	}
	out := bytes.NewBufferString(hashOf(document) + "\n")
	code := json.NewEncoder(out)
	code.SetEscapeHTML(false)
	code.SetIndent("", " ")
	err = code.Encode(withoutEmpty(fields))
	return out.Bytes(), err
}

// ReadPrepared fills value from a prepared form; ok is false where that is not of this
// document.
func ReadPrepared(document, prepared []byte, value any) (ok bool) {
	hash, text, found := bytes.Cut(prepared, []byte("\n"))
	return found && string(hash) == hashOf(document) && json.Unmarshal(text, value) == nil
}

func hashOf(document []byte) string {
	sum := sha256.Sum256(document)
	return hex.EncodeToString(sum[:])
}

// withoutEmpty leaves out fields that are null or an empty text, which are so when nothing
// is said of them.
func withoutEmpty(value any) any {
	switch v := value.(type) {
	case map[string]any:
		for name, field := range v {
			if field == nil || field == "" {
				delete(v, name)
				continue
			}
			v[name] = withoutEmpty(field)
		}
	case []any:
		for i := range v {
			v[i] = withoutEmpty(v[i])
		}
	}
	return value
}
