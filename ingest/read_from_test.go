package ingest

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"downlock/schemas"
)

// endless repeats a text for ever; with a limit, it fails the test that reads much more.
type endless struct {
	t     *testing.T
	text  string
	left  string
	given int64
	most  int64
}

func (e *endless) Read(p []byte) (int, error) {
	if e.left == "" {
		e.left = e.text
	}
	n := copy(p, e.left)
	e.left = e.left[n:]
	if e.given += int64(n); e.given > e.most {
		e.t.Errorf("%d bytes are read", e.given)
		return 0, errors.New("too many")
	}
	return n, nil
}

// TestReadFromEndless: an input without an end is given up at the limit, also where only
// bytes that nobody needs come any more: rows of a text without a column that is mapped, and
// zeros after a zstd frame.
func TestReadFromEndless(t *testing.T) {
	const limit = 1 << 20
	profile := profileOf(t, "column: time", "  computed_airspeed: {column: speed, unit: kt}\n")
	for _, head := range []string{"time,speed\n", "time,other\n"} {
		in := io.MultiReader(strings.NewReader(head), &endless{t: t, text: "1,2\n", most: limit + 4*blocksAhead*blockBytes})
		_, err := Limits{MaxBytes: limit}.ReadFrom("stdin", in, profile)
		var problem *schemas.Problem
		if !errors.As(err, &problem) || !strings.Contains(problem.Cause, "has more than 1048576 bytes") || problem.File != "stdin" {
			t.Errorf("%q: %v", head, err)
		}
	}
}

// TestReadFromSilent: a writer who neither writes on nor closes the pipe does not keep the run
// from saying that the beginning is no export.
func TestReadFromSilent(t *testing.T) {
	out, in := io.Pipe()
	defer in.Close()
	go in.Write(bytes.Repeat([]byte("\x89PNG\r\n\x1a\n"), 2*blockBytes/8))
	_, err := Limits{}.ReadFrom("stdin", out, profileOf(t, "column: time", "  computed_airspeed: {column: speed, unit: kt}\n"))
	if err == nil || !strings.Contains(err.Error(), "stdin") {
		t.Errorf("the error is %v", err)
	}
}
