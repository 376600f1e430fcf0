package schemas

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
)

var english = message.NewPrinter(language.English)

// schemaProblems turns the objections of a JSON Schema into problems that point into
// the document. Each suggests the nearest name or word allowed there.
func (d *Document) schemaProblems(invalid *jsonschema.ValidationError) Problems {
	var found Problems
	var walk func(e *jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		if entries, ok := oneNeeded(e); ok {
			at, where := placeOf(e)
			found = append(found, d.Problem(at, fmt.Sprintf("%s has none of the entries %s", where, strings.Join(entries, ", ")), "add one of them"))
			return
		}
		for _, c := range e.Causes {
			walk(c)
		}
		if len(e.Causes) == 0 {
			found = append(found, d.schemaProblem(e)...)
		}
	}
	walk(invalid)
	return found.InOrder()
}

func (d *Document) schemaProblem(e *jsonschema.ValidationError) (found Problems) {
	at, where := placeOf(e)
	switch k := e.ErrorKind.(type) {
	case *kind.AdditionalProperties:
		known := entriesAllowed(e.SchemaURL)
		for _, name := range k.Properties {
			hint := Suggest(name, known)
			if hint == "" {
				hint = "it may have " + strings.Join(known, ", ")
			}
			found = append(found, d.KeyProblem(at+"/"+name, fmt.Sprintf("%s has no entry %q", where, name), hint))
		}
		return found
	case *kind.Enum:
		return Problems{d.Problem(at, where+": "+e.ErrorKind.LocalizedString(english), Suggest(fmt.Sprint(k.Got), asText(k.Want)))}
	}
	return Problems{d.Problem(at, where+": "+e.ErrorKind.LocalizedString(english), "")}
}

// placeOf returns the path of the value an error is about, and its name in words.
func placeOf(e *jsonschema.ValidationError) (at, where string) {
	for _, key := range e.InstanceLocation {
		at += "/" + key
	}
	if at == "" {
		return "", "the document"
	}
	return at, placeName(e.InstanceLocation)
}

// placeName returns a path in words, with the entries of a list counted from 1, as people
// count: rules/2/severity/by is "rule 3, severity.by".
func placeName(keys []string) string {
	name, inList := "", false
	for _, key := range keys {
		n, err := strconv.Atoi(key)
		switch {
		case err == nil && inList:
			name += fmt.Sprintf(".%d", n+1)
		case err == nil:
			name = fmt.Sprintf("%s %d", strings.TrimSuffix(name, "s"), n+1)
		case name == "":
			name = key
		case inList:
			name += ", " + key
		default:
			name += "." + key
		}
		inList = err == nil
	}
	return name
}

// oneNeeded returns the entries of which the document needs one and has none.
func oneNeeded(e *jsonschema.ValidationError) (entries []string, ok bool) {
	if _, ok := e.ErrorKind.(*kind.AnyOf); !ok {
		return nil, false
	}
	for _, c := range e.Causes {
		required, ok := c.ErrorKind.(*kind.Required)
		if !ok {
			return nil, false
		}
		for _, name := range required.Missing {
			if !slices.Contains(entries, name) {
				entries = append(entries, name)
			}
		}
	}
	return entries, len(entries) > 0
}

// entriesAllowed lists by name the entries of the shipped schema the URL leads into.
// It returns nil when the URL leads nowhere.
func entriesAllowed(schemaURL string) []string {
	file, pointer, _ := strings.Cut(schemaURL, "#")
	text, err := schemaFiles.ReadFile(path.Base(file))
	if err != nil {
		return nil
	}
	var at map[string]any
	if json.Unmarshal(text, &at) != nil {
		return nil
	}
	for _, key := range strings.Split(strings.Trim(pointer, "/"), "/") {
		if plain, err := url.PathUnescape(key); err == nil {
			key = plain
		}
		if next, ok := at[key].(map[string]any); ok {
			at = next
		}
	}
	entries, _ := at["properties"].(map[string]any)
	return slices.Sorted(maps.Keys(entries))
}

func asText(values []any) []string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = fmt.Sprint(v)
	}
	return out
}
