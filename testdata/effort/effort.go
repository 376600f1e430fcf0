// Package effort says how much work the tests may make of what can be done at every place or
// with any number of seeds.
package effort

import (
	"os"
	"testing"
)

// Variable asks for the whole of it when it is set to 1, as .ci/run does.
const Variable = "DOWNLOCK_LONG"

// Of returns short in short runs, whole where Variable asks for the long ones, and
// usual otherwise: a count, or the stride through all places.
func Of(short, usual, whole int) int {
	switch {
	case os.Getenv(Variable) == "1":
		return whole
	case testing.Short():
		return short
	}
	return usual
}
