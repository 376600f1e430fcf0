package archive

import (
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
)

// TestLookAtChange: the file system's own record of the last change counts, the latest of several files.
func TestLookAtChange(t *testing.T) {
	t.Parallel()
	var changed []int64
	var files []string
	for _, name := range []string{"a", "b"} {
		path := filepath.Join(t.TempDir(), name)
		writeTestFile(t, path, "x")
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		at := info.Sys().(*syscall.Stat_t).Ctim
		changed, files = append(changed, at.Nano()), append(files, path)
	}
	for range 2 {
		if s, err := (Input{Files: files}).Look(); err != nil || s.Changed != slices.Max(changed) || s.Changed == 0 {
			t.Errorf("%+v, %v, want %v", s, err, changed)
		}
		slices.Reverse(files)
	}
}
