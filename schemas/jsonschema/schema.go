// Package jsonschema holds a value, as encoding/json or a YAML library decodes it, against a
// JSON Schema of draft 2020-12, and says in English what is wrong with it and where.
//
// It knows the keywords that the schemas of downlock use, and refuses a schema with another
// one: nothing is passed over in silence. Schemas are used as they are decoded, without a
// step of compilation, for every run begins with one. A full implementation takes longer to
// set itself up than a scan of a flight; the tests hold this package against one.
package jsonschema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"sync"
)

// Schema is a schema, or one inside another.
type Schema struct {
	Draft       string             `json:"$schema"`
	Title       string             `json:"title"`
	Description string             `json:"description"`
	Defs        map[string]*Schema `json:"$defs"`
	Ref         string             `json:"$ref"`

	Type  types `json:"type"`
	Const any   `json:"const"` // a text in all schemas; nil where there is none
	Enum  []any `json:"enum"`

	AllOf []*Schema `json:"allOf"`
	AnyOf []*Schema `json:"anyOf"`
	OneOf []*Schema `json:"oneOf"`
	Not   *Schema   `json:"not"`
	If    *Schema   `json:"if"`
	Then  *Schema   `json:"then"`
	Else  *Schema   `json:"else"`

	Properties        map[string]*Schema  `json:"properties"`
	Additional        *additional         `json:"additionalProperties"`
	Required          []string            `json:"required"`
	DependentRequired map[string][]string `json:"dependentRequired"`
	MinProperties     *int                `json:"minProperties"`
	MaxProperties     *int                `json:"maxProperties"`

	Items       *Schema `json:"items"`
	MinItems    *int    `json:"minItems"`
	MaxItems    *int    `json:"maxItems"`
	UniqueItems bool    `json:"uniqueItems"`

	MinLength *int     `json:"minLength"`
	MaxLength *int     `json:"maxLength"`
	Pattern   *pattern `json:"pattern"`

	Minimum          *float64 `json:"minimum"`
	Maximum          *float64 `json:"maximum"`
	ExclusiveMinimum *float64 `json:"exclusiveMinimum"`
}

// Parse reads a schema. References in it lead to its own $defs.
func Parse(text []byte) (*Schema, error) {
	s := &Schema{}
	return s, decode(text, s)
}

func decode(text []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	return d.Decode(into)
}

// definition returns what a reference leads to.
func (s *Schema) definition(ref string) *Schema {
	to, ok := s.Defs[strings.TrimPrefix(ref, "#/$defs/")]
	if !ok {
		panic(fmt.Sprintf("a shipped schema refers to %s, which it has not", ref)) // TestReferences
	}
	return to
}

// types are the names of types a value may have: one, or a list.
type types []string

func (t *types) UnmarshalJSON(text []byte) error {
	if text[0] == '[' {
		return json.Unmarshal(text, (*[]string)(t))
	}
	*t = make(types, 1)
	return json.Unmarshal(text, &(*t)[0])
}

// additional says what entries may be that a schema does not name: any, none, or as another
// schema wants them.
type additional struct {
	any    bool
	schema *Schema
}

func (a *additional) UnmarshalJSON(text []byte) error {
	if text[0] == '{' {
		return decode(text, &a.schema)
	}
	return json.Unmarshal(text, &a.any)
}

// pattern is compiled when a text is first held against it.
type pattern struct {
	text     string
	compiled func() *regexp.Regexp
}

func (p *pattern) UnmarshalJSON(text []byte) error {
	if err := json.Unmarshal(text, &p.text); err != nil {
		return err
	}
	p.compiled = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(p.text) })
	return nil
}
