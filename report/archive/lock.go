package archive

import (
	"errors"
	"fmt"
	"io"
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

// lockArchive takes the archive for this process. The lock is the system's, on
// the open file, and is gone with the process: the file itself stays, and
// blocks nobody.
func lockArchive(dir string, share bool) (*os.File, error) {
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
	host, _ := os.Hostname()
	note := fmt.Sprintf("process %d on %s since %s\n", os.Getpid(), host, time.Now().UTC().Format(time.DateTime+" UTC"))
	if err = f.Truncate(0); err == nil {
		_, err = f.WriteAt([]byte(note), 0)
	}
	// The note is for people. A full disk may cost it, and not the lock.
	_ = err
	return f, nil
}

// errHeld is returned by tryLock when another process holds the lock.
var errHeld = errors.New("held by another process")
