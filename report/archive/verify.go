package archive

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"downlock/schemas"
)

// FaultKind is what is wrong with a file of an archive.
type FaultKind string

const (
	FaultDamaged   FaultKind = "damaged"   // it does not hold what downlock wrote
	FaultMissing   FaultKind = "missing"   // it is not there
	FaultExchanged FaultKind = "exchanged" // it holds what another file of the archive held: a part is of another month or table
	FaultForeign   FaultKind = "foreign"   // downlock did not write it here
	FaultLacking   FaultKind = "lacking"   // a part whose lost rows are not back yet
	FaultUnended   FaultKind = "unended"   // a run was cut off
)

// Fault is one thing wrong with an archive.
type Fault struct {
	File  string // below the archive, with slashes
	Kind  FaultKind
	Cause string
	// Recordings are those, by SHA-256, that the file has rows or entries of.
	Recordings []string
	Mended     string // what Repair did; "" for nothing
	Scan       bool   // the recordings are to be scanned again
	Kept       string // where Repair put the file that was there, below the archive; "" for none
}

// Condition is what Verify finds.
type Condition struct {
	Files  int  // looked at
	Listed bool // the archive has a list of checksums
	Faults []Fault
	Names  map[string]string // of recordings of the faults, by SHA-256; tokens where identity is withheld
}

// Verify reads an archive to the last byte and says what is wrong with it: every listed file against its
// checksum, every row of every part, every line of the ledger, every verdict and action against
// the check in its name and their tables, and the figures of every run. It holds the lock, so that no
// run changes anything meanwhile. The error is a LockedError, a schemas.Problem of a
// folder that is no archive, or one of reading.
func Verify(dir string) (*Condition, error) {
	if err := mustBeArchive(dir); err != nil {
		return nil, err
	}
	lock, err := lockArchive(dir, false, "")
	var locked *LockedError
	switch {
	case errors.As(err, &locked):
		return nil, err
	case err == nil: // else it cannot be written, as a copy on a read-only disk: nobody changes it
		defer lock.Close()
	}
	e, err := examine(dir)
	if err != nil {
		return nil, err
	}
	return e.condition()
}

func mustBeArchive(dir string) error {
	if begun(dir) {
		return nil
	}
	if _, err := os.Stat(filepath.Join(dir, checksumsName)); err == nil {
		return nil
	}
	return &schemas.Problem{File: dir, Cause: "is not an archive: it has no tables and no ledger", Hint: "name the folder `downlock scan --archive` writes"}
}

// examination is an archive that is looked through.
type examination struct {
	dir    string
	list   *checksums // nil where there is none, or it is damaged
	runs   *checksums
	faults []Fault
	files  int
	sums   map[string]fileSum  // of the files that differ from their list, and of foreign ones
	months map[string][]string // of flights, by recording; nil unless needed
	copied map[string]fileSum  // of what repairs replaced; nil unless needed
}

func (e *examination) add(key string, kind FaultKind, cause string) {
	e.faults = append(e.faults, Fault{File: key, Kind: kind, Cause: cause})
}

func (e *examination) path(key string) string { return filepath.Join(e.dir, filepath.FromSlash(key)) }

