package archive

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"downlock/schemas"
)

// Events hands out the events of an archive by month, those of one month in the
// order of the table; a month YYYY-MM, or unknown, asks for that one alone, "" for
// all. The row is good until each returns. No lock is needed: a part is read
// whole, as it was when it was opened. The error is each's own, or a
// schemas.Problem of an archive that is none or is damaged.
func Events(dir, month string, each func(month string, row *schemas.EventRow) error) error {
	return eachRow(dir, schemas.EventsTable, month, each)
}

// Flights does the same with the flights.
func Flights(dir, month string, each func(month string, row *schemas.FlightRow) error) error {
	return eachRow(dir, schemas.FlightsTable, month, each)
}

// EventsWith hands out the events whose ids are wanted. Of the others it reads
// the ids alone, so that one event of years is found in a second.
func EventsWith(dir string, wanted func(id string) bool, each func(month string, row *schemas.EventRow) error) error {
	months, err := monthsOf(dir, schemas.EventsTable)
	if err != nil {
		return err
	}
	for _, month := range months {
		if err := eventsWith(dir, month, wanted, each); err != nil {
			return err
		}
	}
	return nil
}

func eventsWith(dir, month string, wanted func(string) bool, each func(string, *schemas.EventRow) error) error {
	t := tableNamed(schemas.EventsTable)
	p, err := t.openPart(filepath.Join(dir, partPath(t.name, month)))
	if err != nil {
		return err
	}
	defer p.close()
	rows, err := p.rowsWhere("event_id", wanted)
	if err != nil {
		return err
	}
	for _, n := range rows {
		if err := p.seek(n); err != nil {
			return err
		}
		if err := handOut(t, p, month, each); err != nil {
			return err
		}
	}
	return nil
}

func eachRow[T any](dir, name, month string, each func(string, *T) error) error {
	months, err := monthsOf(dir, name)
	if err != nil {
		return err
	}
	for _, m := range months {
		if month != "" && m != month {
			continue
		}
		if err := eachRowOf(dir, name, m, each); err != nil {
			return err
		}
	}
	return nil
}

// monthsOf lists the months a table has a part of.
func monthsOf(dir, name string) ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(dir, tablesFolder, name))
	if errors.Is(err, fs.ErrNotExist) {
		if _, other := os.Stat(filepath.Join(dir, tablesFolder)); other == nil {
			return nil, nil // a table without a row
		}
		return nil, &schemas.Problem{File: dir, Cause: "is not an archive: it has no tables", Hint: "name the folder `downlock scan --archive` writes, after a first run"}
	}
	if err != nil {
		return nil, err
	}
	var months []string
	for _, e := range entries {
		if m, ok := strings.CutPrefix(e.Name(), "month="); ok {
			months = append(months, m)
		}
	}
	return months, nil
}

func eachRowOf[T any](dir, name, month string, each func(string, *T) error) error {
	t := tableNamed(name)
	p, err := t.openPart(filepath.Join(dir, partPath(name, month)))
	if err != nil {
		return err
	}
	defer p.close()
	for {
		if row, _, err := p.peek(); err != nil || row == nil {
			return err
		}
		if err := handOut(t, p, month, each); err != nil {
			return err
		}
	}
}

// handOut hands out the row that is next.
func handOut[T any](t *table, p *part, month string, each func(string, *T) error) error {
	row, _, err := p.peek()
	if err != nil {
		return err
	}
	var out T
	if err := t.schema.Reconstruct(&out, row); err != nil {
		return damaged(p.path, err)
	}
	p.next++
	return each(month, &out)
}

// tableNamed is one of the five.
func tableNamed(name string) *table {
	for i := range tables {
		if tables[i].name == name {
			return &tables[i]
		}
	}
	return nil
}
