package ingest

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"downlock/ingest/workbook"
	"downlock/schemas"
)

// readWorkbook reads one sheet of a workbook as the CSV text it would be saved as, with a
// line for each row of the sheet.
func (r *reading) readWorkbook(content []byte, csv func(in io.Reader, size int64) error) error {
	return guarded(r, "XLSX", func() error {
		book, err := workbook.Open(content, r.sheetLimit())
		if err != nil {
			return r.bookProblem(err)
		}
		sheet, err := r.chooseSheet(book)
		if err != nil {
			return err
		}
		in, err := openSheet(book, sheet, r.sheetLimit())
		if err != nil {
			return r.bookProblem(err)
		}
		defer in.rows.Close()
		r.place, r.sheet = "row", in.rows
		err = csv(in, 0)
		r.format = strings.Replace(r.format, "CSV", "XLSX", 1)
		for _, c := range r.mapping.channels {
			c.problem = inSheet(c.problem, book, sheet)
		}
		return r.sheetProblem(err, book, sheet)
	})
}

// sheetLimit is how many bytes a sheet may unpack to, and its text have.
func (r *reading) sheetLimit() int64 {
	if r.limit > 0 {
		return r.limit
	}
	return maxContentBytes
}

// bookProblem makes an error of the workbook reader a problem of the file.
func (r *reading) bookProblem(err error) error {
	var large *workbook.TooLargeError
	switch {
	case errors.As(err, &large) && large.Limit == r.sheetLimit():
		p := tooLarge(r.file, large.Limit)
		p.Hint += "; as CSV it takes a fraction of that"
		return p
	case errors.As(err, &large):
		return r.problem(large.Error()+", the most that is read", "save the sheet as CSV")
	}
	cause := strings.Map(func(c rune) rune {
		if unicode.IsPrint(c) {
			return c
		}
		return '?'
	}, err.Error())
	return r.problem("is not a readable workbook: "+cause, damagedHint)
}

// sheetProblem names sheet and cell in the problems of a sheet.
func (r *reading) sheetProblem(err error, book *workbook.Book, sheet workbook.Sheet) error {
	var one *schemas.Problem
	var several schemas.Problems
	var broken *sheetError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &broken):
		return inSheet(r.bookProblem(broken.error).(*schemas.Problem), book, sheet)
	case errors.As(err, &several):
		for i := range several {
			several[i] = inSheet(several[i], book, sheet)
		}
		return several
	case errors.As(err, &one):
		return inSheet(one, book, sheet)
	}
	return err
}

// inSheet is a problem of the sheet's text with sheet and cell in place of line and
// column, which the file does not have.
func inSheet(p *schemas.Problem, book *workbook.Book, sheet workbook.Sheet) *schemas.Problem {
	if p == nil {
		return nil
	}
	out := *p
	out.Line, out.Column, out.Source = 0, 0, ""
	where := fmt.Sprintf("sheet %q", clip(sheet.Name))
	if p.Line > 0 {
		where += ", " + sheetCell(book, sheet, p.Line, p.Column)
	}
	out.Cause = where + ": " + p.Cause
	return &out
}

// sheetCell names the cell a character of the sheet's text belongs to; the sheet is read
// once more for it.
func sheetCell(book *workbook.Book, sheet workbook.Sheet, line, character int) string {
	row := fmt.Sprintf("row %d", line)
	rows, err := book.Rows(sheet)
	if err != nil || character < 1 {
		return row
	}
	defer rows.Close()
	for {
		number, cells, err := rows.Next()
		if err != nil || number > line {
			return row
		}
		if number < line {
			continue
		}
		for i, c := range cells {
			before := sheetText{}
			before.append(cells[:i+1])
			if c.Text != "" && utf8.RuneCount(before.text) > character { // it ends in a line feed
				return "cell " + workbook.CellName(c.Column, line)
			}
		}
		return row
	}
}

// sheetSearch is how many rows of a sheet are looked at for the time column.
const sheetSearch = maxHeaderLines

