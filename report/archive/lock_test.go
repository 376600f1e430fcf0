package archive

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Two openings in one process hold two locks, as two processes would: flock is
// of the open file.
func TestLock(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "made", "archive")
	first, err := Open(dir, fixtureRun("1"), nil)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(dir, fixtureRun("1"), nil)
	var locked *LockedError
	if !errors.As(err, &locked) || !strings.Contains(err.Error(), "another run is using this archive (process ") || locked.Hint() == "" {
		t.Fatalf("the error is %v", err)
	}
	first.Close()
	again, err := Open(dir, fixtureRun("1"), nil)
	if err != nil {
		t.Fatal(err)
	}
	again.Close()
	if err := os.WriteFile(filepath.Join(dir, lockName), []byte("process 1 on nowhere"), 0o666); err != nil {
		t.Fatal(err)
	}
	stale, err := Open(dir, fixtureRun("1"), nil)
	if err != nil {
		t.Fatalf("a lock file nobody holds is in the way: %v", err)
	}
	stale.Close()
}
