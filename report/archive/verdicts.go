package archive

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/parquet-go/parquet-go"

	pages "downlock/ingest/parquet"
	"downlock/report/review"
	"downlock/schemas"
)

// Verdicts returns a row for every verdict of review on an event, by event and
// time. Verdicts that are damaged are left out and listed. One whose file is lost has a
// row still where the table of verdicts has one, and is listed too. The error is one of
// reading.
func Verdicts(dir string) (rows []schemas.VerdictRow, damaged schemas.Problems, err error) {
	latest, damaged, err := review.Latest(dir)
	if err != nil {
		return nil, damaged, err
	}
	files := map[string][]review.File{}
	for _, id := range slices.Sorted(maps.Keys(latest)) {
		if files[id], _, err = review.Files(dir, id); err != nil { // what is damaged was listed above
			return nil, damaged, err
		}
	}
	lost := lostVerdicts(dir, files)
	if len(files) == 0 && len(lost) == 0 {
		return nil, damaged, nil
	}
	now := map[string]schemas.EventRow{}
	months := map[string]string{}
	seen := func(id string) bool { return len(files[id]) > 0 || len(lost[id]) > 0 }
	err = EventsWith(dir, seen, func(month string, e *schemas.EventRow) error {
		now[e.EventID], months[e.EventID] = *e, month
		return nil
	})
	if err != nil {
		return nil, damaged, err
	}
	all := maps.Clone(lost)
	for id, list := range files {
		for i, f := range list {
			all[id] = append(all[id], schemas.VerdictRow{EventID: id, Verdict: string(f.Finding), Cause: f.Cause, Comment: f.Comment,
				By: f.By, AtUTC: f.At, Latest: i == len(list)-1, File: f.Name, Evidence: f.Evidence})
		}
	}
	for _, id := range slices.Sorted(maps.Keys(all)) {
		event, there := now[id]
		slices.SortStableFunc(all[id], func(a, b schemas.VerdictRow) int { return a.AtUTC.Compare(b.AtUTC) })
		for _, row := range all[id] {
			row.Month, row.Gone, row.OccurrenceID = months[id], !there, event.OccurrenceID
			row.Outdated = there && row.Evidence != review.Evidence(event)
			rows = append(rows, row)
		}
		for _, row := range lost[id] {
			damaged = append(damaged, lostVerdict(dir, row, damaged)...)
		}
	}
	return rows, damaged, nil
}

// lostVerdicts returns the rows of the table of verdicts whose files are lost, by event.
// No verdict is ever removed, and a row is written after its file.
func lostVerdicts(dir string, files map[string][]review.File) map[string][]schemas.VerdictRow {
	lost := map[string][]schemas.VerdictRow{}
	rows, err := readVerdicts(filepath.Join(dir, verdictsPart))
	if err != nil { // missing, or damaged: then it is made anew
		return lost
	}
	for _, row := range rows {
		there := slices.ContainsFunc(files[row.EventID], func(f review.File) bool {
			if row.File != "" {
				return f.Name == row.File
			}
			return string(f.Finding) == row.Verdict && f.By == row.By && f.At.Truncate(time.Millisecond).Equal(row.AtUTC)
		})
		if !there {
			row.Latest = false
			lost[row.EventID] = append(lost[row.EventID], row)
		}
	}
	return lost
}

// lostVerdict is the problem of a lost verdict, unless it is listed as damaged.
func lostVerdict(dir string, row schemas.VerdictRow, listed schemas.Problems) schemas.Problems {
	file := filepath.Join(dir, "reviews", row.EventID, row.File)
	if slices.ContainsFunc(listed, func(p *schemas.Problem) bool { return row.File != "" && p.File == file }) {
		return nil
	}
	cause := fmt.Sprintf("the file of a verdict is missing: %s by %s at %s", row.Verdict, row.By, row.AtUTC.UTC().Format(time.DateTime))
	return schemas.Problems{{File: file, Cause: cause, Hint: "`downlock verify --archive DIR --repair` makes it again from the table of verdicts where that has all of it"}}
}

// readVerdicts reads a table of verdicts.
func readVerdicts(path string) ([]schemas.VerdictRow, error) {
	return readReviewed[schemas.VerdictRow](path)
}