// chooseSheet is the sheet the profile names, or the only one with the time column, or
// the only one with two cells in a row. Hidden sheets are read where they are named.
func (r *reading) chooseSheet(book *workbook.Book) (sheet workbook.Sheet, err error) {
	var names, titles []string
	var filled, timed []workbook.Sheet
	for _, s := range book.Sheets {
		names = append(names, s.Name)
		if s.Name == r.profile.Sheet {
			return s, nil
		}
		if s.Hidden {
			continue
		}
		has, hasTime, err := r.lookInto(book, s)
		if err != nil {
			return sheet, inSheet(r.bookProblem(err).(*schemas.Problem), book, s)
		}
		if has {
			filled, titles = append(filled, s), append(titles, s.Name)
		}
		if hasTime {
			timed = append(timed, s)
		}
	}
	switch {
	case r.profile.Sheet != "" && r.timeColumn() == "":
		return sheet, r.problem(fmt.Sprintf("has no sheet %q; it has: %s", clip(r.profile.Sheet), listed(names)), joinHints(suggest(r.profile.Sheet, names), "name one of them"))
	case r.profile.Sheet != "":
		return sheet, r.problem(fmt.Sprintf("has no sheet %q; it has: %s", clip(r.profile.Sheet), listed(names)),
			joinHints(suggest(r.profile.Sheet, names), "correct sheet in "+r.profileName()))
	case len(timed) == 1:
		return timed[0], nil
	case len(filled) == 1:
		return filled[0], nil
	case len(filled) == 0:
		return sheet, r.problem(fmt.Sprintf("is a workbook without a sheet of data; its sheets are: %s", listed(names)), "save the export in it again")
	}
	hint := fmt.Sprintf("name the one to read in %s (sheet: %s), or save it as CSV", r.profileName(), titles[0])
	if r.timeColumn() == "" {
		hint = fmt.Sprintf("choose the one with the recording, as in --sheet %q; in a profile the entry is sheet", titles[0])
	}
	return sheet, r.problem(fmt.Sprintf("is a workbook with %d sheets that may be the export: %s", len(filled), listed(titles)), hint)
}

// lookInto looks for data and for the time column in the first rows of a sheet; where no
// profile names that, for rows that begin with a time.
func (r *reading) lookInto(book *workbook.Book, s workbook.Sheet) (filled, timed bool, err error) {
	rows, err := book.Rows(s)
	if err != nil {
		return false, false, err
	}
	defer rows.Close()
	begun := 0 // rows
	for range sheetSearch {
		_, cells, err := rows.Next()
		if errors.Is(err, io.EOF) {
			return filled, timed, nil
		}
		if err != nil {
			return false, false, err
		}
		cells = slices.DeleteFunc(cells, func(c workbook.Cell) bool { return strings.TrimSpace(c.Text) == "" })
		filled = filled || len(cells) > 1
		if name := r.timeColumn(); name != "" {
			timed = timed || slices.ContainsFunc(cells, func(c workbook.Cell) bool { return strings.TrimSpace(c.Text) == name })
		} else if len(cells) > 1 && isTime([]byte(strings.TrimSpace(cells[0].Text))) {
			if begun++; begun > 1 {
				timed = true
			}
		}
	}
	return filled, timed, nil
}

// sheetText is a sheet as CSV text: a line for each row, those of rows that are not in
// the file blank.
type sheetText struct {
	rows  *workbook.Rows
	limit int64 // bytes of text
	size  int64
	lines int
	width int // cells of the widest row so far
	text  []byte
	at    int // of text: handed on
}

// sheetError is a fault of the workbook in the middle of its text.
type sheetError struct{ error }

func openSheet(book *workbook.Book, sheet workbook.Sheet, limit int64) (*sheetText, error) {
	rows, err := book.Rows(sheet)
	return &sheetText{rows: rows, limit: limit}, err
}

func (s *sheetText) Read(p []byte) (int, error) {
	if s.at == len(s.text) {
		number, cells, err := s.rows.Next()
		if errors.Is(err, io.EOF) {
			return 0, err
		}
		if err != nil {
			return 0, &sheetError{err}
		}
		s.text, s.at = s.text[:0], 0
		for ; s.lines+1 < number; s.lines++ {
			s.text = append(s.text, '\n')
		}
		s.append(cells)
		s.lines++
		if s.size += int64(len(s.text)); s.size > s.limit {
			return 0, &sheetError{&workbook.TooLargeError{Part: "text", Limit: s.limit}}
		}
	}
	n := copy(p, s.text[s.at:])
	s.at += n
	return n, nil
}

// append adds the line of a row. Empty cells at the end of a row are not in the file;
// they are no sign of a row cut short.
func (s *sheetText) append(cells []workbook.Cell) {
	column, last := 0, 0
	for _, c := range cells {
		if c.Text == "" {
			continue
		}
		for ; column < c.Column; column++ {
			s.text = append(s.text, ',')
		}
		s.text = appendCSV(s.text, c.Text)
		last = c.Column + 1
	}
	if last == 0 {
		s.text = append(s.text, '\n')
		return
	}
	s.width = max(s.width, last)
	s.text = append(s.text, strings.Repeat(",", s.width-last)...)
	s.text = append(s.text, '\n')
}

// appendCSV adds a cell. Line ends in it become blanks, so that a row is one line.
func appendCSV(out []byte, text string) []byte {
	if !strings.ContainsAny(text, ",\"\r\n") {
		return append(out, text...)
	}
	out = append(out, '"')
	out = append(out, strings.NewReplacer("\"", "\"\"", "\r", " ", "\n", " ").Replace(text)...)
	return append(out, '"')
}
