package archive

import (
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
)

// change copies the files that have faults, puts new ones in their places, then the list of checksums,
// and takes away those that are to be no more. An archive that never had a list does not get
// one for a fault elsewhere.
//
// Entries that say which inputs to scan again are there before the list says which rows are
// lost, and that before the rows go: without a list nothing else tells of them.
func (r *repairing) change() error {
	if len(r.wrong) == 0 {
		return nil
	}
	folders := &unsynced{}
	if err := r.keepCopies(folders, r.wrong...); err != nil {
		return err
	}
	stays := map[string]bool{checksumsName: true}
	for _, s := range r.over.groups[0] {
		stays[filepath.ToSlash(s.name)] = s.stays
	}
	_, after, err := r.a.nextChecksums(r.over)
	if err == nil {
		err = r.a.writeList(checksumsName, after)
	}
	if err == nil {
		err = r.a.makeFolders(r.over, folders)
	}
	if err == nil {
		err = r.a.stillOurs()
	}
	if err == nil {
		err = r.a.moveGroups(r.over, folders)
	}
	if err == nil {
		err = r.a.move(checksumsName, checksumsName, folders)
	}
	if err == nil {
		err = r.a.settle(folders)
	}
	if err != nil {
		return err
	}
	gone := slices.DeleteFunc(r.wrong, func(f *Fault) bool { return stays[f.File] })
	err = r.remove(gone...)
	for _, f := range gone {
		os.Remove(filepath.Dir(r.e.path(f.File))) // keeps a folder that holds something
	}
	return err
}

// keepCopies copies files, where they are there, to where what is replaced is kept, and has
// the copies on disk.
func (r *repairing) keepCopies(folders *unsynced, list ...*Fault) error {
	for _, f := range list {
		if info, err := os.Lstat(r.e.path(f.File)); err != nil || info.IsDir() {
			continue // missing
		}
		kept := filepath.Join(r.aside, filepath.FromSlash(f.File))
		err := writeFile(r.a.disk, r.a.newFile(kept), filepath.Join(r.a.dir, kept), true, func(w io.Writer) error {
			old, err := os.Open(r.e.path(f.File))
			if err != nil {
				return err
			}
			defer old.Close()
			_, err = io.Copy(w, old)
			return err
		})
		if err == nil {
			err = r.a.makeFolder(filepath.Dir(kept), folders)
		}
		if err == nil {
			err = r.a.move(kept, kept, folders)
		}
		if err != nil {
			return err
		}
		f.Kept = filepath.ToSlash(kept)
	}
	return r.a.settle(folders)
}

// remove takes files away that were copied.
func (r *repairing) remove(list ...*Fault) error {
	folders := &unsynced{}
	for _, f := range list {
		if f.Kept == "" {
			continue // missing
		}
		place := r.e.path(f.File)
		if err := r.a.disk.remove(place); err != nil {
			return outputError(place, err)
		}
		folders.note(path.Dir(f.File))
	}
	return r.a.settle(folders)
}

// replace copies the file of a fault and writes it anew.
func (r *repairing) replace(f *Fault, text []byte) error {
	if err := r.keepCopies(&unsynced{}, f); err != nil {
		return err
	}
	return r.a.keep(nil, keptFile{filepath.FromSlash(f.File), text})
}

// takeAway copies the file of a fault and removes it.
func (r *repairing) takeAway(f *Fault) error {
	if err := r.keepCopies(&unsynced{}, f); err != nil {
		return err
	}
	return r.remove(f)
}
