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

// OrdinaryOperation is something that happens every week, how the rules are held to
// it, and what comes of that.
type OrdinaryOperation struct {
	Operation string
	Scenario  string       // title of the simulator's row that flies it
	Cases     []string     // "FILE: NAME" of cases worked out by hand
	Faults    []KnownFault // what is not right yet
}

// KnownFault is part of the line in which the tests say that something is not right,
// and the reason.
type KnownFault struct{ Fault, Why string }

//go:embed coverage.yaml
var coverageYAML []byte

// coverageText is read once; the file is compiled in, and a test reads it first, so
// an error here is a broken build.
var coverageText = sync.OnceValue(func() (text struct {
	Guidance   []GuidanceExample
	Operations []OrdinaryOperation
}) {
	if err := yaml.UnmarshalWithOptions(coverageYAML, &text, yaml.DisallowUnknownField()); err != nil {
		panic(fmt.Sprintf("detect: coverage.yaml: %v", err))
	}
	return text
})

// Guidance lists the example events of the guidance, configuration events only.
// The caller must not change it.
func Guidance() []GuidanceExample { return coverageText().Guidance }

// OrdinaryOperations lists the ordinary operations in the order of their numbers, from 1.
// The caller must not change it.
func OrdinaryOperations() []OrdinaryOperation { return coverageText().Operations }
