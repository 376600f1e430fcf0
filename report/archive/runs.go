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

// freeRun returns the name, below the archive, of the figures of a run that began at a
// time. Where the clock was set back another run may have that time already; then the
// new one's is marked.
func (a *Archive) freeRun(began time.Time) string {
	stamp := began.UTC().Format(runTime)
	name := filepath.Join(runsFolder, stamp, batchName)
	for n := 2; ; n++ {
		if _, err := os.Lstat(filepath.Join(a.dir, name)); err != nil {
			return name
		}
		name = filepath.Join(runsFolder, fmt.Sprintf("%s~%d", stamp, n), batchName)
	}
}

// KeepRun keeps the figures of this run, which notes that it reported its findings and
// those of EarlierRuns, and returns the path of their file. Once that is ready to be put
// in its place KeepRun calls say, which says the findings aloud. Between the two lies
// nothing else, so that a run that is cut off hardly ever said what the next one says
// again. The error is that of say, or an output.Error.
func (a *Archive) KeepRun(figures []byte, say func() error) (path string, err error) {
	place := filepath.Join(a.dir, a.figures)
	err = writeFile(a.disk, a.newFile(a.figures), place, true, func(w io.Writer) error {
		_, err := w.Write(figures)
		return err
	})
	over := &changeover{[]changeoverStep{{a.figures, true}}}
	if err == nil {
		err = a.makeFolders(over)
	}
	if err == nil {
		err = say()
	}
	if err == nil {
		err = a.changeOver(over)
	}
	if err == nil && raised(figures) {
		err = a.disk.remove(filepath.Join(a.dir, unreportedName))
	}
	if removing := a.disk.remove(a.newFile("")); err == nil {
		err = removing
	}
	return place, outputError(place, err)
}

// PruneRuns removes the figures of runs that began before a time, which name the
// inputs that failed, and returns the names of their folders; in a trial it only
// lists them. Nothing else in those folders is removed. The error is a
// schemas.Problem of a folder that is no archive, or an output.Error.
func PruneRuns(dir string, before time.Time, trial bool) (removed []string, err error) {
	if !begun(dir) {
		return nil, &schemas.Problem{File: dir, Cause: "is no archive: it has no tables and no ledger", Hint: "name the folder `downlock scan --archive` writes"}
	}
	runs := filepath.Join(dir, runsFolder)
	entries, err := os.ReadDir(runs)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, &output.Error{Path: runs, Err: err}
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
		if trial {
			continue
		}
		if err := os.Remove(filepath.Join(folder, batchName)); err != nil {
			return removed, &output.Error{Path: folder, Err: err}
		}
		os.Remove(folder) // keeps a folder that holds something
	}
	return removed, nil
}
