package report

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"time"
)

// file is one finished output; more writes what follows the data, where it is too
// much for memory.
type file struct {
	name string
	data []byte
	more func(io.Writer) error
}

// writeFiles puts the files into dir, which is made when missing: all of them
// under temporary names first, then renamed, so that a reader finds an old or a
// new file, never half a one. When one cannot be written none is replaced and
// nothing is left behind. What is made is private unless share is set.
func writeFiles(dir string, sync, share bool, files ...file) error {
	made := missingFolders(dir)
	temporary := make([]string, 0, len(files))
	err := os.MkdirAll(dir, FolderMode(share))
	if err != nil {
		err = &OutputError{dir, err}
	}
	if err == nil && len(made) == 0 {
		removeLeftovers(dir)
	}
	for _, f := range files {
		if err != nil {
			break
		}
		var name string
		if name, err = writeTemporary(dir, sync, share, f); name != "" {
			temporary = append(temporary, name)
		}
	}
	for i, f := range files {
		if err != nil {
			break
		}
		if err = os.Rename(temporary[i], filepath.Join(dir, f.name)); err != nil {
			err = &OutputError{filepath.Join(dir, f.name), err}
		}
	}
	if err != nil {
		for _, name := range temporary {
			os.Remove(name)
		}
		for _, folder := range made {
			os.Remove(folder) // keeps a folder that holds something
		}
	}
	return err
}

// writeTemporary writes a file under a name of its own beside its place, where
// a rename cannot cross disks. It gives the name even with an error, for the
// caller to remove.
func writeTemporary(dir string, sync, share bool, f file) (name string, err error) {
	t, err := newTemporary(dir, f.name, FileMode(share))
	if err != nil {
		return "", &OutputError{filepath.Join(dir, f.name), err}
	}
	_, err = t.Write(f.data)
	if err == nil && f.more != nil {
		err = f.more(t)
	}
	if err == nil && sync {
		err = t.Sync()
	}
	if closing := t.Close(); err == nil {
		err = closing
	}
	var output *OutputError
	if err != nil && !errors.As(err, &output) {
		err = &OutputError{filepath.Join(dir, f.name), err}
	}
	return t.Name(), err
}

// newTemporary is os.CreateTemp with a mode, which the umask makes stricter.
func newTemporary(dir, name string, mode fs.FileMode) (*os.File, error) {
	for {
		var random [8]byte
		rand.Read(random[:]) // never fails, says its documentation
		t, err := os.OpenFile(filepath.Join(dir, "."+name+"-"+hex.EncodeToString(random[:])), os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if !errors.Is(err, fs.ErrExist) {
			return t, err
		}
	}
}

// leftover is the name of a temporary file, which a killed run leaves.
var leftover = regexp.MustCompile(`^\.(report\.json|report\.html|index\.json|index\.html|events\.csv|measurements\.csv)-[0-9a-f]{16}$`)

// temporaryLife is longer than any run has a temporary file.
const temporaryLife = time.Hour

// removeLeftovers removes what killed runs left in a folder. One that cannot be
// removed does no harm.
func removeLeftovers(dir string) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if !leftover.MatchString(e.Name()) || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > temporaryLife {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

// missingFolders lists dir and the folders above it that do not exist yet,
// deepest first.
func missingFolders(dir string) []string {
	var missing []string
	for {
		if _, err := os.Lstat(dir); !os.IsNotExist(err) {
			return missing
		}
		missing = append(missing, dir)
		above := filepath.Dir(dir)
		if above == dir {
			return missing
		}
		dir = above
	}
}
