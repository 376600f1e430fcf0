package schemas

import (
	"embed"
	"fmt"
	"sync"

	"downlock/schemas/jsonschema"
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
	parsedMutex sync.Mutex
	parsed      = map[string]*jsonschema.Schema{}
)

// Schema returns one of the shipped JSON Schemas. It parses each only once.
func Schema(name string) (*jsonschema.Schema, error) {
	parsedMutex.Lock()
	defer parsedMutex.Unlock()
	if s, ok := parsed[name]; ok {
		return s, nil
	}
	text, err := SchemaText(name)
	if err != nil {
		return nil, err
	}
	s, err := jsonschema.Parse(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	parsed[name] = s
	return s, nil
}

// SchemaText returns the text of one of the shipped JSON Schemas.
func SchemaText(name string) ([]byte, error) { return schemaFiles.ReadFile(name) }
