package archive

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/gofrs/flock"

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
		if found, err = os.Stat(a.lock.Path()); err == nil && os.SameFile(held, found) {
			return nil
		}
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return &output.Error{Path: a.lock.Path(), Err: err}
	}
	a.lost.Store(true)
	return &LockLostError{a.dir}
}

// lockArchive takes the archive for this process. The lock is the system's, on
// the open file, and is gone with the process: the file itself stays, and
// blocks nobody.
func lockArchive(dir string, share bool, work string) (*flock.Flock, error) {
	path := filepath.Join(dir, lockName)
	err := os.MkdirAll(dir, output.FolderMode(share))
	if err != nil {
		return nil, &output.Error{Path: dir, Err: err}
	}
	if slices.Contains(processLocks, runtime.GOOS) {
		return nil, &output.Error{Path: path, Err: errors.New("this system loses a lock when another part of the process closes the file; an archive needs Linux, macOS, Windows or a BSD")}
	}
	lock := flock.New(path, flock.SetFlag(os.O_RDWR|os.O_CREATE), flock.SetPermissions(output.FileMode(share)))
	taken, err := lock.TryLock()
	if err != nil {
		return nil, &output.Error{Path: path, Err: err}
	}
	if !taken {
		return nil, &LockedError{Folder: dir, Holder: readHolder(path)}
	}
	if held, err := lock.Stat(); err == nil {
		if found, err := os.Stat(path); err != nil || !os.SameFile(held, found) {
			lock.Close()
			return lockArchive(dir, share, work) // it was removed between opening and locking
		}
	}
	host, _ := os.Hostname()
	writeHolder(path, fmt.Sprintf("%sprocess %d on %s since %s\n", work, os.Getpid(), host, time.Now().UTC().Format(time.DateTime+" UTC")))
	return lock, nil
}

// processLocks are systems whose locks are a process's, not an open file's.
var processLocks = []string{"aix", "solaris"}

// The lock file holds a note for people on who has the lock. It begins at the second byte:
// Windows lets nobody else read the first one, which is the one that is locked.
const holderAt = 1

func readHolder(path string) string {
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	note, _ := io.ReadAll(io.NewSectionReader(f, holderAt, 200))
	return strings.TrimSpace(string(note))
}

// writeHolder writes the note. A full disk may cost it, and not the lock.
func writeHolder(path, note string) {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return
	}
	defer f.Close()
	if f.Truncate(0) == nil {
		f.WriteAt([]byte(note), holderAt)
		f.WriteAt([]byte(" "), 0)
	}
}
