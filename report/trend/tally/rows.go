package tally

import (
	"errors"
	"io"
	"path/filepath"
	"slices"

	"github.com/parquet-go/parquet-go"

	"downlock/schemas"
)

// EachEvent hands out every event of an archive, whole, by month.
func EachEvent(archive string, each func(schemas.EventRow)) error {
	paths, err := filepath.Glob(filepath.Join(escaped(archive), "tables", schemas.EventsTable, "month=*", "part.parquet"))
	if err != nil {
		return err
	}
	slices.Sort(paths)
	for _, path := range paths {
		if err := eachRow(path, each); err != nil {
			return err
		}
	}
	return nil
}

func eachRow(path string, each func(schemas.EventRow)) (err error) {
	p, err := openPart(path)
	if p == nil {
		return err
	}
	defer p.close()
	defer func() { err = damage(path, recover(), err) }()
	reader := parquet.NewGenericReader[schemas.EventRow](p.File)
	defer reader.Close()
	rows := make([]schemas.EventRow, 256)
	for {
		n, err := reader.Read(rows)
		for _, row := range rows[:n] {
			each(row)
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		clear(rows)
	}
}

// escaped keeps the characters of a folder's name from being taken for a pattern.
func escaped(path string) string {
	var out []rune
	for _, c := range path {
		if c == '*' || c == '?' || c == '[' || c == '\\' {
			out = append(out, '\\')
		}
		out = append(out, c)
	}
	return string(out)
}
