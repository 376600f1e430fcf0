package schemas

import (
	"strings"
	"testing"
)

// A pair that makes no sense is told with its place.
func TestPairMistakes(t *testing.T) {
	t.Parallel()
	const head = "schema: downlock profile 1\naircraft: T\ntitle: test\nlegs: [nose, left, right]\nengines: 2\ntime: {column: time}\ncolumns:\n"
	for source, want := range map[string]string{
		"pitch_attitude: {column: A, unit: deg, odd_with: B}":                "8:",
		"gear_horn: {column: A, odd_with: B, even_with: C, true_when: 1}":    "odd_with and even_with are both given",
		"gear_horn: {column: A, odd_with: ' A ', true_when: 1}":              `column "A" is paired with itself`,
		"gear_horn: {column: A, odd_with: B, true_above: 1, false_below: 0}": "a pair has two columns with words for true and false",
	} {
		_, err := ParseProfile("p.yaml", []byte(head+"  "+source+"\n"))
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "p.yaml:8:") {
			t.Errorf("%s: %v, want %q", source, err, want)
		}
	}
}
