package archive

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"downlock/report/output"
	"downlock/report/review"
	"downlock/schemas"
)

const (
	reviewsFolder = "reviews"
	// replacedFolder holds what repairs replaced, each in a folder of its time.
	replacedFolder = "replaced"
)

// readReviews reads every verdict and action, and compares their tables with them.
func (e *examination) readReviews() error {
	err := readReviewedPart[schemas.VerdictRow](e, reviewedPart[schemas.VerdictRow]{key: verdictsPart, name: "verdicts", always: e.list != nil, rows: Verdicts, write: WriteVerdicts})
	if err != nil {
		return err
	}
	return readReviewedPart(e, reviewedPart[schemas.ActionRow]{key: actionsPart, name: "actions", rows: Actions, write: writeActions})
}

// reviewedPart is a table that is made of the files of reviewers.
type reviewedPart[T any] struct {
	key    string
	name   string // of its rows
	always bool   // it is there without rows, too
	rows   func(dir string) ([]T, schemas.Problems, error)
	write  func(io.Writer, []T) error
}

func readReviewedPart[T any](e *examination, p reviewedPart[T]) error {
	table := filepath.ToSlash(p.key)
	_, missing := os.Stat(e.path(table))
	if missing == nil || p.always {
		e.files++
	}
	rows, damaged, err := p.rows(e.dir)
	var problem *schemas.Problem
	if err != nil && !errors.As(err, &problem) { // a damaged part was said already
		return err
	}
	if missing != nil {
		if p.always || len(rows) > 0 {
			e.add(table, FaultMissing, "the table of "+p.name+" is missing")
		}
	} else if _, err := readReviewed[T](e.path(table)); err != nil {
		e.add(table, FaultDamaged, causeOf(asProblem(err)))
	}
	for _, p := range damaged {
		key, err := filepath.Rel(e.dir, p.File)
		if err != nil {
			return err
		}
		kind := FaultDamaged
		if info, err := os.Stat(p.File); err != nil || info.IsDir() {
			kind = FaultMissing
		}
		e.add(filepath.ToSlash(key), kind, p.Cause)
	}
	if err == nil && missing == nil && !e.has(table) && len(damaged) == 0 && !e.hasEvents() {
		var want bytes.Buffer
		if err := p.write(&want, rows); err != nil {
			return err
		}
		if got, err := os.ReadFile(e.path(table)); err != nil || !bytes.Equal(got, want.Bytes()) {
			e.add(table, FaultDamaged, "it is not what the "+p.name+" and events say")
		}
	}
	return nil
}

// hasEvents reports whether a part of the events has a fault: what is made of them differs
// then, too, and that is said already.
func (e *examination) hasEvents() bool {
	return slices.ContainsFunc(e.faults, func(f Fault) bool {
		table, _, ok := isPart(f.File)
		return ok && table == schemas.EventsTable
	})
}

func asProblem(err error) *schemas.Problem {
	var problem *schemas.Problem
	if errors.As(err, &problem) {
		return problem
	}
	return &schemas.Problem{Cause: err.Error()}
}

// readRest looks for files that downlock did not write.
func (e *examination) readRest() error {
	return filepath.WalkDir(e.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		key, err := filepath.Rel(e.dir, path)
		if err != nil {
			return err
		}
		key = filepath.ToSlash(key)
		switch key {
		case replacedFolder, newFolder, arraysFolder:
			return fs.SkipDir
		case stagingFolder:
			e.add(key, FaultUnended, "inputs wait that a run was cut off from putting into the archive")
			return fs.SkipDir
		}
		if !d.IsDir() && !e.ours(key) && !e.has(key) {
			e.add(key, FaultForeign, "downlock did not write it")
		}
		return nil
	})
}

// ours reports whether a file is of a kind that downlock writes.
func (e *examination) ours(key string) bool {
	name, folder := path.Base(key), path.Dir(key)
	switch {
	case key == lockName, key == markName, key == checksumsName, key == unreportedName, key == filepath.ToSlash(verdictsPart), key == filepath.ToSlash(actionsPart), key == runsFolder+"/"+checksumsName:
		return true
	case path.Dir(folder) == reviewsFolder && review.IsEventID(path.Base(folder)):
		e.files++
		return strings.HasSuffix(name, ".json") || strings.HasSuffix(name, ".action")
	case path.Dir(folder) == runsFolder && name == batchName:
		return true // one that is not listed is adopted by the next run
	case output.Leftover(name, path.Base(verdictsPart)):
		return true
	}
	if _, _, ok := isPart(key); ok && tableNamed(strings.Split(key, "/")[1]) != nil && name == "part.parquet" {
		return true // compared before
	}
	return (folder == ledgerFolder+"/inputs" || folder == ledgerFolder+"/recordings") && strings.HasSuffix(name, shardEnding)
}
