package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// A finished input waits in staging as one file until the tables and the ledger
// are written anew at the end of the run, so that a run's memory does not grow
// with its inputs, and a run that is killed loses the inputs it was at, no
// others. The file is a line with the SHA-256 of the rest, a line with the
// head, and a line per flight. It is on disk before a commit changes anything: from
// then on only the staged files can finish the change. One that a power cut has damaged
// before that fails its sum and is dropped, and its input is scanned again, since the
// ledger does not know it yet.

// stagedHead is a staged input without its rows.
type stagedHead struct {
	Entry inputEntry `json:"entry"`
	Name  string     `json:"name"` // base name of the input
	// Was is the recording this input held before; "" when it held none.
	Was string `json:"was"`
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
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	err := enc.Encode(head)
	for i := range flights {
		if err == nil {
			err = enc.Encode(&flights[i])
		}
	}
	if err != nil {
		return err
	}
	if err := a.stillOurs(); err != nil {
		return err
	}
	place := filepath.Join(a.dir, stagingFolder, head.Entry.Key+stagedEnding)
	unfinished := strings.TrimSuffix(place, stagedEnding) + ".unfinished"
	err = writeFile(a.disk, unfinished, place, false, func(w io.Writer) error {
		_, err := w.Write(checkedText(body.Bytes()))
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

// readStaged reads a staged file and hands its flights to each, where that is
// given; ok is false for a file that is damaged.
func readStaged(path string, each func(*flightRows) error) (head stagedHead, ok bool, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return head, false, err
	}
	body, ok := checkedBody(data)
	if !ok {
		return head, false, nil
	}
	dec := json.NewDecoder(bytes.NewReader(body))
	if dec.Decode(&head) != nil {
		return head, false, nil
	}
	head.sum = string(data[:len(data)-len(body)-1])
	for each != nil && dec.More() {
		var f flightRows
		if err := dec.Decode(&f); err != nil {
			return head, false, err
		}
		if err := each(&f); err != nil {
			return head, false, err
		}
	}
	return head, true, nil
}

// staged is the part of a staged file that a plan keeps.
type staged struct {
	file    string
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
	names, err := os.ReadDir(folder) // sorted by name, so by key
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, outputError(folder, err)
	}
	var all []staged
	for _, n := range names {
		path := filepath.Join(folder, n.Name())
		ok := false
		var head stagedHead
		if strings.HasSuffix(n.Name(), stagedEnding) {
			if head, ok, err = readStaged(path, nil); err != nil {
				return nil, outputError(path, err)
			}
		}
		if !ok {
			if err := a.disk.remove(path); err != nil {
				return nil, outputError(path, err)
			}
			continue
		}
		all = append(all, staged{file: path, shard: head.Shard, holder: holder{head.Entry.Key, head.Name},
			sha: head.Entry.Recording, was: head.Was, scanned: head.Scanned, months: head.Months})
	}
	return all, nil
}
