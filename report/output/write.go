// Package output writes files as a whole or not at all. It sets the modes and errors
// that all output shares.
//
// A rename or a link puts a file in its place once its content is complete. A reader
// therefore finds the old file, the new file or none, never half a file.
//
// With Options.Sync the content is synced before the file gets its place. The folder is
// not synced. After a power cut a synced file is whole or missing; a file that was not
// synced may also be empty. Reports are not synced, because a rerun writes them again.
// A verdict of an analyst is synced, because nobody can make it again.
package output

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Options say how files are written.
type Options struct {
	Sync  bool // the content is on disk before the file gets its place
	Share bool // others may read it as the umask says; otherwise it is private
	// Mode is the mode of the files, whatever the umask is, for a reader of another
	// account; 0: the mode Share asks for.
	Mode fs.FileMode
}

// File is one finished file. More writes the part after Data that is too large for
// memory; nil where nothing follows.
type File struct {
	Name string // without a folder
	Data []byte
	More func(io.Writer) error
}

// Write puts the files into dir and replaces files of the same names. It makes dir
// where it does not exist. All files are complete under temporary names before the
// first one gets its place. When one cannot be completed, none is replaced and
// nothing is left behind. The error is an Error with the file's place, unless More
// returns an error of its own.
func Write(dir string, o Options, files ...File) error {
	made := MissingFolders(dir)
	var temporary []string
	err := os.MkdirAll(dir, FolderMode(o.Share))
	if err != nil {
		err = &Error{dir, err}
	} else {
		if len(made) == 0 {
			removeLeftovers(dir, files)
		}
		temporary, err = writeAll(dir, o, files)
	}
	for i, f := range files {
		if err != nil {
			break
		}
		if err = os.Rename(temporary[i], filepath.Join(dir, f.Name)); err != nil {
			err = &Error{filepath.Join(dir, f.Name), err}
		}
	}
	if err != nil {
		for _, name := range temporary {
			os.Remove(name)
		}
		for _, folder := range made {
			os.Remove(folder) // keeps a folder that is not empty
		}
	}
	return err
}

// WriteNew puts a file into dir under a name that must be free. It makes dir where it
// does not exist. It makes a link, which never overwrites a file of another process.
// On a disk without links it renames the file, so the name must be one that nobody
// else chooses. The error is an Error.
func WriteNew(dir string, o Options, f File) error {
	if err := os.MkdirAll(dir, FolderMode(o.Share)); err != nil {
		return &Error{dir, err}
	}
	temporary, err := writeTemporary(dir, o, f)
	if temporary != "" {
		defer os.Remove(temporary)
	}
	if err != nil {
		return err
	}
	place := filepath.Join(dir, f.Name)
	if err = os.Link(temporary, place); err != nil && !errors.Is(err, fs.ErrExist) {
		err = os.Rename(temporary, place)
	}
	if err != nil {
		return &Error{place, err}
	}
	return nil
}

// writeAll writes the files under temporary names. It returns the names even with an
// error, so that the caller can remove the files.
func writeAll(dir string, o Options, files []File) (temporary []string, err error) {
	for _, f := range files {
		name, err := writeTemporary(dir, o, f)
		if name != "" {
			temporary = append(temporary, name)
		}
		if err != nil {
			return temporary, err
		}
	}
	return temporary, nil
}

// writeTemporary writes a file under a name of its own beside its place, since a
// rename cannot cross disks. It returns the name even with an error, so that the
// caller can remove the file.
func writeTemporary(dir string, o Options, f File) (name string, err error) {
	t, err := newTemporary(dir, f.Name, FileMode(o.Share))
	if err != nil {
		return "", &Error{filepath.Join(dir, f.Name), err}
	}
	if o.Mode != 0 {
		err = t.Chmod(o.Mode)
	}
	if err == nil {
		_, err = t.Write(f.Data)
	}
	if err == nil && f.More != nil {
		err = f.More(t)
	}
	if err == nil && o.Sync {
		err = t.Sync()
	}
	if closing := t.Close(); err == nil {
		err = closing
	}
	var output *Error
	if err != nil && !errors.As(err, &output) {
		err = &Error{filepath.Join(dir, f.Name), err}
	}
	return t.Name(), err
}

// newTemporary does the work of os.CreateTemp with a mode, which the umask may
// restrict.
func newTemporary(dir, name string, mode fs.FileMode) (*os.File, error) {
	for {
		var random [randomBytes]byte
		rand.Read(random[:]) // never fails according to its documentation
		t, err := os.OpenFile(filepath.Join(dir, "."+name+"-"+hex.EncodeToString(random[:])), os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if !errors.Is(err, fs.ErrExist) {
			return t, err
		}
	}
}

// MissingFolders lists dir and the folders above it that do not exist yet,
// deepest first.
func MissingFolders(dir string) []string {
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
