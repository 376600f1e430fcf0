package output

import (
	"os"
	"path/filepath"
	"strings"
	"time"
)

// randomBytes is the length of the random part of a temporary file's name; two hex
// digits show a byte.
const randomBytes = 8

// temporaryLife is longer than any run keeps a temporary file.
const temporaryLife = time.Hour

// Leftover reports whether a name is that of a temporary file of one of the files. A
// killed run leaves such files.
func Leftover(name string, files ...string) bool {
	for _, file := range files {
		random, ok := strings.CutPrefix(name, "."+file+"-")
		if ok && len(random) == 2*randomBytes && strings.Trim(random, "0123456789abcdef") == "" {
			return true
		}
	}
	return false
}

// removeLeftovers removes the temporary files of these files that killed runs left in
// a folder. One that cannot be removed does no harm.
func removeLeftovers(dir string, files []File) {
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = f.Name
	}
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if !Leftover(e.Name(), names...) || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > temporaryLife {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}
