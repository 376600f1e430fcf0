package report

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"downlock/report/output"
	"downlock/schemas"
)

// Pruned says what became of the flights' folders below a folder of reports.
type Pruned struct {
	Removed []string // older; or that would be, in a trial
	Kept    int      // not older
	Undated []string // no date to tell by
	// Foreign lists older ones that hold something downlock did not write; that
	// stays, and so does the folder.
	Foreign []string
	// Listed says that the index, whose tables tell of the events, still lists
	// flights whose folders are gone.
	Listed bool
}

// Prune removes the reports of flights that began before a time from a folder of
// reports, and those over all flights once none is left; in a trial it only lists
// them. It refuses a folder that scan did not write, follows no link,
// and removes files by the names scan uses and no others. A flight whose date
// is withheld is older once its whole month is. The error is a schemas.Problem of
// a folder that is none of ours, or an output.Error; the files removed until then
// are said.
func Prune(dir string, before time.Time, trial bool) (p Pruned, err error) {
	if info, err := os.Lstat(dir); err == nil && !info.IsDir() {
		return p, notOurs(dir, "is not a folder, or a link to one")
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return p, notOurs(dir, output.Cause(err))
	}
	defer root.Close()
	var idx index
	if err := readOurs(root, indexJSON, &idx); err != nil || idx.Schema != indexSchema {
		return p, notOurs(dir, "is not a folder of reports: it has no "+indexJSON+" of downlock")
	}
	entries, err := fs.ReadDir(root.FS(), ".")
	if err != nil {
		return p, &output.Error{Path: dir, Err: err}
	}
	for _, e := range entries {
		if e.IsDir() { // no link is
			if err := p.flight(root, dir, e.Name(), before, trial); err != nil {
				return p, err
			}
		}
	}
	for _, f := range idx.Flights {
		p.Listed = p.Listed || slices.Contains(p.Removed, f.Folder)
	}
	if p.Listed && p.Kept == 0 && len(p.Undated) == 0 {
		p.Listed = false
		if !trial {
			_, err = removeFiles(root, dir, eventsFile, measurementsFile, indexHTML, indexJSON)
		}
	}
	return p, err
}

func notOurs(dir, cause string) *schemas.Problem {
	return &schemas.Problem{File: dir, Cause: cause, Hint: "name the folder given to scan as --out; nothing was removed"}
}

// flight removes the folder of one flight where it is ours and older.
func (p *Pruned) flight(root *os.Root, dir, name string, before time.Time, trial bool) error {
	folder, err := root.OpenRoot(name)
	if err != nil {
		return &output.Error{Path: filepath.Join(dir, name), Err: err}
	}
	defer folder.Close()
	var doc struct {
		Schema string `json:"schema"`
		Flight struct {
			StartUTC string `json:"start_utc"`
			Month    string `json:"month"`
		} `json:"flight"`
	}
	if err := readOurs(folder, flightJSON, &doc); err != nil || doc.Schema != reportSchema {
		return nil // somebody else's
	}
	began, dated := beganBy(doc.Flight.StartUTC, doc.Flight.Month)
	switch {
	case !dated:
		p.Undated = append(p.Undated, name)
		return nil
	case !began.Before(before):
		p.Kept++
		return nil
	}
	if !trial {
		left, err := removeFiles(folder, filepath.Join(dir, name), eventsFile, measurementsFile, flightHTML, flightJSON)
		if err != nil {
			return err
		}
		if left {
			p.Foreign = append(p.Foreign, name)
		} else if err := root.Remove(name); err != nil {
			return &output.Error{Path: filepath.Join(dir, name), Err: err}
		}
	}
	p.Removed = append(p.Removed, name)
	return nil
}

// beganBy is the latest time at which a flight can have begun.
func beganBy(start, month string) (time.Time, bool) {
	if at, err := time.Parse("2006-01-02T15:04:05.000Z", start); err == nil {
		return at, true
	}
	if at, err := time.Parse("2006-01", month); err == nil {
		return at.AddDate(0, 1, 0).Add(-time.Millisecond), true
	}
	return time.Time{}, false
}

// writtenFiles are the names of all files a report may write.
var writtenFiles = []string{flightJSON, flightHTML, indexJSON, indexHTML, eventsFile, measurementsFile}

// readOurs decodes a JSON file that is no link.
func readOurs(root *os.Root, name string, into any) error {
	info, err := root.Lstat(name)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return errors.New("no regular file")
	}
	f, err := root.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	return json.NewDecoder(f).Decode(into)
}

// removeFiles removes regular files by name, those that are there, and what killed
// runs left of them, and reports whether anything else is left. The last one tells that the others are ours, so
// that a run that was cut off can be done again.
func removeFiles(root *os.Root, dir string, names ...string) (left bool, err error) {
	for _, name := range names {
		info, err := root.Lstat(name)
		if err == nil && info.Mode().IsRegular() {
			err = root.Remove(name)
		} else if err == nil {
			continue // left
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return false, &output.Error{Path: filepath.Join(dir, name), Err: err}
		}
	}
	entries, err := fs.ReadDir(root.FS(), ".")
	if err != nil {
		return false, &output.Error{Path: dir, Err: err}
	}
	for _, e := range entries {
		gone := output.Leftover(e.Name(), writtenFiles...) && e.Type().IsRegular() && root.Remove(e.Name()) == nil
		left = left || !gone
	}
	return left, nil
}
