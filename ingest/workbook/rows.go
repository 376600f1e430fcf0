package workbook

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Rows walks the rows of a sheet.
type Rows struct {
	book    *Book
	decoder *decoder
	sheet   string
	inside  bool // of the sheet's data
	over    bool
	number  int
	cells   []Cell

	// Pending counts the formulas without a stored result, as a program writes them that
	// does not compute; FirstPending is where the first one stands. They are left out.
	Pending      int
	FirstPending string
}

// Cell is one cell that is not empty. Columns count from 0.
type Cell struct {
	Column int
	Text   string
}

// Rows opens a sheet; it is to be closed.
func (b *Book) Rows(s Sheet) (*Rows, error) {
	d, err := b.open(s.part, b.limit)
	if err != nil {
		return nil, err
	}
	return &Rows{book: b, decoder: d, sheet: s.Name}, nil
}

// Part is how much of the sheet has been read, from 0 to 1, by what the file says of its
// size.
func (r *Rows) Part() float64 { return float64(r.decoder.read) / float64(max(r.decoder.size, 1)) }

func (r *Rows) Close() { r.decoder.close() }

// Next returns the next row with its number, from 1, and its cells, which are good until
// the next call; io.EOF after the last one. Rows that are not in the file are left out.
func (r *Rows) Next() (number int, cells []Cell, err error) {
	for {
		token, err := r.decoder.next()
		if errors.Is(err, io.EOF) && !r.over {
			err = io.ErrUnexpectedEOF
		}
		if err != nil {
			return 0, nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			switch t.Name.Local {
			case "sheetData":
				r.inside = true
			case "row":
				if r.inside {
					return r.row(t)
				}
			}
		case xml.EndElement:
			switch t.Name.Local {
			case "sheetData":
				r.inside = false
			case "worksheet":
				r.over = true
			}
		}
	}
}

func (r *Rows) row(e xml.StartElement) (number int, cells []Cell, err error) {
	number = r.number + 1
	if text := attribute(e, "r"); text != "" {
		if number, err = strconv.Atoi(text); err != nil || number <= r.number || number > MostRows {
			return 0, nil, fmt.Errorf("row %q after row %d", clip(text), r.number)
		}
	}
	r.number, r.cells = number, r.cells[:0]
	for {
		token, err := r.decoder.next()
		if err != nil {
			return 0, nil, ended(err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if t.Name.Local == "c" {
				if err := r.cell(t); err != nil {
					return 0, nil, err
				}
			} else if _, err := r.decoder.text(); err != nil {
				return 0, nil, err
			}
		case xml.EndElement:
			return number, r.cells, nil
		}
	}
}

// cell reads one cell and keeps it unless it is empty.
func (r *Rows) cell(e xml.StartElement) error {
	column := 0
	if n := len(r.cells); n > 0 {
		column = r.cells[n-1].Column + 1
	}
	if name := attribute(e, "r"); name != "" {
		at, ok := columnOf(name)
		if !ok || at < column {
			return fmt.Errorf("row %d: a cell %q where one from %s on is expected", r.number, clip(name), CellName(column, r.number))
		}
		column = at
	}
	if column >= MostColumns {
		return fmt.Errorf("row %d has more than %d columns", r.number, MostColumns)
	}
	var stored string
	formula, has := false, false
	for outside := r.decoder.depth - 1; r.decoder.depth > outside; {
		token, err := r.decoder.next()
		if err != nil {
			return ended(err)
		}
		t, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		switch t.Name.Local {
		case "v":
			stored, err = r.decoder.text()
			has = true
		case "is":
			stored, err = r.decoder.richText()
			has = true
		case "f":
			_, err = r.decoder.text()
			formula = true
		default:
			_, err = r.decoder.text()
		}
		if err != nil {
			return err
		}
	}
	if formula && !has {
		if r.Pending++; r.Pending == 1 {
			r.FirstPending = CellName(column, r.number)
		}
	}
	text, err := r.meaning(e, stored)
	if err != nil {
		return fmt.Errorf("cell %s: %w", CellName(column, r.number), err)
	}
	// An empty cell keeps its place, so that the cells after it without a name have theirs.
	r.cells = append(r.cells, Cell{column, text})
	return nil
}

// meaning is the text of a cell by its type.
func (r *Rows) meaning(e xml.StartElement, stored string) (string, error) {
	switch kind := attribute(e, "t"); kind {
	case "s":
		if stored == "" {
			return "", nil
		}
		n, err := strconv.Atoi(strings.TrimSpace(stored))
		if err != nil || n < 0 || n >= len(r.book.texts) {
			return "", fmt.Errorf("the shared text %q is not there", clip(stored))
		}
		return r.book.texts[n], nil
	case "b":
		if isTrue(strings.TrimSpace(stored)) {
			return "TRUE", nil
		} else if stored != "" {
			return "FALSE", nil
		}
		return "", nil
	case "e":
		return "#N/A", nil // whatever the error: there is no value
	case "str", "inlineStr", "d":
		return stored, nil
	case "", "n":
		stored = strings.TrimSpace(stored)
		if style, err := strconv.Atoi(attribute(e, "s")); err == nil && style >= 0 && style < len(r.book.formats) {
			return r.book.show(stored, r.book.formats[style]), nil
		}
		return stored, nil
	default:
		return "", fmt.Errorf("the type %q of it is not known", clip(kind))
	}
}

// columnOf is the column of a cell's name, as 2 of C5.
func columnOf(name string) (column int, ok bool) {
	i := 0
	for ; i < len(name) && i < 4 && name[i]|0x20 >= 'a' && name[i]|0x20 <= 'z'; i++ {
		column = 26*column + int(name[i]|0x20-'a') + 1
	}
	return column - 1, i > 0 && i < len(name) && column <= MostColumns
}

// CellName is the name of a cell, its column counted from 0 and its row from 1.
func CellName(column, row int) string {
	var letters []byte
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		letters = append([]byte{byte('A' + (n-1)%26)}, letters...)
	}
	return string(letters) + strconv.Itoa(row)
}

// clip shortens a text from a file for a message.
func clip(text string) string { return text[:min(len(text), 40)] }
