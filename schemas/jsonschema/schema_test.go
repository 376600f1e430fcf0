package jsonschema_test

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"downlock/schemas"
	"downlock/schemas/jsonschema"
)

// used are the schemas that documents are held against when downlock runs.
var used = []string{schemas.ProfileSchema, schemas.FleetSchema, schemas.RulePackSchema, schemas.IndicatorsSchema, schemas.VerdictSchema, schemas.ActionSchema}

// TestReferences: each reference of a schema in use leads to one of its definitions.
func TestReferences(t *testing.T) {
	t.Parallel()
	for _, name := range used {
		text, err := schemas.SchemaText(name)
		if err != nil {
			t.Fatal(err)
		}
		var plain struct {
			Defs map[string]any `json:"$defs"`
		}
		if err := json.Unmarshal(text, &plain); err != nil {
			t.Fatal(err)
		}
		for _, ref := range regexp.MustCompile(`"\$ref": *"([^"]*)"`).FindAllSubmatch(text, -1) {
			if to, ok := strings.CutPrefix(string(ref[1]), "#/$defs/"); !ok || plain.Defs[to] == nil {
				t.Errorf("%s has no %s", name, ref[1])
			}
		}
		if _, err := jsonschema.Parse(text); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestUnknownKeyword: a keyword that is not held to is refused, wherever it stands.
func TestUnknownKeyword(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		`{"multipleOf": 2}`, `{"properties": {"a": {"format": "date"}}}`, `{"additionalProperties": {"items": {"contains": {}}}}`,
		`{"properties": {"a": false}}`, `{"type": 1}`, `{"minLength": "1"}`,
	} {
		if _, err := jsonschema.Parse([]byte(text)); err == nil {
			t.Errorf("%s is taken", text)
		}
	}
}
