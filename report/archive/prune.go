package archive

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"downlock/schemas"
)

// PrunedRows says what Prune removed, or would.
type PrunedRows struct {
	Months     []string
	Recordings int // whose rows are all gone
}

// Prune removes the rows of months that ended before a time, in an archive with
// names, and the names and paths of recordings that have no rows left. That they
// were scanned stays known, so that their files, where they are still there, are
// not scanned again and the rows do not come back; --rescan brings them back. In a
// trial it only says so. Where identity is withheld it refuses: no
// row there tells who flew.
//
// The ledger goes first, the tables after it, a month at a time: cut off on the
// way, it can be done again. The error is a LockedError, a schemas.Problem or a
// output.Error.
func Prune(dir string, before time.Time, trial, share bool) (PrunedRows, error) {
	return prune(dir, before, trial, share, realDisk{share})
}

func prune(dir string, before time.Time, trial, share bool, d disk) (p PrunedRows, err error) {
	if check, err := Withheld(dir); err != nil || check != "" {
		if err == nil {
			err = &schemas.Problem{File: dir, Cause: "identity is withheld in this archive: its rows are kept for trends", Hint: "leave --rows out"}
		}
		return p, err
	}
	if _, err := oldMonths(dir, before); err != nil {
		return p, err // before a lock makes a folder of it
	}
	lock, err := lockArchive(dir, share, "")
	if err != nil {
		return p, err
	}
	a := &Archive{dir: dir, disk: d, lock: lock}
	defer a.Close()
	if err := a.loadChecksums(); err != nil {
		return p, err
	}
	if staged, err := a.stagedFiles(); err != nil || len(staged) > 0 {
		if err == nil {
			err = &schemas.Problem{File: dir, Cause: "a run was cut off and is not finished", Hint: "scan once more, which finishes it, and prune after that"}
		}
		return p, err
	}
	if p.Months, err = oldMonths(dir, before); err != nil || len(p.Months) == 0 {
		return p, err
	}
	over := &changeover{}
	p.Recordings, err = a.forget(p.Months, over, trial)
	if err == nil && !trial {
		err = a.change(a.dropMonths(p.Months, over))
	}
	return p, outputError(dir, err)
}

// dropMonths adds the steps that remove the parts of months. Flights, the first table, go
// last: a month is known by its flights.
func (a *Archive) dropMonths(months []string, over *changeover) *changeover {
	for i := len(tables) - 1; i >= 0; i-- {
		over.begin()
		for _, month := range months {
			over.add(partPath(tables[i].name, month), false)
		}
	}
	return over
}

// oldMonths lists the months that ended before a time; not that of flights
// without a date.
func oldMonths(dir string, before time.Time) ([]string, error) {
	months, err := monthsOf(dir, schemas.FlightsTable)
	return slices.DeleteFunc(months, func(m string) bool {
		at, err := time.Parse("2006-01", m)
		return err != nil || at.AddDate(0, 1, 0).After(before)
	}), err
}

// forget takes names and paths of recordings out of the ledger that have rows in
// these months alone, and counts them.
func (a *Archive) forget(months []string, over *changeover, trial bool) (int, error) {
	gone := map[string]bool{}
	over.begin()
	err := a.rewriteShards("recordings", over, trial, func(shard string, text []byte) ([]byte, error) {
		e, err := decodeLine[recordingEntry](shard, text)
		if err != nil || len(e.Months) == 0 || slices.ContainsFunc(e.Months, func(m string) bool { return !slices.Contains(months, m) }) {
			return text, err
		}
		gone[e.Key] = true
		for i := range e.Holders {
			e.Holders[i].Name = ""
		}
		return encodeLine(e), nil
	})
	if err != nil {
		return 0, err
	}
	err = a.rewriteShards("inputs", over, trial, func(shard string, text []byte) ([]byte, error) {
		e, err := decodeLine[inputEntry](shard, text)
		if err != nil || !gone[e.Recording] {
			return text, err
		}
		e.Path, e.Cause = "", ""
		return encodeLine(e), nil
	})
	return len(gone), err
}

// rewriteShards writes the shards of a part of the ledger anew, line by line.
func (a *Archive) rewriteShards(name string, over *changeover, trial bool, line func(shard string, text []byte) ([]byte, error)) error {
	folder := filepath.Join(ledgerFolder, name)
	entries, err := os.ReadDir(filepath.Join(a.dir, folder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		shard := filepath.Join(folder, e.Name())
		place := filepath.Join(a.dir, shard)
		rewrite := func(w io.Writer) error {
			return readShard(place, func(_ string, text []byte) error {
				changed, err := line(place, text)
				if err == nil {
					_, err = w.Write(append(slices.Clip(withCheck(changed)), '\n'))
				}
				return err
			})
		}
		if err := a.check(shard); err != nil {
			return err
		}
		if trial {
			err = rewrite(io.Discard)
		} else {
			over.add(shard, true)
			err = writeFile(a.disk, a.newFile(shard), place, true, rewrite)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
