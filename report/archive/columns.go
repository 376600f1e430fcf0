package archive

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// Part names the file that a table has for one month, and tells two states of it apart.
type Part struct {
	Month string
	Size  int64
	Time  int64 // of its last change, in ns
}

// Parts lists the parts of a table in order of month. The error is a schemas.Problem of a
// folder that is no archive, or one of reading.
func Parts(dir, table string) ([]Part, error) {
	months, err := monthsOf(dir, table)
	if err != nil {
		return nil, err
	}
	slices.Sort(months)
	parts := make([]Part, 0, len(months))
	for _, month := range months {
		info, err := os.Stat(filepath.Join(dir, partPath(table, month)))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		parts = append(parts, Part{month, info.Size(), info.ModTime().UnixNano()})
	}
	return parts, nil
}

// Columns hands out the rows of a table's part in blocks, in the order of the table. Of
// each row it reads the columns that the fields of T name, as the row types of package
// schemas name them; a column that an older part lacks is zero. No lock is needed, and a
// part that is not there has no rows. The block is good until each returns. The error is
// each's own, or a schemas.Problem of a damaged part.
func Columns[T any](dir, table, month string, each func(rows []T) error) error {
	return columnsOf(filepath.Join(dir, partPath(table, month)), each)
}

// VerdictColumns does the same with the table of verdicts.
func VerdictColumns[T any](dir string, each func(rows []T) error) error {
	return columnsOf(filepath.Join(dir, verdictsPart), each)
}

func columnsOf[T any](path string, each func(rows []T) error) (err error) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return damaged(path, err)
	}
	defer file.Close()
	block, err := newBlocks[T](path, file)
	if err != nil {
		return err
	}
	defer block.reader.Close()
	for {
		rows, err := block.next()
		if err != nil || len(rows) == 0 {
			return err
		}
		if err := each(rows); err != nil {
			return err
		}
	}
}

// blocks reads a part block by block.
type blocks[T any] struct {
	path   string
	reader *parquet.GenericReader[T]
	rows   []T
}

func newBlocks[T any](path string, file *os.File) (b *blocks[T], err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%v", r)
		}
		var problem *schemas.Problem
		if err != nil && !errors.As(err, &problem) {
			err = damaged(path, err)
		}
	}()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	opened, err := parquet.OpenFile(file, info.Size(), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true), parquet.ReadBufferSize(64<<10))
	if err != nil {
		return nil, err
	}
	return &blocks[T]{path, parquet.NewGenericReader[T](opened), make([]T, 512)}, nil
}

// next returns the next rows, none at the end.
func (b *blocks[T]) next() (rows []T, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%v", r)
		}
		if err != nil {
			rows, err = nil, damaged(b.path, err)
		}
	}()
	clear(b.rows)
	n, err := b.reader.Read(b.rows)
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return b.rows[:n], err
}

// EventsOf hands out the events of one month whose ids are wanted, in the order of the
// table. Of the others it reads the ids alone.
func EventsOf(dir, month string, wanted func(id string) bool, each func(*schemas.EventRow) error) error {
	return eventsWith(dir, month, wanted, func(_ string, e *schemas.EventRow) error { return each(e) })
}

// VerdictsPart says how the table of verdicts is now; there is false where there is none.
func VerdictsPart(dir string) (part Part, there bool, err error) {
	return partAt(filepath.Join(dir, verdictsPart))
}

func partAt(path string) (part Part, there bool, err error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Part{}, false, nil
	}
	if err != nil {
		return Part{}, false, err
	}
	return Part{Size: info.Size(), Time: info.ModTime().UnixNano()}, true, nil
}
