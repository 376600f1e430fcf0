package archive

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"time"

	"downlock/report/review"
	"downlock/schemas"
)

// Actions returns a row for every action of review on an event, by event and time. Those
// that are damaged are left out and listed. One whose file is lost has a row still where
// the table of actions has one, and is listed too. The error is one of reading.
func Actions(dir string) (rows []schemas.ActionRow, damaged schemas.Problems, err error) {
	ids, err := review.Events(dir)
	if err != nil {
		return nil, nil, err
	}
	of := map[string][]schemas.ActionRow{} // by event
	for _, id := range ids {
		list, bad, err := review.Actions(dir, id)
		if err != nil {
			return nil, damaged, err
		}
		damaged = append(damaged, bad...)
		for _, a := range list {
			of[id] = append(of[id], schemas.ActionRow{EventID: id, Action: string(a.Kind), Value: a.Value, By: a.By, AtUTC: a.At, File: a.Name})
		}
		markLatest(of[id])
	}
	for _, row := range lostActions(dir, of) {
		of[row.EventID] = append(of[row.EventID], row)
		damaged = append(damaged, lostAction(dir, row, damaged)...)
	}
	if len(of) == 0 {
		return nil, damaged, nil
	}
	now := map[string]schemas.EventRow{}
	months := map[string]string{}
	err = EventsWith(dir, func(id string) bool { return len(of[id]) > 0 }, func(month string, e *schemas.EventRow) error {
		now[e.EventID], months[e.EventID] = *e, month
		return nil
	})
	if err != nil {
		return nil, damaged, err
	}
	for _, id := range sortedKeys(of) {
		event, there := now[id]
		slices.SortStableFunc(of[id], func(a, b schemas.ActionRow) int { return a.AtUTC.Compare(b.AtUTC) })
		for _, row := range of[id] {
			row.Month, row.Gone, row.OccurrenceID = months[id], !there, event.OccurrenceID
			rows = append(rows, row)
		}
	}
	return rows, damaged, nil
}

// markLatest marks the last row of each action; rows are in order of time.
func markLatest(rows []schemas.ActionRow) {
	last := map[string]int{}
	for i := range rows {
		last[rows[i].Action] = i
	}
	for _, i := range last {
		rows[i].Latest = true
	}
}

// lostActions returns the rows of the table of actions whose files are lost. No file is ever
// removed, and a row is written after its file.
func lostActions(dir string, files map[string][]schemas.ActionRow) (lost []schemas.ActionRow) {
	rows, err := readReviewed[schemas.ActionRow](filepath.Join(dir, actionsPart))
	if err != nil { // missing, or damaged: then it is made anew
		return nil
	}
	there := map[string]bool{}
	for _, list := range files {
		for _, row := range list {
			there[row.EventID+"/"+row.File] = true
		}
	}
	for _, row := range rows {
		if !there[row.EventID+"/"+row.File] {
			row.Latest = false
			lost = append(lost, row)
		}
	}
	return lost
}

// lostAction is the problem of a lost action, unless it is listed as damaged.
func lostAction(dir string, row schemas.ActionRow, listed schemas.Problems) schemas.Problems {
	file := filepath.Join(dir, reviewsFolder, row.EventID, row.File)
	if slices.ContainsFunc(listed, func(p *schemas.Problem) bool { return p.File == file }) {
		return nil
	}
	cause := fmt.Sprintf("the file of an action is missing: %s %s by %s at %s", row.Action, row.Value, row.By, row.AtUTC.UTC().Format(time.DateTime))
	return schemas.Problems{{File: file, Cause: cause, Hint: "`downlock verify --archive DIR --repair` makes it again from the table of actions"}}
}

func writeActions(w io.Writer, rows []schemas.ActionRow) error {
	return writeReviewed(w, rows, schemas.ActionsVersion)
}

// ActionColumns hands out the rows of the table of actions, as Columns does.
func ActionColumns[T any](dir string, each func(rows []T) error) error {
	return columnsOf(filepath.Join(dir, actionsPart), each)
}

// ActionsPart says how the table of actions is now, as VerdictsPart does.
func ActionsPart(dir string) (part Part, there bool, err error) {
	return partAt(filepath.Join(dir, actionsPart))
}

// mendActions writes lost actions again, of the table.
func (r *repairing) mendActions() error {
	rows, _ := readReviewed[schemas.ActionRow](r.e.path(filepath.ToSlash(actionsPart)))
	err := r.each(isOurs, func(f *Fault) error {
		i := slices.IndexFunc(rows, func(row schemas.ActionRow) bool { return reviewsFolder+"/"+row.EventID+"/"+row.File == f.File })
		if i < 0 {
			return nil
		}
		text, err := review.ActionText(rows[i].File, review.Action{Event: rows[i].EventID, Kind: review.ActionKind(rows[i].Action), Value: rows[i].Value, By: rows[i].By})
		if err != nil {
			return nil // it stays as it is, and is said
		}
		f.Mended = "made again of the table of actions"
		return r.replace(f, text)
	})
	if err != nil {
		return err
	}
	return r.each(func(f *Fault) bool { return f.File == filepath.ToSlash(actionsPart) }, func(f *Fault) error {
		f.Mended = "made again of the actions"
		return r.takeAway(f)
	})
}