// readReviewed reads a table of rows of a type, whole.
func readReviewed[T any](path string) (rows []T, err error) {
	p := &part{path: path}
	defer func() { err = p.damage(recover(), err) }()
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	opened, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	var row T
	known := parquet.SchemaOf(row)
	for _, column := range opened.Schema().Columns() {
		if _, ok := known.Lookup(column...); !ok {
			return nil, fmt.Errorf("it is of another table: it has a column %s", strings.Join(column, "."))
		}
	}
	return parquet.Read[T](bytes.NewReader(data), int64(len(data)))
}

// verdictsPart is the table of verdicts, actionsPart that of actions. They are few, so that
// each is one part.
var (
	verdictsPart = filepath.Join(tablesFolder, schemas.VerdictsTable, "part.parquet")
	actionsPart  = filepath.Join(tablesFolder, schemas.ActionsTable, "part.parquet")
)

// KeepVerdicts brings the tables of verdicts and of actions up to date with the reviews
// and the events, for a reviewer. No lock is needed: of several at a time each looks again
// when its table is in place, so that the last one has seen what all of them have
// written. Damaged files are left out and listed. The error is a
// schemas.Problem or an output.Error.
func KeepVerdicts(dir string, share bool) (damaged schemas.Problems, err error) {
	return keepReviews(dir, func(place string) string {
		var random [8]byte
		rand.Read(random[:]) // never fails, says its documentation
		return filepath.Join(dir, filepath.Dir(place), ".part.parquet-"+hex.EncodeToString(random[:]))
	}, realDisk{share})
}

// KeepVerdicts does it for a run.
func (a *Archive) KeepVerdicts() (damaged schemas.Problems, err error) {
	damaged, err = keepReviews(a.dir, a.newFile, a.disk)
	if removing := a.disk.remove(a.newFile("")); err == nil {
		err = outputError(a.newFile(""), removing)
	}
	return damaged, err
}

func keepReviews(dir string, temporary func(place string) string, d disk) (damaged schemas.Problems, err error) {
	damaged, err = keepTable(dir, verdictsPart, temporary(verdictsPart), d, func() (bytes.Buffer, schemas.Problems, error) {
		var table bytes.Buffer
		rows, damaged, err := Verdicts(dir)
		if err == nil {
			err = WriteVerdicts(&table, rows)
		}
		return table, damaged, err
	})
	if err != nil {
		return damaged, err
	}
	more, err := keepTable(dir, actionsPart, temporary(actionsPart), d, func() (bytes.Buffer, schemas.Problems, error) {
		var table bytes.Buffer
		rows, damaged, err := Actions(dir)
		if _, missing := os.Stat(filepath.Join(dir, actionsPart)); err == nil && (len(rows) > 0 || missing == nil) {
			err = writeActions(&table, rows)
		}
		return table, damaged, err
	})
	return append(damaged, more...), err
}

// keepTable writes a table, by a temporary file, until it is the one that should be there.
// One without bytes is not written.
func keepTable(dir, part, temporary string, d disk, made func() (bytes.Buffer, schemas.Problems, error)) (damaged schemas.Problems, err error) {
	place := filepath.Join(dir, part)
	for {
		table, damaged, err := made()
		if err != nil {
			return damaged, outputError(place, err)
		}
		if there, err := os.ReadFile(place); table.Len() == 0 || err == nil && bytes.Equal(there, table.Bytes()) {
			return damaged, nil
		}
		a, folders := &Archive{dir: dir, disk: d}, &unsynced{}
		if err = a.makeFolder(filepath.Dir(part), folders); err == nil {
			err = writeFile(d, temporary, place, true, func(w io.Writer) error {
				_, err := w.Write(table.Bytes())
				return err
			})
		}
		if err == nil {
			err = d.rename(temporary, place)
		}
		if err == nil {
			folders.note(filepath.Dir(part))
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
	return writeReviewed(w, rows, schemas.VerdictsVersion)
}

func writeReviewed[T any](w io.Writer, rows []T, version int) error {
	return parquet.Write(w, rows, parquet.CreatedBy("downlock", "", ""),
		parquet.KeyValueMetadata(versionKey, strconv.Itoa(version)), parquet.KeyValueMetadata(schemas.CautionKey, schemas.Caution), parquet.Compression(pages.Zstd))
}
