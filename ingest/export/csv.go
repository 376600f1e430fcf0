package export

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
)

func (t *Table) wideCSV(w io.Writer) error {
	out, err := t.startCSV(w)
	if err != nil {
		return err
	}
	for cells := range t.wideCells() {
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// wideCells yields the header, the row of units where there is one, and the rows of a wide
// export; the cells are good until the next ones.
func (t *Table) wideCells() func(yield func(cells []string) bool) {
	return func(yield func(cells []string) bool) {
		calendar := t.calendar()
		header, units := []string{t.TimeName}, []string{"s"}
		if calendar != nil {
			header, units = append(header, DateColumn, ClockColumn), append(units, "", "")
		}
		first := len(header)
		for _, c := range t.Columns {
			header, units = append(header, c.Name), append(units, c.Unit)
		}
		if !yield(header) || t.UnitsRow && !yield(units) {
			return
		}
		row := make([]string, len(header))
		cursors := t.cursors()
		for _, at := range t.grid() {
			row[0] = timeText(at)
			if calendar != nil {
				row[1], row[2] = calendar.cells(at)
			}
			for i := range cursors {
				row[first+i] = ""
				if n := cursors[i].take(at); n >= 0 {
					row[first+i] = cursors[i].column.text(n)
				}
			}
			if !yield(row) {
				return
			}
		}
	}
}

func (t *Table) longCSV(w io.Writer) error {
	out, err := t.startCSV(w)
	if err != nil {
		return err
	}
	calendar := t.calendar()
	header := []string{t.TimeName, ParameterColumn, ValueColumn}
	if t.UnitsColumn {
		header = append(header, UnitColumn)
	}
	if calendar != nil {
		header = slices.Insert(header, 1, DateColumn, ClockColumn)
	}
	if err := out.Write(header); err != nil {
		return err
	}
	for s := range t.samples() {
		row := []string{timeText(s.at), s.column.Name, s.column.text(s.index)}
		if t.UnitsColumn {
			row = append(row, s.column.Unit)
		}
		if calendar != nil {
			date, clock := calendar.cells(s.at)
			row = slices.Insert(row, 1, date, clock)
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func (t *Table) startCSV(w io.Writer) (*csv.Writer, error) {
	buffered := bufio.NewWriter(w)
	for _, line := range t.Preamble {
		if _, err := fmt.Fprintln(buffered, line); err != nil {
			return nil, err
		}
	}
	if err := buffered.Flush(); err != nil {
		return nil, err
	}
	out := csv.NewWriter(w)
	if t.Separator != 0 {
		out.Comma = t.Separator
	}
	return out, nil
}

type sample struct {
	at     int64 // milliseconds
	column *Column
	index  int
}

// samples yields every sample in order of time, then of column.
func (t *Table) samples() func(yield func(sample) bool) {
	return func(yield func(sample) bool) {
		cursors := t.cursors()
		for _, at := range t.grid() {
			for i := range cursors {
				if n := cursors[i].take(at); n >= 0 && !yield(sample{at, cursors[i].column, n}) {
					return
				}
			}
		}
	}
}
