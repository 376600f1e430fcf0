package output

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// TestNothingIsOverwritten: WriteNew returns an error for a name in use and keeps its
// file.
func TestNothingIsOverwritten(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	place := filepath.Join(dir, "v.json")
	os.WriteFile(place, []byte("mine"), 0o600)
	err := WriteNew(dir, Options{}, File{Name: "v.json", Data: []byte("yours")})
	var failed *Error
	if !errors.Is(err, os.ErrExist) || !errors.As(err, &failed) || failed.Path != place {
		t.Errorf("got %v", err)
	}
	if text, _ := os.ReadFile(place); string(text) != "mine" {
		t.Errorf("it holds %q", text)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%v is left", left)
	}
}

// TestOneFailsNoneIsReplaced: the second file fails after the first is complete.
func TestOneFailsNoneIsReplaced(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	os.WriteFile(filepath.Join(dir, "a"), []byte("old"), 0o600)
	broken := errors.New("broken")
	err := Write(dir, Options{Sync: true}, File{Name: "a", Data: []byte("new")},
		File{Name: "b", More: func(io.Writer) error { return broken }})
	if !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	if text, _ := os.ReadFile(filepath.Join(dir, "a")); string(text) != "old" {
		t.Errorf("a holds %q", text)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%v is left", left)
	}
}

// TestModes: files are private, or readable where a mode is asked for, whatever the
// umask is.
func TestModes(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, c := range map[string]struct {
		o    Options
		want os.FileMode
	}{"private": {Options{}, 0o600}, "exact": {Options{Mode: 0o646}, 0o646}} {
		if err := Write(dir, c.o, File{Name: name}); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Mode() != c.want {
			t.Errorf("%s: %v, %v", name, info.Mode(), err)
		}
	}
}

func TestLeftover(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]bool{
		".a.csv-0123456789abcdef": true, ".a.csv-0123456789abcde": false, ".a.csv-0123456789abcdeF": false,
		".b.csv-0123456789abcdef": false, "a.csv-0123456789abcdef": false, ".a.csv-": false,
	} {
		if got := Leftover(name, "a.csv", "c.csv"); got != want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
