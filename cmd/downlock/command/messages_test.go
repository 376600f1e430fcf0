package command

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"strings"
	"testing"

	"downlock/report/output"
	"downlock/schemas"
)

// forged is the name of a file that would look like a message of its own, in green, with
// the end turned round.
const forged = "a.csv\ndownlock: error: \x1b[32mall\u202e is \u200bwell\u0085\u009b"

// TestForgedMessages: whatever kind of error names the file, a message begins no line but
// its own, and all characters of it show.
func TestForgedMessages(t *testing.T) {
	t.Parallel()
	one := &schemas.Problem{File: forged, Line: 3, Column: 2, Cause: forged, Hint: forged, Source: "x\ty\u202e"}
	for name, say := range map[string]func(Messages){
		"error":     func(m Messages) { m.Error(forged) },
		"warning":   func(m Messages) { m.Warning(forged) },
		"note":      func(m Messages) { m.Note(forged) },
		"hint":      func(m Messages) { m.Hint(forged) },
		"problem":   func(m Messages) { m.Failure(one) },
		"problems":  func(m Messages) { m.Failure(schemas.Problems{one, one}) },
		"doubt":     func(m Messages) { m.Doubt(one) },
		"output":    func(m Messages) { m.Failure(&output.Error{Path: forged, Err: errors.New(forged)}) },
		"path":      func(m Messages) { m.Failure(&fs.PathError{Op: "open", Path: forged, Err: errors.New("gone")}) },
		"any other": func(m Messages) { m.Failure(errors.New(forged)) },
	} {
		var text bytes.Buffer
		say(Messages{&text})
		lines := strings.Split(strings.TrimSuffix(text.String(), "\n"), "\n")
		begun := 0
		for _, line := range lines {
			for _, r := range line {
				if schemas.Hidden(r) {
					t.Errorf("%s: %q holds %U", name, line, r)
				}
			}
			if strings.HasPrefix(line, "downlock: ") {
				begun++
			} else if !strings.HasPrefix(line, "  ") {
				t.Errorf("%s: a line of its own: %q", name, line)
			}
		}
		want := map[string]int{"hint": 0, "problems": 2}
		if n, other := want[name]; begun != n && other || begun != 1 && !other {
			t.Errorf("%s: %d messages: %q", name, begun, lines)
		}

		var log bytes.Buffer
		say(Messages{LogTo(&log, LogJSON)})
		for line := range strings.Lines(log.String()) {
			var entry map[string]any
			if err := json.Unmarshal([]byte(line), &entry); err != nil {
				t.Errorf("%s: %v: %q", name, err, line)
			}
			for key, value := range entry {
				if text, ok := value.(string); ok && strings.ContainsFunc(text, schemas.Hidden) {
					t.Errorf("%s: %s of the log is %q", name, key, text)
				}
			}
		}
	}
	var text bytes.Buffer
	Messages{&text}.Problem(&schemas.Problem{File: "f", Line: 1, Column: 3, Cause: "c", Source: "x\ty"})
	if want := "downlock: error: f:1:3: c\n    x y\n      ^\n"; text.String() != want {
		t.Errorf("the source is shown as %q, want %q", &text, want)
	}
}
