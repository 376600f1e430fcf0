package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// The figures of each run are a file of their own, after schemas/batch.schema.json:
//
//	runs/TIME/batch.json    TIME is when the run began, UTC
const (
	runsFolder = "runs"
	batchName  = "batch.json"
	runTime    = "20060102T150405.000Z"
)

// runChecksums reads the list of the figures of runs, an empty one where there is none.
func runChecksums(dir string) (*checksums, error) {
	list, err := readChecksums(filepath.Join(dir, runsFolder, checksumsName))
	if err != nil || list != nil {
		return list, err
	}
	return &checksums{files: map[string]listedFile{}}, nil
}

// addRuns adds the figures of runs that are not in the list, as after a power cut or in an
// archive from before there was a list.
func (list *checksums) addRuns(dir string) error {
	names, err := fs.Glob(os.DirFS(dir), runsFolder+"/*/"+batchName)
	if err != nil {
		return err
	}
	for _, name := range names {
		if list.files[name].exists() {
			continue
		}
		s, err := sumFile(filepath.Join(dir, name))
		if err != nil {
			return outputError(name, err)
		}
		list.put(listedFile{Key: name, fileSum: s})
	}
	return nil
}

// free returns the name, below the archive, of a file of a folder of a time that is not there yet.
// Where the clock was set back another run may have that time already; then the folder is
// marked.
func (a *Archive) free(folder string, at time.Time, file string) string {
	stamp := at.UTC().Format(runTime)
	name := filepath.Join(folder, stamp, file)
	for n := 2; ; n++ {
		if _, err := os.Lstat(filepath.Join(a.dir, name)); err != nil {
			return name
		}
		name = filepath.Join(folder, fmt.Sprintf("%s~%d", stamp, n), file)
	}
}

// KeepRun keeps the figures of this run, which notes that it reported its findings and
// those of EarlierRuns, and returns the path of their file. Once that is ready to be put
// in its place KeepRun calls say, which says the findings aloud. Between the two lies
// nothing else, so that a run that is cut off hardly ever said what the next one says
// again. The error is that of say, a schemas.Problem, a LockLostError or an output.Error.
func (a *Archive) KeepRun(figures []byte, say func() error) (path string, err error) {
	place := filepath.Join(a.dir, a.figures)
	list, err := runChecksums(a.dir)
	if err == nil {
		err = list.addRuns(a.dir)
	}
	if err != nil {
		return place, outputError(place, err)
	}
	list.put(listedFile{Key: filepath.ToSlash(a.figures), fileSum: sumOfText(figures)})
	err = a.keep(say, keptFile{a.figures, figures}, keptFile{filepath.Join(runsFolder, checksumsName), list.text()})
	if err == nil && raised(figures) {
		err = a.disk.remove(filepath.Join(a.dir, unreportedName))
	}
	if a.lost.Load() {
		return place, err
	}
	if removing := a.disk.remove(a.newFile("")); err == nil {
		err = removing
	}
	return place, outputError(place, err)
}

// RunMonth returns the month YYYY-MM, in UTC, in which the newest run of an archive began:
// one that was not over when flights were last added. It is "" where no run is known.
func RunMonth(dir string) string {
	names, err := fs.Glob(os.DirFS(dir), runsFolder+"/*/"+batchName)
	if err != nil {
		return ""
	}
	newest := time.Time{}
	for _, name := range names {
		stamp, _, _ := strings.Cut(path.Base(path.Dir(name)), "~")
		if began, err := time.Parse(runTime, stamp); err == nil && began.After(newest) {
			newest = began
		}
	}
	if newest.IsZero() {
		return ""
	}
	return newest.Format("2006-01")
}

// PruneRuns removes the figures of runs that began before a time, which name the
// inputs that failed, and returns the names of their folders; in a trial it only
// lists them. Nothing else in those folders is removed. The error is a LockedError, a
// schemas.Problem of a folder that is no archive, or an output.Error.
func PruneRuns(dir string, before time.Time, trial, share bool) (removed []string, err error) {
	if !begun(dir) {
		return nil, &schemas.Problem{File: dir, Cause: "is not an archive: it has no tables and no ledger", Hint: "name the folder `downlock scan --archive` writes"}
	}
	runs := filepath.Join(dir, runsFolder)
	entries, err := os.ReadDir(runs)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, &output.Error{Path: runs, Err: err}
	}
	lock, err := lockArchive(dir, share, "")
	if err != nil {
		return nil, err
	}
	a := &Archive{dir: dir, disk: realDisk{share}, lock: lock}
	defer a.Close()
	list, err := runChecksums(dir)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		stamp, _, _ := strings.Cut(e.Name(), "~")
		began, err := time.Parse(runTime, stamp)
		if err != nil || !began.Before(before) || !e.IsDir() { // no link is
			continue
		}
		folder := filepath.Join(runs, e.Name())
		if info, err := os.Lstat(filepath.Join(folder, batchName)); err != nil || !info.Mode().IsRegular() {
			continue
		}
		removed = append(removed, filepath.Join(runsFolder, e.Name()))
		delete(list.files, runsFolder+"/"+e.Name()+"/"+batchName)
	}
	if trial || len(removed) == 0 {
		return removed, nil
	}
	err = a.keep(nil, keptFile{filepath.Join(runsFolder, checksumsName), list.text()}) // first, so that none is missed that is not there
	if removing := a.disk.remove(a.newFile("")); err == nil {
		err = outputError(a.newFile(""), removing)
	}
	if err != nil {
		return nil, err
	}
	for i, name := range removed {
		folder := filepath.Join(dir, name)
		if err := os.Remove(filepath.Join(folder, batchName)); err != nil {
			return removed[:i], &output.Error{Path: folder, Err: err}
		}
		os.Remove(folder) // keeps a folder that holds something
	}
	return removed, nil
}
