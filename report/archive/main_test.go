package archive

import (
	"os"
	"testing"
)

// TestMain puts the tests' archives into memory where the system has a folder
// there: the crash tests write thousands of files.
func TestMain(m *testing.M) {
	os.Exit(inMemory(m.Run))
}

func inMemory(run func() int) int {
	dir, err := os.MkdirTemp("/dev/shm", "archive-test-")
	if err == nil {
		defer os.RemoveAll(dir)
		os.Setenv("TMPDIR", dir)
	}
	return run()
}
