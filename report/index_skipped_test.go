package report

import (
	"strings"
	"testing"

	"downlock/schemas"
)

// A run that skipped inputs says so: its counts are not those of all inputs.
func TestIndexSaysWhatWasSkipped(t *testing.T) {
	t.Parallel()
	for skipped, want := range map[int]string{0: "", 1: "1 input skipped", 7: "7 inputs skipped"} {
		dir, run := t.TempDir(), fixtureRun(t)
		flights := fixtureEntries(t, dir, run)
		run.Skipped = skipped
		if err := WriteIndex(dir, run, flights, nil); err != nil {
			t.Fatal(err)
		}
		files := readAll(t, dir)
		if err := valid(t, schemas.IndexSchema, files["index.json"]); err != nil {
			t.Error(err)
		}
		page := string(files["index.html"])
		if says := strings.Contains(page, "skipped, unchanged"); says != (skipped > 0) || !strings.Contains(page, want) {
			t.Errorf("%d skipped: the page says it: %v", skipped, says)
		}
	}
}
