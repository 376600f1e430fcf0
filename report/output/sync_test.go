package output

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// madeStep is a step that was made.
type madeStep struct {
	what step
	path string
}

// keeps reports whether a file is there, whole and under its name, after a power cut that
// takes everything that was not synced: its bytes were synced before it got its place, its
// folder after that, and the folder above each that was made after it was made.
func keeps(steps []madeStep, base, place string) bool {
	at := func(what step, path string) int { return slices.Index(steps, madeStep{what, path}) }
	placed, synced, name := at(placeFile, place), -1, at(syncNames, filepath.Dir(place))
	for i, s := range steps {
		if s.what == syncData && strings.Contains(filepath.Base(s.path), filepath.Base(place)) {
			synced = i
		}
	}
	if synced < 0 || placed < synced || name < placed {
		return false
	}
	for folder := filepath.Dir(place); folder != base; folder = filepath.Dir(folder) {
		if at(syncNames, filepath.Dir(folder)) < at(makeFolder, filepath.Dir(place)) {
			return false
		}
	}
	return true
}

// TestSyncedFilesStay: a synced file, in a folder of which two levels are new, is there after
// a power cut, and would not be without any one of the syncs.
func TestSyncedFilesStay(t *testing.T) {
	t.Parallel()
	for name, write := range map[string]func(dir string, o Options, f File) error{
		"new":      WriteNew,
		"replaced": func(dir string, o Options, f File) error { return Write(dir, o, f) },
	} {
		base := t.TempDir()
		dir := filepath.Join(base, "reviews", "E0123456789ab")
		var steps []madeStep
		o := Options{Sync: true, step: func(what step, path string) error { steps = append(steps, madeStep{what, path}); return nil }}
		if err := write(dir, o, File{Name: "v.json", Data: []byte("verdict")}); err != nil {
			t.Fatal(err)
		}
		place := filepath.Join(dir, "v.json")
		if !keeps(steps, base, place) {
			t.Errorf("%s: may be lost: %v", name, steps)
		}
		syncs := 0
		for i, s := range steps {
			if s.what == syncData || s.what == syncNames {
				syncs++
				if keeps(slices.Delete(slices.Clone(steps), i, i+1), base, place) {
					t.Errorf("%s: nothing is worse without the %s of %s", name, s.what, s.path)
				}
			}
		}
		if syncs != 4 {
			t.Errorf("%s: %d syncs, not those of the file, its folder and the two above: %v", name, syncs, steps)
		}
	}
}

// TestDiskErrors: whatever step the disk refuses, the error names a place, the old file
// stays, and nothing is left behind.
func TestDiskErrors(t *testing.T) {
	t.Parallel()
	for _, fresh := range []bool{true, false} {
		for fails := 0; ; fails++ {
			base := t.TempDir()
			dir := filepath.Join(base, "a", "b")
			if !fresh {
				if err := os.MkdirAll(dir, 0o700); err != nil {
					t.Fatal(err)
				}
			}
			steps := 0
			o := Options{Sync: true, step: func(step, string) error {
				if steps++; steps == fails+1 {
					return syscall.EIO
				}
				return nil
			}}
			err := WriteNew(dir, o, File{Name: "v.json", Data: []byte("verdict")})
			if err == nil {
				if fails < 4 {
					t.Errorf("only %d steps", fails)
				}
				break
			}
			var failed *Error
			if !errors.As(err, &failed) || !errors.Is(err, syscall.EIO) || !strings.HasPrefix(failed.Path, base) {
				t.Errorf("step %d: %v", fails, err)
			}
			if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) > 0 {
				t.Errorf("step %d: %v is left", fails, left)
			}
			if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
				t.Errorf("step %d: %v is left", fails, left)
			}
		}
	}
}
