package schemas

import (
	"bytes"
	"embed"
	"fmt"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

//go:embed *.schema.json
var schemaFiles embed.FS

// Schema names, as files in this folder.
const (
	ProfileSchema  = "profile.schema.json"
	FleetSchema    = "fleet.schema.json"
	RulePackSchema = "rules.schema.json"
	ReportSchema   = "report.schema.json"
	IndexSchema    = "index.schema.json"
	InspectSchema  = "inspect.schema.json"
	VerdictSchema  = "verdict.schema.json"
	ActionSchema   = "action.schema.json"
	BatchSchema    = "batch.schema.json"
	VerifySchema   = "verify.schema.json"

	IndicatorsSchema = "indicators.schema.json"
	TrendSchema      = "trend.schema.json"
	TrendTableSchema = "trend-table.schema.json"
)

var (
	compiledMutex sync.Mutex
	compiled      = map[string]*jsonschema.Schema{}
)

// CompiledSchema returns one of the shipped JSON Schemas. It compiles each only once.
func CompiledSchema(name string) (*jsonschema.Schema, error) {
	compiledMutex.Lock()
	defer compiledMutex.Unlock()
	if s, ok := compiled[name]; ok {
		return s, nil
	}
	text, err := schemaFiles.ReadFile(name)
	if err != nil {
		return nil, err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name, doc); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	s, err := c.Compile(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	compiled[name] = s
	return s, nil
}
