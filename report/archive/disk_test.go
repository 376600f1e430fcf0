package archive

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"testing"
)

// quickDisk is the real disk without waiting for it: a process that dies loses
// nothing by that, only a machine would.
type quickDisk struct{ realDisk }

type quickFile struct{ outFile }

func (quickFile) Sync() error { return nil }

func (d quickDisk) create(path string) (outFile, error) {
	f, err := d.realDisk.create(path)
	if err != nil {
		return nil, err
	}
	return quickFile{f}, nil
}

func (quickDisk) syncFile(string) error { return nil }

func (quickDisk) syncFolder(string) error { return nil }

// brittleDisk is the real disk until so many changes were made. From then on a
// dying one makes no change at all, as if the process were gone, a write in
// progress half done; a full one takes no data, and renames and removes; on a
// stuck one files can be written and removed, and none put in its place; a failing one
// refuses that one change, as a disk with a bad sector does, and goes on. Staged
// files come to it several at a time.
type brittleDisk struct {
	quickDisk
	mode  brittleMode
	spent sync.Mutex // of left
	left  int
}

type brittleMode int

const (
	dying brittleMode = iota
	full
	stuck
	failing
)

var (
	errDead  = errors.New("the process is gone")
	errFull  = errors.New("no space left on device")
	errStuck = errors.New("operation not permitted")
	errIO    = syscall.EIO
)

type change int

const (
	data change = iota
	name
	other
)

func (d *brittleDisk) spend(c change) error {
	d.spent.Lock()
	defer d.spent.Unlock()
	if d.left > 0 {
		d.left--
		return nil
	}
	switch {
	case d.mode == failing && d.left == 0:
		d.left--
		return errIO
	case d.mode == dying:
		return errDead
	case d.mode == full && c == data:
		return errFull
	case d.mode == stuck && c == name:
		return errStuck
	}
	return nil
}

func (d *brittleDisk) create(path string) (outFile, error) {
	if err := d.spend(data); err != nil {
		return nil, err
	}
	f, err := d.quickDisk.create(path)
	if err != nil {
		return nil, err
	}
	return brittleFile{f, d}, nil
}

func (d *brittleDisk) folder(path string) error {
	if err := d.spend(data); err != nil {
		return err
	}
	return d.quickDisk.folder(path)
}

func (d *brittleDisk) rename(from, to string) error {
	if err := d.spend(name); err != nil {
		return err
	}
	if _, err := os.Lstat(filepath.Dir(to)); err != nil { // a folder needs room
		if err := d.spend(data); err != nil {
			return err
		}
	}
	return d.quickDisk.rename(from, to)
}

// remove takes a folder away name by name, as the system does.
func (d *brittleDisk) remove(path string) error {
	var names []string
	filepath.WalkDir(path, func(name string, _ fs.DirEntry, err error) error {
		names = append(names, name)
		return nil
	})
	slices.Reverse(names) // what is in a folder before the folder
	for _, path := range names {
		if err := d.spend(other); err != nil {
			return err
		}
		if err := d.quickDisk.remove(path); err != nil {
			return err
		}
	}
	return nil
}

func (d *brittleDisk) syncFile(path string) error {
	if err := d.spend(data); err != nil {
		return err
	}
	return d.quickDisk.syncFile(path)
}

func (d *brittleDisk) syncFolder(path string) error {
	if err := d.spend(other); err != nil {
		return err
	}
	return d.quickDisk.syncFolder(path)
}

type brittleFile struct {
	outFile
	disk *brittleDisk
}

func (f brittleFile) Write(b []byte) (int, error) {
	if err := f.disk.spend(data); err != nil {
		n, _ := f.outFile.Write(b[:len(b)/2])
		return n, err
	}
	return f.outFile.Write(b)
}

func (f brittleFile) Sync() error {
	if err := f.disk.spend(data); err != nil {
		return err
	}
	return f.outFile.Sync()
}

// contents returns every file of an archive but the lock, by its path from there;
// folders do not count.
func contents(t testing.TB, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == lockName {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		data, err := os.ReadFile(path)
		files[name] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// sameContents compares two archives byte by byte and names the files that
// differ.
func sameContents(t testing.TB, what string, got, want map[string]string) {
	t.Helper()
	for name, data := range want {
		if other, there := got[name]; !there {
			t.Errorf("%s: %s is missing", what, name)
		} else if other != data {
			t.Errorf("%s: %s differs", what, name)
		}
	}
	for name := range got {
		if _, there := want[name]; !there {
			t.Errorf("%s: %s should not be there", what, name)
		}
	}
}
