package archive

import (
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"downlock/report/review"
	"downlock/schemas"
)

// Repair mends what Verify finds, as far as the rest of the archive and the recordings that
// are still there allow, and returns what it found with what it did. Each file that it
// replaces it keeps in replaced/TIME, under its path.
//
// A file whose bytes are in the place of another is put back. Entries of recordings are
// made of those of inputs and of the flights. An entry of an input that is lost, and every
// input with rows in a part that is lost, is noted so that the next run scans it again; where its file is no longer
// there its rows are lost, and until then the list of checksums says which part lacks
// which recordings. A verdict is made of its row in the table, the table of the verdicts. The
// lists of checksums are made of the files. The figures of a run cannot be made again.
//
// Cut off anywhere, by a power cut too, it can be done again and ends the same: what it
// replaces is copied first, new files take the places of old ones whole, and the list of checksums
// comes after them, so that until then all of it is still found. The error is a
// LockedError, a schemas.Problem, or an output.Error.
func Repair(dir string, now time.Time, share bool) (*Condition, error) {
	return repair(dir, now, share, realDisk{share})
}

func repair(dir string, now time.Time, share bool, d disk) (*Condition, error) {
	if err := mustBeArchive(dir); err != nil {
		return nil, err
	}
	lock, err := lockArchive(dir, share, "")
	if err != nil {
		return nil, err
	}
	a := &Archive{dir: dir, disk: d, lock: lock, run: &Run{Share: share}}
	defer a.Close()
	e, err := examine(dir)
	if err != nil {
		return nil, err
	}
	c, err := e.condition()
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(c.Faults, func(f Fault) bool { return f.Kind == FaultUnended }) {
		return nil, &schemas.Problem{File: dir, Cause: "a run was cut off and is not finished", Hint: "scan once more, which finishes it, and repair after that"}
	}
	r := &repairing{a: a, e: e, c: c, aside: a.free(replacedFolder, now, "")}
	err = r.do()
	if removing := d.remove(a.newFile("")); err == nil {
		err = removing
	}
	return c, outputError(dir, err)
}

// repairing is a repair under way.
type repairing struct {
	a     *Archive
	e     *examination
	c     *Condition
	l     *ledger
	aside string // where copies of replaced files go, below the archive
	over  *changeover
	wrong []*Fault // whose files are replaced or taken away by the change
}

func (r *repairing) do() error {
	if len(r.c.Faults) == 0 {
		return nil
	}
	var err error
	if r.l, err = r.e.readIntact(); err != nil {
		return err
	}
	if err := r.e.derive(r.l); err != nil {
		return err
	}
	if err := r.a.disk.remove(r.a.newFile("")); err != nil {
		return err
	}
	if err := r.newList(); err != nil {
		return err
	}
	r.over = &changeover{lost: map[string][]string{}}
	r.over.begin()
	for _, step := range []func() error{r.mendParts, r.mendLedger, r.mendList, r.change, r.mendIdentity, r.mendRuns, r.mendActions, r.mendVerdicts} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// newList takes the list of checksums as it is or, where it is lost, one of the files that
// are there.
func (r *repairing) newList() (err error) {
	r.a.sums = r.e.list
	if r.a.sums == nil {
		r.a.sums, err = r.a.firstChecksums()
	} else {
		r.a.sums = r.a.sums.clone()
	}
	return err
}

// each hands out the faults of which a condition holds.
func (r *repairing) each(holds func(f *Fault) bool, mend func(f *Fault) error) error {
	for i := range r.c.Faults {
		if f := &r.c.Faults[i]; f.Kind != FaultLacking && holds(f) {
			if err := mend(f); err != nil {
				return err
			}
		}
	}
	return nil
}

// isOurs says that the file of a fault belongs into the archive.
func isOurs(f *Fault) bool { return f.Kind != FaultForeign }

// own returns the file that holds the bytes of a listed one that has a fault, "" where none
// does. It may be a copy that a repair kept which was cut off.
func (e *examination) own(key string) string {
	for _, list := range []*checksums{e.list, e.runs} {
		if list == nil || !list.files[key].exists() {
			continue
		}
		if other := holding(e.sums, list.files[key].fileSum); other != "" {
			return other
		}
		return holding(e.copies(), list.files[key].fileSum)
	}
	return ""
}

// holding returns the first file of a sum by its name, "" for none.
func holding(sums map[string]fileSum, want fileSum) string {
	for _, name := range sortedKeys(sums) {
		if sums[name] == want {
			return name
		}
	}
	return ""
}

// copies sums what repairs replaced. One that cannot be read is of no use.
func (e *examination) copies() map[string]fileSum {
	if e.copied == nil {
		e.copied = map[string]fileSum{}
		_ = fs.WalkDir(os.DirFS(e.dir), replacedFolder, func(key string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				if s, err := sumFile(e.path(key)); err == nil {
					e.copied[key] = s
				}
			}
			return nil
		})
	}
	return e.copied
}

// putBack writes the new file of a fault whose bytes are in another place; ok is false
// where they are nowhere.
func (r *repairing) putBack(f *Fault) (ok bool, err error) {
	own := r.e.own(f.File)
	if own == "" {
		return false, nil
	}
	f.Mended = "put back from " + own
	data, err := os.ReadFile(r.e.path(own))
	if err != nil {
		return false, err
	}
	return true, r.write(f.File, data)
}

