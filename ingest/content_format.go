package ingest

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"

	"downlock/ingest/matlab"
	"downlock/schemas"
)

// formats are the functions that take a content, one for each kind of format.
type formats struct {
	columnar func(file columnar, kind string) error // kind is "Parquet" or "Arrow"
	mat      func(content []byte) error
	csv      func(in io.Reader, size int64) error // UTF-8; size is a hint, 0 where it is not known
}

// openContent reads the content with the reader of its format. It returns whether the content
// is UTF-16 text. If the reader fails on packed data that turn out to be damaged, that is the
// error: what the reader found may come of it.
func (r *reading) openContent(c *content, to formats) (utf16 bool, err error) {
	utf16, err = r.openFormat(c, to)
	var problem *schemas.Problem
	var problems schemas.Problems
	if errors.As(err, &problem) || errors.As(err, &problems) {
		if damage := c.damage(); damage != nil {
			err = damage
		}
	}
	return utf16, err
}

// openFormat chooses the format by the first bytes.
func (r *reading) openFormat(c *content, to formats) (utf16 bool, err error) {
	if c.workbook != nil {
		return false, r.readWorkbook(c.workbook, to.csv)
	}
	head, err := c.peek(foreignPeeked)
	other, hint := notAnExport(head)
	switch {
	case err != nil:
		return false, err
	case len(head) == 0:
		return false, r.problem("is empty", "the readout may have failed; export the recording again")
	case bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return false, r.problem("is an office document in the old binary format (.xls), or a workbook with a password", "save the sheet as .xlsx without a password, or as CSV")
	case bytes.HasPrefix(head, []byte("PAR1")):
		return false, openWhole(r, c, "Parquet", r.openParquet, to.columnar)
	case bytes.HasPrefix(head, []byte("ARROW1")):
		return false, openWhole(r, c, "Arrow", r.openArrow, to.columnar)
	case matlab.Is(head):
		return false, r.readWhole(c, "MATLAB", to.mat)
	case matlab.IsHDF5(head):
		return false, r.problem("is a MATLAB file of version 7.3, which is another format (HDF5)", "save it again with the option -v7")
	}
	if other != "" {
		return false, r.problem(other, hint)
	}
	in, size, text := textOf(c, head, r.file)
	err = to.csv(in, size)
	if text != nil && text.even.half {
		r.notes = append(r.notes, halfUnitNote)
	}
	return text != nil, err
}

// openWhole opens a columnar file, which its library needs whole.
func openWhole[F columnar](r *reading, c *content, kind string, open func(content []byte) (F, error), use func(columnar, string) error) error {
	return r.readWhole(c, kind, func(content []byte) error {
		file, err := open(content)
		if err != nil {
			return err
		}
		return use(file, kind)
	})
}

// readWhole runs a reader that needs the whole file.
func (r *reading) readWhole(c *content, format string, read func(content []byte) error) error {
	data, err := c.whole()
	if err != nil {
		return err
	}
	return guarded(r, format, func() error { return read(data) })
}

// guarded runs a reader whose library may panic on a damaged file, and makes
// that an error of the file. The words of a panic are for programmers, so the message says
// which part of the file was being read. A problem is the way out of a library that asks
// for more memory than there is.
func guarded(r *reading, format string, read func() error) (err error) {
	defer func() {
		if cause := recover(); cause != nil {
			if told, ours := cause.(*schemas.Problem); ours {
				err = told
				return
			}
			err = r.problem(fmt.Sprintf("is not a readable %s file: %s is damaged: sizes and positions in it do not match", format, cmp.Or(r.part, "its beginning")), damagedHint)
		}
	}()
	return read()
}

const damagedHint = "the file is damaged or incomplete: copy or export it again"
