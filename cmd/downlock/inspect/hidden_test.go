package inspect

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/schemas"
)

// hiddenColumn is the name of a column, in which hide and forge: a control character of
// either set, a turned end, one of no width and one beyond 16 bits.
const hiddenColumn = "airspeed\u009b\u202e\u200b\U000e0041"

// hiddenExport writes an export with such a column and such states, in a file whose
// name would be a line of its own.
func hiddenExport(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "time,%s,lever\u2066,other\u200f\n", hiddenColumn)
	for i := range 400 {
		fmt.Fprintf(&b, "%d,%d,%s,%s\n", i, min(i, 250), []string{"UP\u202e", "DN\u0085"}[i/200], []string{"a\u200b", "b"}[i%2])
	}
	path := filepath.Join(t.TempDir(), "f\nother.csv: wide CSV, 1 byte\u202e, 1 column\u009b.csv")
	if err := os.WriteFile(path, []byte(b.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestHiddenCharacters: what inspect writes shows all its characters, in every form, and
// JSON and draft still have the texts as they stand in the file.
func TestHiddenCharacters(t *testing.T) {
	t.Parallel()
	path := hiddenExport(t)
	inspected := func(args ...string) string {
		t.Helper()
		var stdout, stderr bytes.Buffer
		if code := Command(append(args, path), &stdout, &stderr); code != 0 {
			t.Fatalf("%v: exit code %d: %s", args, code, &stderr)
		}
		for line := range strings.Lines(stdout.String()) {
			if i := strings.IndexFunc(strings.TrimSuffix(line, "\n"), schemas.Hidden); i >= 0 {
				t.Errorf("%v: %q", args, line)
			}
			if strings.HasPrefix(line, "other.csv") {
				t.Errorf("%v: a forged line: %q", args, line)
			}
		}
		return stdout.String()
	}
	if text := inspected(); !strings.Contains(text, "airspeed\ufffd\ufffd\ufffd\ufffd") || !strings.Contains(text, "UP\ufffd (200)") {
		t.Errorf("the text is\n%s", text)
	}
	var doc inspectDocument
	if err := json.Unmarshal([]byte(inspected("--json")), &doc); err != nil {
		t.Fatal(err)
	}
	found := doc.Files[0]
	names := []string{}
	for _, c := range found.Survey.Columns {
		names = append(names, c.Name)
	}
	if want := []string{hiddenColumn, "lever\u2066", "other\u200f"}; found.Path != path || !slices.Equal(names, want) {
		t.Errorf("JSON has %q with the columns %q, want %q", found.Path, names, want)
	}
	profile, err := schemas.ParseProfile("draft.yaml", []byte(inspected("--suggest")))
	if err != nil {
		t.Fatal(err)
	}
	if sources := profile.Columns["computed_airspeed"]; len(sources) != 1 || sources[0].Column != hiddenColumn {
		t.Errorf("the draft maps %+v", sources)
	}
	profilePath := filepath.Join(t.TempDir(), "p.yaml")
	if err := os.WriteFile(profilePath, schemas.ShippedProfileText(), 0o666); err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(schemas.ShippedProfileText()), "column: airspeed,", fmt.Sprintf("column: %q,", hiddenColumn), 1)
	if err := os.WriteFile(profilePath, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	inspected("--profile", profilePath)
}