func (r *repairing) write(key string, data []byte) error {
	return writeFile(r.a.disk, r.a.newFile(filepath.FromSlash(key)), r.e.path(key), true, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// forget has the change treat a file as one that is not there, which it is once it was put aside.
func (r *repairing) forget(key string) { delete(r.a.sums.files, key) }

// mendParts puts parts back, and takes away those that are lost or foreign.
func (r *repairing) mendParts() error {
	again := map[string]bool{} // recordings whose inputs are to be scanned again
	isOne := func(f *Fault) bool { _, _, ok := isPart(f.File); return ok }
	err := r.each(isOne, func(f *Fault) error {
		_, month, _ := isPart(f.File)
		r.wrong = append(r.wrong, f)
		r.over.lost[f.File] = r.a.sums.files[f.File].Lost
		r.forget(f.File)
		back, err := r.putBack(f)
		switch {
		case err != nil:
			return err
		case back:
		case f.Kind == FaultForeign:
			f.Mended = "taken away"
		default:
			r.over.lost[f.File] = r.l.of(month)
			for _, sha := range r.l.of(month) {
				again[sha] = true
			}
			f.Mended, f.Scan = "taken away; the next run scans the recordings again that are still there", len(f.Recordings) > 0
		}
		r.over.add(filepath.FromSlash(f.File), back)
		return nil
	})
	for key, in := range r.l.inputs {
		if again[in.Recording] && !isToScan(in) {
			in.Outcome, in.Cause = failed, "rows were lost"+toScan
			r.l.inputs[key] = in
		}
	}
	return err
}

// toScan ends the cause of an entry that a repair has the next run scan again.
const toScan = "; to be scanned again"

func isToScan(in inputEntry) bool {
	return in.Outcome == failed && strings.HasSuffix(in.Cause, toScan)
}

// mendList has the list of checksums made again.
func (r *repairing) mendList() error {
	return r.each(func(f *Fault) bool { return f.File == checksumsName }, func(f *Fault) error {
		f.Mended = "made again of the files that are there"
		r.wrong = append(r.wrong, f)
		return nil
	})
}

// mendIdentity writes the file identity again.
func (r *repairing) mendIdentity() error {
	return r.each(func(f *Fault) bool { return f.File == unreportedName || f.File == markName && f.Kind != FaultForeign }, func(f *Fault) error {
		if f.File == unreportedName {
			f.Mended = "taken away: what the last run had still to report is in the tables"
			return r.takeAway(f)
		}
		f.Mended = "made again of its copy in the list of checksums"
		return r.replace(f, []byte(r.e.list.Identity))
	})
}

// mendRuns puts the figures of runs back, or takes those that are damaged from their list.
func (r *repairing) mendRuns() error {
	list := &checksums{files: map[string]listedFile{}}
	if r.e.runs != nil {
		list.files = maps.Clone(r.e.runs.files)
	}
	var wrong, gone []*Fault
	var back []keptFile
	isRun := func(f *Fault) bool { return strings.HasPrefix(f.File, runsFolder+"/") && f.Kind != FaultForeign }
	err := r.each(isRun, func(f *Fault) error {
		wrong = append(wrong, f)
		own := r.e.own(f.File)
		switch {
		case f.File == runsFolder+"/"+checksumsName:
			f.Mended = "made again of the files that are there"
		case own != "":
			data, err := os.ReadFile(r.e.path(own))
			if err != nil {
				return err
			}
			f.Mended = "put back from " + own
			back = append(back, keptFile{filepath.FromSlash(f.File), data})
		default:
			delete(list.files, f.File)
			gone = append(gone, f)
			f.Mended = "taken from the list; figures of a run cannot be made again"
		}
		return nil
	})
	if err != nil || len(wrong) == 0 {
		return err
	}
	err = r.keepCopies(&unsynced{}, wrong...)
	if err == nil {
		err = r.remove(gone...) // before the list, which adopts what is there
	}
	if err == nil {
		err = r.a.keep(nil, back...)
	}
	if err == nil && r.e.runs != nil && len(gone) == 0 {
		return nil // the list is right
	}
	if err == nil {
		err = list.addRuns(r.a.dir)
	}
	if err != nil {
		return err
	}
	return r.a.keep(nil, keptFile{filepath.Join(runsFolder, checksumsName), list.text()})
}

// mendVerdicts writes lost verdicts again, of the table, and then the table, of the
// verdicts.
func (r *repairing) mendVerdicts() error {
	rows, _ := readVerdicts(r.e.path(filepath.ToSlash(verdictsPart)))
	err := r.each(isOurs, func(f *Fault) error {
		i := slices.IndexFunc(rows, func(row schemas.VerdictRow) bool { return reviewsFolder+"/"+row.EventID+"/"+row.File == f.File })
		if i < 0 || rows[i].Evidence == "" {
			return nil // a verdict from before there were names in the table
		}
		row := rows[i]
		v := review.Verdict{Event: row.EventID, Finding: review.Finding(row.Verdict), Cause: row.Cause, Comment: row.Comment, By: row.By, Evidence: row.Evidence}
		text, err := review.Text(row.File, v)
		if err != nil {
			return nil // it stays as it is, and is said
		}
		f.Mended = "made again of the table of verdicts"
		return r.replace(f, text)
	})
	if err != nil {
		return err
	}
	isTable := func(f *Fault) bool { return f.File == filepath.ToSlash(verdictsPart) }
	err = r.each(isTable, func(f *Fault) error {
		f.Mended = "made again of the verdicts"
		return r.takeAway(f)
	})
	if err != nil {
		return err
	}
	if _, err := r.a.KeepVerdicts(); err != nil {
		return fmt.Errorf("the table of verdicts: %w", err)
	}
	return nil
}
