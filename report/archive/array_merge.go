package archive

import (
	"encoding/json"
	"errors"
	"io"
	"maps"
	"path/filepath"
	"slices"

	"downlock/report/output"
)

// MergedInput is an input of an array whose results are in tables and ledger now.
type MergedInput struct {
	Path   string
	Size   int64
	Report json.RawMessage // as in Rows; of a failure none
	Cause  string          // of a failure
}

// Merged are the figures of a merge.
type Merged struct {
	Already    int // inputs that were in the archive already, by a merge before
	Superseded int // inputs that another run scanned since the plan; its results stay
	MonthsLeft int // that the merge was told to leave
}

// place is where a chunk has the record of an input.
type place struct {
	chunk int
	at    int64
}

// MergeArray commits the results that are there, month by month, so that its memory and what a
// kill undoes are those of a month: an input belongs to the month of its first flight. It ends
// after so many months, 0 for no bound. told says aloud what a commit has put into the archive.
// The error is one of Commit.
func (a *Archive) MergeArray(r *Array, most int, told func(month string, inputs []MergedInput)) (m Merged, err error) {
	merged, err := r.merged()
	if err != nil {
		return m, err
	}
	months := map[string][]place{} // "" for inputs without a flight
	var chunks []int
	for n := range r.Chunks() {
		if merged[n] {
			continue
		}
		_, there, err := r.readChunk(n, func(at int64, head stagedHead, _ []byte) error {
			month := ""
			if len(head.Months) > 0 {
				month = head.Months[0]
			}
			months[month] = append(months[month], place{n, at})
			return nil
		})
		if err != nil {
			return m, outputError(r.chunkPath(n), err)
		}
		if there {
			chunks = append(chunks, n)
		}
	}
	committed := 0
	for _, month := range sortedKeys(months) {
		if most > 0 && committed == most {
			m.MonthsLeft++
			continue
		}
		inputs, err := a.mergeMonthOf(r, months[month], &m)
		if err != nil {
			return m, err
		}
		if len(inputs) > 0 {
			committed++
			told(month, inputs)
		}
	}
	if m.MonthsLeft > 0 || a.unmerged.Inputs > 0 {
		return m, nil
	}
	return m, a.endChunks(r, slices.AppendSeq(chunks, maps.Keys(merged)))
}

// mergeMonthOf stages the results at places and commits them, but those that the archive has
// already and those of inputs whose entry is no longer the one the array was planned with:
// another run, which is newer, has scanned them since.
func (a *Archive) mergeMonthOf(r *Array, places []place, m *Merged) (inputs []MergedInput, err error) {
	wanted := map[string][]string{}
	if err := r.records(places, func(head stagedHead, _ []byte) error {
		wanted[head.Shard] = append(wanted[head.Shard], head.Entry.Key)
		return nil
	}); err != nil {
		return nil, err
	}
	marks := map[string]string{}
	if err := a.readEntries(wanted, func(e *inputEntry, line []byte) { marks[e.Key] = entryMark(line) }); err != nil {
		return nil, err
	}
	staging := filepath.Join(a.dir, stagingFolder, filepath.Base(r.Dir))
	err = writeFile(a.disk, staging+unfinishedEnding, staging, false, func(w io.Writer) error {
		return r.records(places, func(head stagedHead, rows []byte) error {
			switch marks[head.Entry.Key] {
			case entryMark(encodeLine(head.Entry)):
				m.Already++
				return nil
			case head.Before:
			default:
				m.Superseded++
				return nil
			}
			inputs = append(inputs, MergedInput{head.Entry.Path, head.Entry.Size, head.Report, head.Entry.Cause})
			head.Report, head.Before = nil, "" // told by the merge
			record, err := headRecord(head, rows)
			if err == nil {
				_, err = w.Write(record)
			}
			return err
		})
	})
	if err == nil {
		err = outputError(staging, a.disk.rename(staging+unfinishedEnding, staging+stagedEnding))
	}
	if err != nil {
		a.Discard()
		return nil, err
	}
	if len(inputs) == 0 {
		a.Discard()
		return nil, nil
	}
	before := a.unmerged.Inputs
	err = a.Commit()
	var unmerged *Unmerged
	if errors.As(err, &unmerged) {
		if a.unmerged.Inputs > before {
			inputs = nil // which of them is not known
		}
		err = nil
	}
	return inputs, err
}

// Unmerged returns what damaged files keep from the archive, nil for nothing.
func (a *Archive) Unmerged() error {
	if a.unmerged.Inputs == 0 {
		return nil
	}
	return &a.unmerged
}

// records hands out the records at places, which are in the order of chunks.
func (r *Array) records(places []place, each func(head stagedHead, rows []byte) error) error {
	wanted := map[place]bool{}
	for _, p := range places {
		wanted[p] = true
	}
	for i, p := range places {
		if i > 0 && places[i-1].chunk == p.chunk {
			continue
		}
		_, _, err := r.readChunk(p.chunk, func(at int64, head stagedHead, rows []byte) error {
			if !wanted[place{p.chunk, at}] {
				return nil
			}
			return each(head, rows)
		})
		if err != nil {
			return outputError(r.chunkPath(p.chunk), err)
		}
	}
	return nil
}

// endChunks notes which chunks are merged, and then removes their results: those of a merge that
// was cut off after the note, too.
func (a *Archive) endChunks(r *Array, merged []int) error {
	slices.Sort(merged)
	path := filepath.Join(r.Dir, mergedName)
	err := writeFile(a.disk, path+unfinishedEnding, path, true, func(w io.Writer) error {
		_, err := w.Write(checkedText(append(marshal(merged), '\n')))
		return err
	})
	if err == nil {
		err = a.disk.rename(path+unfinishedEnding, path)
	}
	if err == nil {
		err = a.disk.syncFolder(r.Dir)
	}
	if err != nil {
		return outputError(path, err)
	}
	for _, n := range merged {
		if err := a.disk.remove(r.chunkPath(n)); err != nil {
			return &output.Error{Path: r.chunkPath(n), Err: err}
		}
	}
	return nil
}
