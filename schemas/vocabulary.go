package schemas

import (
	_ "embed"
	"fmt"
	"sync"

	"github.com/goccy/go-yaml"
)

// Kind says what kind of values a parameter has and how to read between samples.
type Kind string

const (
	Continuous Kind = "continuous" // a number, linear between samples
	Step       Kind = "step"       // a number, held from sample to sample
	State      Kind = "state"      // one of the parameter's States, held
	Discrete   Kind = "discrete"   // true or false, held
)

// Parameter is one canonical parameter.
type Parameter struct {
	Name    string
	Kind    Kind
	Unit    string     // of a continuous or step parameter
	Range   [2]float64 // plausible values, in Unit
	MaxRate float64    `yaml:"max_rate"` // Unit per second; 0: no known limit
	States  []string   // of a state parameter; a value is an index into it
	// LongestInterval is the longest sampling interval in seconds that 14 CFR part
	// 121 appendix M allows; 0 where it has no row. Read is true where that row was
	// read in the published text, false where it is from memory.
	LongestInterval float64 `yaml:"longest_interval"`
	Read            bool
	Meaning         string
}

// Numeric reports whether the values are numbers with a unit.
func (p Parameter) Numeric() bool { return p.Kind == Continuous || p.Kind == Step }

// Value is a named limit, height or time a profile may give. Default applies where
// the profile gives none; 0: no default. Limit marks those that a profile may also
// give as a table over a parameter, under limits.
type Value struct {
	Name, Unit, Meaning string
	Default             float64
	Limit               bool
}

// Table is a named table of points a profile may give. From and To are its units.
type Table struct{ Name, From, To, Meaning string }

// Criterion is a named condition a profile may give. Default, in the rule language,
// applies where the profile gives none; "": no default. A lenient criterion stays
// evaluable without the parameters it does not find recorded: they only leave it
// open.
type Criterion struct {
	Name, Meaning, Default string
	Lenient                bool
}

//go:embed parameters.yaml
var parametersYAML []byte

//go:embed parameters.prepared
var preparedParameters string // prepared

type vocabulary struct {
	Parameters []Parameter
	Values     []Value
	Tables     []Table
	Criteria   []Criterion
	Renamed    map[string]string // from names of earlier versions to the present ones
	byName     map[string]int
}

// words is read once. The file is compiled in and a test reads it first, so an error
// here is a broken build.
var words = sync.OnceValue(func() *vocabulary {
	v := new(vocabulary)
	if !ReadPrepared(parametersYAML, preparedParameters, v) {
		var err error
		if v, err = readParameters(); err != nil {
			panic(fmt.Sprintf("schemas: parameters.yaml: %v", err))
		}
	}
	v.byName = make(map[string]int, len(v.Parameters))
	for i, p := range v.Parameters {
		v.byName[p.Name] = i
	}
	return v
})

func readParameters() (*vocabulary, error) {
	v := new(vocabulary)
	return v, yaml.UnmarshalWithOptions(parametersYAML, v, yaml.DisallowUnknownField())
}

// Parameters lists the canonical parameters in their documented order. The caller
// must not change the list.
func Parameters() []Parameter { return words().Parameters }

// LookupParameter finds a parameter by its name, present or old.
func LookupParameter(name string) (Parameter, bool) {
	i, ok := words().byName[NameNow(name)]
	if !ok {
		return Parameter{}, false
	}
	return words().Parameters[i], true
}

// Values lists the named values a profile may give.
func Values() []Value { return words().Values }

// DefaultOf returns the default of a named value that a profile does not give.
func DefaultOf(value string) (number float64, unit string, ok bool) {
	for _, v := range Values() {
		if v.Name == value && v.Default != 0 {
			return v.Default, v.Unit, true
		}
	}
	return 0, "", false
}

// Tables lists the named tables a profile may give.
func Tables() []Table { return words().Tables }

// Criteria lists the named criteria a profile may give; one may use those before it.
func Criteria() []Criterion { return words().Criteria }
