package archive

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"downlock/report/output"
)

// LockedError is returned by Open when another run is using the archive.
type LockedError struct {
	Folder string
	Holder string // what the other run wrote about itself; may be empty
}

func (e *LockedError) Error() string {
	s := e.Folder + ": another run is using this archive"
	if e.Holder != "" {
		s += " (" + e.Holder + ")"
	}
	return s
}

// Hint says how the user gets on.
func (e *LockedError) Hint() string {
	return "wait until it has ended, or start the runs further apart; the lock ends with its process, however that ends"
}

// LockLostError is returned when the lock file of the archive was removed or exchanged
// while this run held it: another run may have begun meanwhile.
type LockLostError struct{ Folder string }

func (e *LockLostError) Error() string {
	return e.Folder + ": the file lock was removed or exchanged while this run was under way, so that another may be using the archive: nothing more is written"
}

// Hint says how the user gets on.
func (e *LockLostError) Hint() string {
	return "never remove the file lock: it ends with its process. Scan once more, which finishes or repeats what this run did"
}

// stillOurs makes sure that the file the lock is on is the one other runs find.
func (a *Archive) stillOurs() error {
	if a.lock == nil { // in tests alone
		return nil
	}
	held, err := a.lock.Stat()
	if err == nil {
		var found os.FileInfo
		if found, err = os.Stat(a.lock.Name()); err == nil && os.SameFile(held, found) {
			return nil
		}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return &output.Error{Path: a.lock.Name(), Err: err}
	}
	a.lost.Store(true)
	return &LockLostError{a.dir}
}

// lockArchive takes the archive for this process. The lock is the system's, on
// the open file, and is gone with the process: the file itself stays, and
// blocks nobody.
func lockArchive(dir string, share bool, work string) (*os.File, error) {
	path := filepath.Join(dir, lockName)
	err := os.MkdirAll(dir, output.FolderMode(share))
	if err != nil {
		return nil, &output.Error{Path: dir, Err: err}
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, output.FileMode(share))
	if err != nil {
		return nil, &output.Error{Path: path, Err: err}
	}
	if err := tryLock(f); err != nil {
		defer f.Close()
		if !errors.Is(err, errHeld) {
			return nil, &output.Error{Path: path, Err: err}
		}
		holder, _ := io.ReadAll(io.LimitReader(f, 200))
		return nil, &LockedError{Folder: dir, Holder: strings.TrimSpace(string(holder))}
	}
	if held, err := f.Stat(); err == nil {
		if found, err := os.Stat(path); err != nil || !os.SameFile(held, found) {
			f.Close()
			return lockArchive(dir, share, work) // it was removed between opening and locking
		}
	}
	host, _ := os.Hostname()
	note := fmt.Sprintf("%sprocess %d on %s since %s\n", work, os.Getpid(), host, time.Now().UTC().Format(time.DateTime+" UTC"))
	if err = f.Truncate(0); err == nil {
		_, err = f.WriteAt([]byte(note), 0)
	}
	// The note is for people. A full disk may cost it, and not the lock.
	_ = err
	return f, nil
}

// errHeld is returned by tryLock when another process holds the lock.
var errHeld = errors.New("held by another process")
