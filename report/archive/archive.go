// Package archive keeps the findings of years of nightly runs: five Parquet tables
// (flights, events, evaluations, measurements, audits; one part a month) and a
// ledger of inputs, settings and outcomes, so that a run skips
// inputs it has already done.
//
// In go the results of one input at a time; they are staged, and
// Commit merges it into the tables and the ledger. Rows belong to a recording,
// by its SHA-256: scanned again it replaces its own rows and no others, and an
// input whose file was corrected takes the rows of the recording it held before
// with it, unless another input holds that one too. From the same recordings,
// profile and packs come the same bytes of the tables whatever the order, the
// number of jobs, or how often the run was begun.
//
// A reader of the folder finds whole files, old or new, at any time. Nothing in
// tables and ledger tells the time of a run.
//
//	tables/TABLE/month=YYYY-MM/part.parquet   month of the flight's start, UTC; month=unknown without a date
//	tables/verdicts/part.parquet              made of reviews/ and the events
//	tables/actions/part.parquet               the same; only where an action was noted
//	ledger/inputs/, ledger/recordings/        sorted lines of JSON, each with a check
//	checksums                                 of the parts of the five tables and of the ledger
//	runs/TIME/batch.json, runs/checksums      figures and failures of each run
//	unreported                                of a run until its batch.json is there
//	staging/, new/                            of a run; an interrupted one is finished by the next
//	arrays/TIME/                              plan and results of a run spread over machines; see Array
//	identity                                  only where identity is withheld
//	reviews/                                  see package review
//	replaced/TIME/                            files that Repair replaced, by their paths
//	lock
package archive

import (
	"downlock/schemas"
	"path/filepath"
	"slices"
	"sync/atomic"
	"time"

	"github.com/gofrs/flock"
)

const (
	tablesFolder  = "tables"
	ledgerFolder  = "ledger"
	stagingFolder = "staging"
	newFolder     = "new"
	lockName      = "lock"
)

// Archive is an archive this process holds the lock of. Unchanged, Stage and
// StageFailure may be called by several goroutines, the others by one.
type Archive struct {
	dir      string
	run      *Run
	disk     disk
	lock     *flock.Flock
	known    map[string]remembered // by key of the input; not changed while inputs are scanned
	changing bool                  // files were renamed and staging is not empty yet
	sums     *checksums            // as the last commit left it; nil in an archive without
	unmerged Unmerged              // what damaged files keep from the archive
	lost     atomic.Bool           // the lock may be another's now
	figures  string                // where the figures of the run go, below the archive
	earlier  []Unreported          // by runs before
}

// Open takes the archive for a run, making it when missing, and finishes the inputs that a
// run before left staged. The inputs are those the run will ask about. The error
// is a LockedError, a schemas.Problem of a damaged file, or an output.Error.
func Open(dir string, run *Run, inputs []Input) (*Archive, error) {
	return open(dir, run, inputs, realDisk{run.Share})
}

func open(dir string, run *Run, inputs []Input, d disk) (*Archive, error) {
	lock, err := lockArchive(dir, run.Share, run.Work)
	if err != nil {
		return nil, err
	}
	a := &Archive{dir: dir, run: run, disk: d, lock: lock, known: map[string]remembered{}}
	a.figures = a.free(runsFolder, run.Began, batchName)
	if err = a.loadChecksums(); err == nil {
		err = a.mark()
	}
	if err == nil {
		err = a.takeOver()
	}
	if err == nil && a.unmerged.Inputs > 0 {
		a.Discard() // the ledger does not know them, so they are scanned again
	}
	if err == nil {
		err = a.remember(inputs)
	}
	if err != nil {
		a.Close()
		return nil, outputError(dir, err)
	}
	return a, nil
}

// Close sets the archive free. Staged inputs that are not committed stay for the
// next run.
func (a *Archive) Close() {
	if a.lock != nil { // in tests alone
		a.lock.Close()
	}
}

