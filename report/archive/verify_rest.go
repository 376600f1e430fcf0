package archive

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
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

// readReviews reads every verdict, and compares the table of verdicts with them.
func (e *examination) readReviews() error {
	table := filepath.ToSlash(verdictsPart)
	e.files++
	_, missing := os.Stat(e.path(table))
	switch _, err := readVerdicts(e.path(table)); {
	case missing != nil:
		if e.list != nil {
			e.add(table, FaultMissing, "the table of verdicts is missing")
		}
	case err != nil:
		e.add(table, FaultDamaged, causeOf(asProblem(err)))
	}
	_, damaged, err := review.Latest(e.dir)
	if err != nil {
		return err
	}
	rows, all, err := Verdicts(e.dir)
	var problem *schemas.Problem
	if err != nil && !errors.As(err, &problem) { // a damaged part was said already
		return err
	}
	if err == nil {
		damaged = all
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
	if err == nil && missing == nil && !e.has(table) && len(damaged) == 0 {
		var want bytes.Buffer
		if err := WriteVerdicts(&want, rows); err != nil {
			return err
		}
		if got, err := os.ReadFile(e.path(table)); err != nil || !bytes.Equal(got, want.Bytes()) {
			e.add(table, FaultDamaged, "it is not what the verdicts and events say")
		}
	}
	return nil
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
	case key == lockName, key == markName, key == checksumsName, key == unreportedName, key == filepath.ToSlash(verdictsPart), key == runsFolder+"/"+checksumsName:
		return true
	case path.Dir(folder) == reviewsFolder && review.IsEventID(path.Base(folder)):
		e.files++
		return strings.HasSuffix(name, ".json")
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
