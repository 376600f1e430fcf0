package archive

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"github.com/parquet-go/parquet-go"

	"downlock/report/review"
	"downlock/schemas"
)

// Verdicts returns a row for every verdict of review on an event, by event and
// time. Verdicts that are damaged are left out and listed. The error is one of
// reading.
func Verdicts(dir string) (rows []schemas.VerdictRow, damaged schemas.Problems, err error) {
	latest, damaged, err := review.Latest(dir)
	if err != nil || len(latest) == 0 {
		return nil, damaged, err
	}
	now := map[string]schemas.EventRow{}
	months := map[string]string{}
	seen := func(id string) bool { _, ok := latest[id]; return ok }
	err = EventsWith(dir, seen, func(month string, e *schemas.EventRow) error {
		now[e.EventID], months[e.EventID] = *e, month
		return nil
	})
	if err != nil {
		return nil, damaged, err
	}
	for _, id := range slices.Sorted(maps.Keys(latest)) {
		history, _, err := review.History(dir, id) // what is damaged was listed above
		if err != nil {
			return nil, damaged, err
		}
		event, there := now[id]
		for i, v := range history {
			rows = append(rows, schemas.VerdictRow{EventID: id, Month: months[id], Verdict: string(v.Finding), Cause: v.Cause, Comment: v.Comment,
				By: v.By, AtUTC: v.At, Latest: i == len(history)-1, Outdated: there && v.Outdated(event), Gone: !there, OccurrenceID: event.OccurrenceID})
		}
	}
	return rows, damaged, nil
}

// verdictsPart is the table of verdicts. They are few, so that it is one part.
var verdictsPart = filepath.Join(tablesFolder, schemas.VerdictsTable, "part.parquet")

// KeepVerdicts brings the table of verdicts up to date with the reviews and the
// events, for a reviewer. No lock is needed: of several at a time each looks again
// when its table is in place, so that the last one has seen what all of them have
// written. Damaged verdicts are left out and listed. The error is a
// schemas.Problem or an output.Error.
func KeepVerdicts(dir string, share bool) (damaged schemas.Problems, err error) {
	var random [8]byte
	rand.Read(random[:]) // never fails, says its documentation
	temporary := filepath.Join(dir, filepath.Dir(verdictsPart), ".part.parquet-"+hex.EncodeToString(random[:]))
	return keepVerdicts(dir, temporary, realDisk{share})
}

// KeepVerdicts does it for a run.
func (a *Archive) KeepVerdicts() (damaged schemas.Problems, err error) {
	damaged, err = keepVerdicts(a.dir, a.newFile(verdictsPart), a.disk)
	if removing := a.disk.remove(a.newFile("")); err == nil {
		err = outputError(a.newFile(""), removing)
	}
	return damaged, err
}

// keepVerdicts writes the table, by a temporary file, until it is the one that
// should be there.
func keepVerdicts(dir, temporary string, d disk) (damaged schemas.Problems, err error) {
	place := filepath.Join(dir, verdictsPart)
	for {
		rows, damaged, err := Verdicts(dir)
		if err != nil {
			return damaged, outputError(place, err)
		}
		var table bytes.Buffer
		if err := WriteVerdicts(&table, rows); err != nil {
			return damaged, outputError(place, err)
		}
		if there, err := os.ReadFile(place); err == nil && bytes.Equal(there, table.Bytes()) {
			return damaged, nil
		}
		a, folders := &Archive{dir: dir, disk: d}, &unsynced{}
		if err = a.makeFolder(filepath.Dir(verdictsPart), folders); err == nil {
			err = writeFile(d, temporary, place, true, func(w io.Writer) error {
				_, err := w.Write(table.Bytes())
				return err
			})
		}
		if err == nil {
			err = d.rename(temporary, place)
		}
		if err == nil {
			folders.note(filepath.Dir(verdictsPart))
			err = a.settle(folders)
		}
		if err != nil {
			d.remove(temporary)
			return damaged, outputError(place, err)
		}
	}
}

// WriteVerdicts writes rows as a table.
func WriteVerdicts(w io.Writer, rows []schemas.VerdictRow) error {
	return parquet.Write(w, rows, parquet.CreatedBy("downlock", "", ""),
		parquet.KeyValueMetadata(versionKey, strconv.Itoa(schemas.VerdictsVersion)), parquet.Compression(&parquet.Zstd))
}
