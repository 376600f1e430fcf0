package scan

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"

	"downlock/report/output"
	"downlock/schemas"
)

// quarantine moves damaged inputs aside, so that the next night does not read them
// again. An input that cannot be moved stays, with a warning.
func (s *scan) quarantine(t *runTotals) {
	if s.options.quarantine == "" {
		return
	}
	for _, o := range t.unsound {
		if isStdin(o.input.Files) {
			continue
		}
		if slices.ContainsFunc(o.input.Files, schemas.IsObject) {
			s.say.Warning(o.input.Path + ": not moved, because an object store is only read; the next run reads it again")
			continue
		}
		if now, err := o.input.Look(); err != nil || now != o.sight {
			s.say.Warning(o.input.Path + ": not moved, because it has changed since it was read")
			continue
		}
		for _, path := range o.input.Files {
			place, err := moveAside(path, s.options.quarantine, s.options.share)
			switch {
			case err != nil:
				s.say.Warning(fmt.Sprintf("%s: cannot be moved: %v", o.input.Path, s.identity(o.input).Error(err)))
			case !s.options.quiet:
				s.say.Note(s.movedNote(o.input, path, place))
			}
		}
	}
}

// moveAside moves a file into a folder, under a name that is free there. It makes a
// link, which fails where the name is taken, so it never overwrites a file, whatever
// other processes do.
func moveAside(path, folder string, share bool) (place string, err error) {
	info, err := os.Lstat(path)
	if err != nil {
		return "", err
	}
	if !info.Mode().IsRegular() {
		return "", errors.New("it is a link, not a file")
	}
	if err := os.MkdirAll(folder, output.FolderMode(share)); err != nil {
		return "", err
	}
	for n := 1; ; n++ {
		place = filepath.Join(folder, filepath.Base(path))
		if n > 1 {
			place += fmt.Sprintf("~%d", n)
		}
		err = os.Link(path, place)
		if errors.Is(err, syscall.EXDEV) || errors.Is(err, syscall.EPERM) || errors.Is(err, errors.ErrUnsupported) {
			err = copyNew(path, place, share)
		}
		if err == nil {
			return place, os.Remove(path)
		}
		if !errors.Is(err, fs.ErrExist) {
			return "", err
		}
	}
}

// copyNew copies a file to a place on another disk. It fails with fs.ErrExist when
// there is a file already.
func copyNew(path, place string, share bool) error {
	in, err := os.Open(path)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(place, os.O_WRONLY|os.O_CREATE|os.O_EXCL, output.FileMode(share))
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	if err == nil {
		err = out.Sync()
	}
	if closing := out.Close(); err == nil {
		err = closing
	}
	if err != nil {
		os.Remove(place)
		return &output.Error{Path: place, Err: err}
	}
	return nil
}
