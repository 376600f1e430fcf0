package review

import (
	"encoding/json"
	"slices"
	"testing"
)

// Whatever the bytes, the outcome is a verdict with all it must have, or an error.
func FuzzParseVerdict(f *testing.F) {
	for _, finding := range Findings {
		v := fixtureVerdict(5, finding)
		v.Schema = verdictSchema
		text, err := json.Marshal(v)
		if err != nil {
			f.Fatal(err)
		}
		if _, err := parseVerdict(text, event); err != nil {
			f.Fatalf("a sound verdict is refused: %v", err)
		}
		f.Add(text)
	}
	f.Add([]byte(`{"schema": "downlock verdict 1", "verdict": "false"}`))
	f.Add([]byte("[[[[[[[[{"))
	f.Fuzz(func(t *testing.T, text []byte) {
		v, err := parseVerdict(text, event)
		if err != nil {
			return
		}
		if v.Event != event || v.By == "" || v.At.IsZero() || !slices.Contains(Findings, v.Finding) || v.Finding == False && v.Cause == "" {
			t.Errorf("a verdict that lacks something: %+v", v)
		}
	})
}
