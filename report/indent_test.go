package report

import (
	"bytes"
	"encoding/json"
	"testing"
)

// TestIndented holds the lines against those of encoding/json.
func TestIndented(t *testing.T) {
	t.Parallel()
	for _, value := range []any{
		nil, -1.5e-9, "", `a"b\`, `\"{[,:]}`, hostile, []any{}, map[string]any{}, []any{[]any{}, map[string]any{"": []any{map[string]any{}}}},
		map[string]any{`"`: []any{1, "x,y", nil, true}, "\\": map[string]any{"z": "{}"}},
		newDocument(fixtureRun(t), fixtureResult(t)),
	} {
		data, err := json.Marshal(value)
		if err != nil {
			t.Fatal(err)
		}
		var want bytes.Buffer
		if err := json.Indent(&want, data, "", " "); err != nil {
			t.Fatal(err)
		}
		if got := indented(data); !bytes.Equal(got, want.Bytes()) {
			t.Errorf("%s is set as\n%s\nwant\n%s", data, got, want.Bytes())
		}
	}
}
