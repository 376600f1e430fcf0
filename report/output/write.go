// Package output writes files as a whole or not at all. It sets the modes and errors
// that all output shares.
//
// A rename or a link puts a file in its place once its content is complete. A reader
// therefore finds the old file, the new file or none, never half a file.
//
// With Options.Sync the content is synced before the file gets its place, and after that
// the folder, and those above it that were made. A file that was written so is there after
// a power cut. A file that was not synced may be missing or empty. Reports are not synced,
// because a rerun writes them again. A verdict of an analyst is synced, because nobody can
// make it again.
package output

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// Options say how files are written.
type Options struct {
	Sync  bool // the file is on disk, under its name, when the call returns
	Share bool // others may read it as the umask says; otherwise it is private
	// Mode is the mode of the files, whatever the umask is, for a reader of another
	// account; 0: the mode Share asks for.
	Mode fs.FileMode

	// step is told of every change to the disk before it is made, by tests, which may have it
	// fail. nil for none.
	step func(what step, path string) error
}

// step is a change to the disk.
type step string

const (
	makeFolder step = "make folder"
	writeData  step = "write"
	syncData   step = "sync file"
	placeFile  step = "place"
	syncNames  step = "sync folder"
)

// tell asks the test, where there is one, whether a step can be made.
func (o Options) tell(what step, path string) error {
	if o.step == nil {
		return nil
	}
	return o.step(what, path)
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
	var temporary []string
	made, err := makeFolders(dir, o)
	if err == nil {
		if len(made) == 0 {
			removeLeftovers(dir, files)
		}
		temporary, err = writeAll(dir, o, files)
	}
	for i, f := range files {
		if err != nil {
			break
		}
		place := filepath.Join(dir, f.Name)
		if err = o.tell(placeFile, place); err == nil {
			err = os.Rename(temporary[i], place)
		}
		if err != nil {
			err = &Error{place, err}
		}
	}
	if err == nil {
		err = syncFolders(dir, made, o)
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
	made, err := makeFolders(dir, o)
	if err != nil {
		return err
	}
	temporary, err := writeTemporary(dir, o, f)
	if temporary != "" {
		defer os.Remove(temporary)
	}
	if err != nil {
		return err
	}
	place := filepath.Join(dir, f.Name)
	if err = o.tell(placeFile, place); err == nil {
		if err = os.Link(temporary, place); err != nil && !errors.Is(err, fs.ErrExist) {
			err = os.Rename(temporary, place)
		}
	}
	if err != nil {
		return &Error{place, err}
	}
	if err = syncFolders(dir, made, o); err != nil {
		os.Remove(place) // the caller reports that it is not there
	}
	return err
}

// makeFolders makes a folder and those above it, and lists those that were missing,
// deepest first. The error is an Error.
func makeFolders(dir string, o Options) (made []string, err error) {
	made = MissingFolders(dir)
	if len(made) > 0 {
		err = o.tell(makeFolder, dir)
	}
	if err == nil {
		err = os.MkdirAll(dir, FolderMode(o.Share))
	}
	if err != nil {
		return made, &Error{dir, err}
	}
	return made, nil
}

// syncFolders has the names of new files in a folder on disk, and those of the folders
// that were made, where the options ask for it. The error is an Error.
func syncFolders(dir string, made []string, o Options) error {
	if !o.Sync {
		return nil
	}
	folders := []string{dir}
	for _, folder := range made {
		folders = append(folders, filepath.Dir(folder))
	}
	for _, folder := range folders {
		err := o.tell(syncNames, folder)
		if err == nil {
			err = SyncPath(folder)
		}
		if err != nil {
			return &Error{folder, err}
		}
	}
	return nil
}

// SyncPath has the bytes of a file that was closed already, or the names in a folder, on
// disk.
func SyncPath(path string) error {
	access := os.O_RDONLY
	if runtime.GOOS == "windows" {
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			return nil // it syncs no folders; NTFS keeps names in its journal
		}
		access = os.O_RDWR // which FlushFileBuffers asks for
	}
	f, err := os.OpenFile(path, access, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	if closing := f.Close(); err == nil {
		err = closing
	}
	return err
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
		err = o.tell(writeData, t.Name())
	}
	if err == nil {
		_, err = t.Write(f.Data)
	}
	if err == nil && f.More != nil {
		err = f.More(t)
	}
	if err == nil && o.Sync {
		if err = o.tell(syncData, t.Name()); err == nil {
			err = t.Sync()
		}
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
