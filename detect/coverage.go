package detect

import (
	_ "embed"
	"fmt"
	"sync"

	"github.com/goccy/go-yaml"
)

// GuidanceExample is an example event of EASA GM2 ORO.AOC.130 that is a
// configuration event, and the rules of the built-in pack that find it.
type GuidanceExample struct {
	Example string   // in our words
	Source  string   // read, in the published text; or memory
	Rules   []string // ids; none where no rule can find it
	Note    string   // why no rule finds it, or what the rules leave out
}

//go:embed coverage.yaml
var coverageYAML []byte

// guidance is read once; the file is compiled in, and a test reads it first, so
// an error here is a broken build.
var guidance = sync.OnceValue(func() []GuidanceExample {
	var examples []GuidanceExample
	if err := yaml.UnmarshalWithOptions(coverageYAML, &examples, yaml.DisallowUnknownField()); err != nil {
		panic(fmt.Sprintf("detect: coverage.yaml: %v", err))
	}
	return examples
})

// Guidance lists the example events of the guidance, configuration events only.
// The caller must not change it.
func Guidance() []GuidanceExample { return guidance() }