// examine looks through an archive.
func examine(dir string) (*examination, error) {
	e := &examination{dir: dir, sums: map[string]fileSum{}}
	for _, look := range []func() error{e.readLists, e.compareListed, e.readParts, e.readLedger, e.readIdentity, e.readReviews, e.readRest} {
		if err := look(); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(e.faults, func(a, b Fault) int { return strings.Compare(a.File, b.File) })
	return e, nil
}

// readLists reads the lists of checksums.
func (e *examination) readLists() error {
	for _, one := range []struct {
		key  string
		list **checksums
	}{{checksumsName, &e.list}, {runsFolder + "/" + checksumsName, &e.runs}} {
		key := one.key
		c, err := readChecksums(e.path(key))
		if err == nil && c == nil && key == checksumsName {
			err = lostChecksums(e.dir)
		}
		if err == nil && c == nil && key != checksumsName && e.list != nil {
			if runs, _ := fs.Glob(os.DirFS(e.dir), runsFolder+"/*/"+batchName); len(runs) > 0 {
				e.add(key, FaultMissing, "the list of checksums is missing")
			}
		}
		var problem *schemas.Problem
		switch {
		case errors.As(err, &problem):
			kind := FaultDamaged
			if _, err := os.Stat(e.path(key)); err != nil {
				kind = FaultMissing
			}
			e.add(key, kind, causeOf(problem))
		case err != nil:
			return err
		}
		*one.list = c
	}
	if e.list != nil && e.list.Changing {
		e.add(checksumsName, FaultUnended, "a run was cut off while new files took their places")
	}
	return nil
}

// causeOf is the cause of a damaged file without the words that all have.
func causeOf(p *schemas.Problem) string {
	return strings.TrimPrefix(p.Cause, "the archive is damaged here: ")
}

// compareListed compares every listed file with its checksum, and looks for files that are
// not listed.
func (e *examination) compareListed() error {
	keys := map[string]bool{}
	found, err := listedFiles(e.dir)
	if err != nil {
		return err
	}
	for _, key := range found {
		keys[key] = true
	}
	listed := map[string]listedFile{}
	for _, list := range []*checksums{e.list, e.runs} {
		if list == nil {
			continue
		}
		for key, f := range list.files {
			keys[key] = true
			listed[key] = f
		}
	}
	order := sortedKeys(keys)
	sums := make([]fileSum, len(order))
	if err := each(len(order), func(i int) (err error) { sums[i], err = sumFile(e.path(order[i])); return err }); err != nil {
		return err
	}
	e.files += len(order)
	for i, key := range order {
		f, isListed := listed[key]
		if !isListed && e.list == nil {
			continue // nothing to compare with
		}
		if len(f.Lost) > 0 {
			e.faults = append(e.faults, Fault{File: key, Kind: FaultLacking, Cause: "rows that were lost are not back yet", Recordings: f.Lost, Scan: true})
		}
		fault := f.fault(sums[i], sameSum)
		if fault == nil {
			continue
		}
		kind := FaultDamaged
		switch {
		case !sums[i].exists():
			kind = FaultMissing
		case !isListed:
			kind = FaultForeign
		}
		if sums[i].exists() {
			e.sums[key] = sums[i]
			for _, other := range sortedKeys(listed) {
				if o := listed[other].fileSum; o == sums[i] && other != key {
					kind, fault = FaultExchanged, errors.New("it holds the bytes of "+other)
					break
				}
			}
		}
		e.add(key, kind, fault.Error())
	}
	return nil
}

// each does the work for numbers below n, several at a time, and returns the first error.
func each(n int, work func(i int) error) error {
	errs := make([]error, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				errs[i] = work(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// has reports whether a file has a fault already that says that its content is not its own.
func (e *examination) has(key string) bool {
	return slices.ContainsFunc(e.faults, func(f Fault) bool { return f.File == key && f.Kind != FaultLacking && f.Kind != FaultUnended })
}

// readParts reads every row of the parts that are as listed, since one that was listed
// after it was damaged would pass.
func (e *examination) readParts() error {
	found, err := listedFiles(e.dir)
	if err != nil {
		return err
	}
	found = slices.DeleteFunc(found, func(key string) bool {
		_, _, ok := isPart(key)
		return !ok || e.has(key)
	})
	problems := make([]*schemas.Problem, len(found))
	err = each(len(found), func(i int) error {
		table, month, _ := isPart(found[i])
		err := eachRecording(e.path(found[i]), tableNamed(table), month, func(string) {})
		if errors.As(err, &problems[i]) {
			return nil
		}
		return err
	})
	for i, p := range problems {
		if p != nil {
			e.add(found[i], FaultDamaged, causeOf(p))
		}
	}
	return err
}

// eachRecording reads a part to its end and hands out its recordings in order. The error of a
// damaged one is a schemas.Problem, and so is that of a part with a flight of another
// month.
func eachRecording(path string, t *table, month string, use func(sha string)) error {
	p, err := t.openPart(path)
	if err != nil {
		return err
	}
	defer p.close()
	start := -1
	if t.name == schemas.FlightsTable {
		start = columnOf(t.schema, "start_utc")
	}
	last := ""
	for {
		row, sha, err := p.peek()
		if err != nil || row == nil {
			return err
		}
		if sha != last {
			use(sha)
			last = sha
		}
		for _, cell := range row {
			if cell.Column() != start || cell.IsNull() {
				continue
			}
			if of := utcMonth(cell.Int64()); of != month {
				return damaged(path, errors.New("it holds a flight of "+of))
			}
		}
		p.next++
	}
}

// readIdentity compares the file identity with its copy in the list, and reads what a run left unreported.
func (e *examination) readIdentity() error {
	mark, err := os.ReadFile(e.path(markName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err == nil {
		e.files++
	}
	switch {
	case e.list == nil || string(mark) == e.list.Identity:
	case err != nil:
		e.add(markName, FaultMissing, "identity is withheld in this archive, and the file that says so is missing")
	case e.list.Identity == "":
		e.add(markName, FaultForeign, "this archive holds names")
	default:
		e.add(markName, FaultDamaged, "it is not that of this archive")
	}
	told, err := os.ReadFile(e.path(unreportedName))
	if _, ok := checkedBody(told); err == nil && !ok {
		e.add(unreportedName, FaultDamaged, "it does not have the checksum of its first line")
	}
	return nil
}
