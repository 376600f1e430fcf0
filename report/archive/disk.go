package archive

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"downlock/report/output"
	"downlock/schemas"
)

// disk is every change the archive makes to files. It is a seam: tests put one
// in its place that is full, or that dies, after so many changes.
type disk interface {
	// create makes a file, and the folders above it; an older file there is lost.
	create(path string) (outFile, error)
	// folder makes a folder, and those above it, where it is missing.
	folder(path string) error
	// rename puts a file in its place, making the folders above it.
	rename(from, to string) error
	// remove takes away a file or a folder with all in it; none is no error.
	remove(path string) error
	// syncFile has the bytes of a file on disk that was closed already.
	syncFile(path string) error
	// syncFolder has the names in a folder on disk.
	syncFolder(path string) error
}

type outFile interface {
	io.WriteCloser
	Sync() error
}

// realDisk makes files that are their writer's alone unless they are to be shared.
type realDisk struct{ share bool }

func (d realDisk) create(path string) (outFile, error) {
	create := func() (*os.File, error) {
		return os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_TRUNC, output.FileMode(d.share))
	}
	f, err := create()
	if errors.Is(err, fs.ErrNotExist) {
		if err = d.folder(filepath.Dir(path)); err == nil {
			f, err = create()
		}
	}
	if err != nil {
		return nil, err // not f: a nil *os.File in an interface is not nil
	}
	return f, nil
}

func (d realDisk) folder(path string) error { return os.MkdirAll(path, output.FolderMode(d.share)) }

func (d realDisk) rename(from, to string) error {
	err := os.Rename(from, to)
	if errors.Is(err, fs.ErrNotExist) {
		if err = d.folder(filepath.Dir(to)); err == nil {
			err = os.Rename(from, to)
		}
	}
	return err
}

func (realDisk) remove(path string) error { return os.RemoveAll(path) }

func (realDisk) syncFile(path string) error { return output.SyncPath(path) }

func (realDisk) syncFolder(path string) error { return output.SyncPath(path) }

// writeFile writes a whole file by a function; a file it could not finish is
// removed. The error is an OutputError of the place, unless write's own is of
// another file.
func writeFile(d disk, path, place string, sync bool, write func(io.Writer) error) error {
	f, err := d.create(path)
	if err != nil {
		return &output.Error{Path: place, Err: err}
	}
	err = write(f)
	if err == nil && sync {
		err = f.Sync()
	}
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		d.remove(path)
		return outputError(place, err)
	}
	return nil
}

// outputError makes an error one of writing the place, unless it is the user's
// to mend elsewhere already.
func outputError(place string, err error) error {
	var problem *schemas.Problem
	var locked *LockedError
	var lost *LockLostError
	var failed *output.Error
	if err == nil || errors.As(err, &problem) || errors.As(err, &locked) || errors.As(err, &lost) || errors.As(err, &failed) {
		return err
	}
	return &output.Error{Path: place, Err: err}
}
