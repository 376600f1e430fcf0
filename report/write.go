package report

import (
	"os"
	"path/filepath"
)

// file is one finished output.
type file struct {
	name string
	data []byte
}

// writeFiles puts the files into dir, which is made when missing: all of them
// under temporary names first, then renamed, so that a reader finds an old or a
// new file, never half a one. When one cannot be written none is replaced and
// nothing is left behind.
func writeFiles(dir string, sync bool, files ...file) error {
	made := missingFolders(dir)
	temporary := make([]string, 0, len(files))
	err := os.MkdirAll(dir, 0o777)
	if err != nil {
		err = &OutputError{dir, err}
	}
	for _, f := range files {
		if err != nil {
			break
		}
		var name string
		if name, err = writeTemporary(dir, sync, f); name != "" {
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
func writeTemporary(dir string, sync bool, f file) (name string, err error) {
	t, err := os.CreateTemp(dir, "."+f.name+"-*")
	if err != nil {
		return "", &OutputError{filepath.Join(dir, f.name), err}
	}
	_, err = t.Write(f.data)
	if err == nil {
		err = t.Chmod(0o644) // CreateTemp's 0600 would hide reports from colleagues
	}
	if err == nil && sync {
		err = t.Sync()
	}
	if closing := t.Close(); err == nil {
		err = closing
	}
	if err != nil {
		err = &OutputError{filepath.Join(dir, f.name), err}
	}
	return t.Name(), err
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
