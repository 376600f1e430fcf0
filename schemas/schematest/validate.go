// Package schematest holds JSON documents against the shipped schemas with a full
// implementation of JSON Schema, for tests. The command is built without it.
package schematest

import (
	"bytes"
	"errors"
	"fmt"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"downlock/schemas"
)

var (
	mutex    sync.Mutex
	compiled = map[string]*jsonschema.Schema{}
)

// Validate holds a JSON document against the shipped schema of a name.
func Validate(name string, document []byte) error {
	schema, err := Compile(name)
	if err != nil {
		return err
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(document))
	if err != nil {
		return err
	}
	return schema.Validate(value)
}

// Compile compiles a shipped schema, once.
func Compile(name string) (*jsonschema.Schema, error) {
	mutex.Lock()
	defer mutex.Unlock()
	if s, ok := compiled[name]; ok {
		return s, nil
	}
	text, err := schemas.SchemaText(name)
	if err != nil {
		return nil, err
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	c := jsonschema.NewCompiler()
	if err := errors.Join(err, c.AddResource(name, value)); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	s, err := c.Compile(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	compiled[name] = s
	return s, nil
}
