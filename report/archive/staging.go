package archive

import (
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A finished input waits in staging as one file until the tables and the ledger
// are written anew at the end of the run, so that a run's memory does not grow
// with its inputs, and a run that is killed loses the inputs it was at, no
// others. The file holds one record; that of an array has many. It is on disk before a
// commit changes anything: from then on only the staged files can finish the change. One
// that a power cut has damaged before that fails its sum and is dropped, and its input is
// scanned again, since the ledger does not know it yet.

// stagedHead is a staged input without its rows.
type stagedHead struct {
	Entry inputEntry `json:"entry"`
	Name  string     `json:"name"` // base name of the input
	// Was is the recording this input held before; "" when it held none.
	Was string `json:"was"`
	// Before is the mark of the entry that the ledger had of the input when an array was
	// planned; see mergeGroup.
	Before string `json:"before,omitempty"`
	// Scanned says that the flights that follow replace the recording's rows; not
	// for a failure, or an input only found unchanged by its hash.
	Scanned bool     `json:"scanned"`
	Months  []string `json:"months"` // of the flights, sorted
	Shard   string   `json:"shard"`  // of the ledger, for the entry
	// Report is what the run reports of the input; see unreported.
	Report json.RawMessage `json:"report,omitempty"`

	sum string // of the staged file
}

const stagedEnding = ".staged"

func (a *Archive) stage(head stagedHead, flights []flightRows) error {
	record, err := newRecord(head, flights)
	if err != nil {
		return err
	}
	if err := a.stillOurs(); err != nil {
		return err
	}
	place := filepath.Join(a.dir, stagingFolder, head.Entry.Key+stagedEnding)
	unfinished := strings.TrimSuffix(place, stagedEnding) + ".unfinished"
	err = writeFile(a.disk, unfinished, place, false, func(w io.Writer) error {
		_, err := w.Write(record)
		return err
	})
	if err != nil {
		return err
	}
	if err := a.disk.rename(unfinished, place); err != nil {
		a.disk.remove(unfinished)
		return outputError(place, err)
	}
	return nil
}

// staged is the part of a staged file that a plan keeps.
type staged struct {
	file    string
	at      int64 // place of the record in the file
	shard   string
	holder  holder
	sha     string // of the recording its rows are of
	was     string
	scanned bool
	months  []string
}

// stagedFiles lists the staged files by the key of the input. Damaged and
// unfinished files are taken away.
func (a *Archive) stagedFiles() ([]staged, error) {
	folder := filepath.Join(a.dir, stagingFolder)
	names, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, outputError(folder, err)
	}
	var all []staged
	for _, n := range names {
		path := filepath.Join(folder, n.Name())
		found := len(all)
		ok := strings.HasSuffix(n.Name(), stagedEnding)
		if ok {
			err := eachRecord(path, func(at int64, _ string, line, _ []byte) error {
				var head stagedHead
				if json.Unmarshal(line, &head) != nil {
					return errRecord
				}
				all = append(all, staged{file: path, at: at, shard: head.Shard, holder: holder{head.Entry.Key, head.Name},
					sha: head.Entry.Recording, was: head.Was, scanned: head.Scanned, months: head.Months})
				return nil
			})
			ok = err == nil && len(all) > found
			if err != nil && !errors.Is(err, errRecord) {
				return nil, outputError(path, err)
			}
		}
		if !ok {
			all = all[:found]
			if err := a.disk.remove(path); err != nil {
				return nil, outputError(path, err)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b staged) int { return strings.Compare(a.holder.Input, b.holder.Input) })
	return all, nil
}