// Unchanged reports whether the input was scanned before, to the end, with the
// same profile, packs and version, and is the same file still: by size and times
// where those can be trusted, else by its hash, which is noted for the next time.
// sight is how it looked at the time now.
func (a *Archive) Unchanged(in Input, sight Sight, now time.Time) (bool, error) {
	m := a.known[inputKey(a.place(in))]
	if !m.current {
		return false, nil
	}
	if m.sight == a.seal(sight) && m.sight.tells() {
		return true, nil
	}
	sum, err := in.sum()
	sum = a.run.Identity.Sum(sum)
	if err != nil || sum != m.sum {
		return false, nil // what is wrong with it shows when it is scanned
	}
	after, err := in.Look()
	if err != nil || after != sight {
		return false, nil
	}
	head := a.newHead(in, sight, now)
	head.Entry.SHA256, head.Entry.Recording, head.Entry.Outcome = sum, m.recording, done
	head.Entry.Flights = m.flights
	return true, a.stage(head, nil)
}

// StageFailure notes that an input could not be scanned. The rows it gave
// before, if any, stay.
func (a *Archive) StageFailure(in Input, sight Sight, now time.Time, cause error) error {
	return a.stage(a.failureHead(in, sight, now, cause), nil)
}

func (a *Archive) failureHead(in Input, sight Sight, now time.Time, cause error) stagedHead {
	head := a.newHead(in, sight, now)
	head.Entry.Outcome, head.Entry.Cause = failed, clip(text(cause.Error()))
	head.Entry.Recording = head.Was
	if slices.ContainsFunc(in.Files, schemas.IsObject) {
		return head // it would be fetched once more for a hash that nothing depends on
	}
	if sum, err := in.sum(); err == nil {
		head.Entry.SHA256 = a.run.Identity.Sum(sum)
	}
	return head
}

// place is the name the ledger knows an input by: its absolute path, or the tokens of
// it, which its path is where identity is withheld.
func (a *Archive) place(in Input) string {
	if a.run.Identity != nil {
		return in.Path
	}
	return schemas.Absolute(in.Path)
}

// seal hides the size and times of a file, which tell a flight's date, where
// identity is withheld. They are only ever compared.
func (a *Archive) seal(s Sight) Sight {
	key := a.run.Identity
	return Sight{key.Number(s.Size), key.Number(s.Modified), key.Number(s.Changed), key.Sum(s.ETag)}
}

// clip bounds the cause of a failure in the ledger.
func clip(s string) string {
	const most = 2000
	if len(s) <= most {
		return s
	}
	return text(s[:most]) + " …"
}

func (a *Archive) newHead(in Input, sight Sight, now time.Time) stagedHead {
	path := a.place(in)
	head := stagedHead{Entry: newSetting(a.runOf(in)), Name: text(filepath.Base(path)), Shard: inputShard(path)}
	head.Entry.Key, head.Entry.Path = inputKey(path), text(path)
	head.Was = a.known[head.Entry.Key].recording
	sealed := a.seal(sight)
	head.Entry.Size, head.Entry.ETag = sealed.Size, sealed.ETag
	if sight.atRest(now) {
		head.Entry.Modified, head.Entry.Changed = sealed.Modified, sealed.Changed
	}
	return head
}

// Commit merges the staged inputs into tables and ledger. When it cannot be
// written, as on a full disk, the archive stays as it was and the staged inputs are
// dropped. The error is an Unmerged where damaged files keep some inputs from the archive
// and the others are in it, a schemas.Problem, an output.Error, or a LockLostError.
func (a *Archive) Commit() error {
	err := a.commit()
	if err == nil && a.unmerged.Inputs > 0 {
		err = &a.unmerged
	}
	if err != nil {
		a.Discard()
	}
	return err
}

// Discard drops the staged inputs, unless a commit was cut off that needs them.
func (a *Archive) Discard() {
	if !a.changing && !a.lost.Load() {
		a.disk.remove(filepath.Join(a.dir, stagingFolder))
	}
}

// newFile is where a new file waits for its place; name is below the archive.
func (a *Archive) newFile(name string) string { return filepath.Join(a.dir, newFolder, name) }
