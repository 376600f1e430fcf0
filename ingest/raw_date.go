package ingest

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"downlock/schemas"
)

// dateFormats are the forms of a date a survey tries, the more usual first of those
// that cannot be told apart by most dates.
var dateFormats = []string{
	"DD/MM/YYYY", "MM/DD/YYYY", "D/M/YYYY", "M/D/YYYY", "DD/MM/YY", "MM/DD/YY", "D/M/YY", "M/D/YY", "YY/MM/DD",
	"DD-MM-YYYY", "MM-DD-YYYY", "DD-MM-YY", "MM-DD-YY", "YY-MM-DD", "D.M.YYYY", "DD.MM.YY", "D.M.YY",
	"DD-MON-YYYY", "DD-MON-YY", "D-MON-YY", "DDMONYY", "DD MON YY", "DD/MON/YYYY", "DD/MON/YY", "MON DD YYYY", "MON DD, YYYY",
	"YYYYMMDD", "DDMMYYYY", "MMDDYYYY", "YYMMDD", "DDMMYY", "MMDDYY",
}

// dateReading is how the dates of a column can be read: by one format, "" for one of
// the usual forms; or by several that give other dates.
type dateReading struct{ formats []string }

// decided reports whether the data leave one format.
func (d dateReading) decided() bool { return len(d.formats) == 1 }

// doubt asks the user.
func (d dateReading) doubt(column string) string {
	return fmt.Sprintf("the dates of column %q can be read as %s: say which by date_format under time", clip(column), strings.Join(d.formats, " or "))
}

// dates finds the formats that read every date of a column. Formats that read them the
// same count as one; of others those are left that have a new day follow the one before,
// since a recording seldom pauses for a month.
func (h *head) dates(i int) (d dateReading) {
	var cells []string
	numbers := true
	for _, cell := range h.cells[i] {
		if cell != "" && !isInvalidCell(cell) && (len(cells) == 0 || cells[len(cells)-1] != cell) {
			cells = append(cells, cell)
			numbers = numbers && strings.Trim(cell, "0123456789") == ""
		}
	}
	if len(cells) == 0 || numbers && !hasWord(h.names[i], "date") { // 20310302 could be any number
		return d
	}
	return datesOf(cells)
}

// datesOf finds the formats of dates that follow each other.
func datesOf(cells []string) (d dateReading) {
	usual := !slices.ContainsFunc(cells, func(cell string) bool {
		_, ok := new(axis).parseDate([]byte(cell))
		return !ok
	})
	if usual {
		return dateReading{[]string{""}}
	}
	var read [][]time.Time
	for _, text := range dateFormats {
		days := daysBy(text, cells)
		if days == nil || slices.ContainsFunc(read, func(other []time.Time) bool { return slices.Equal(other, days) }) {
			continue
		}
		d.formats, read = append(d.formats, text), append(read, days)
	}
	var running []string
	for k, days := range read {
		if len(days) > 1 && runsOn(days) {
			running = append(running, d.formats[k])
		}
	}
	if len(running) > 0 {
		d.formats = running
	}
	return d
}

// daysBy reads the dates by a format; nil where one is none.
func daysBy(text string, cells []string) (days []time.Time) {
	format, err := schemas.ParseDateFormat(text)
	if err != nil {
		return nil
	}
	for _, cell := range cells {
		day, ok := format.Date(cell)
		if !ok {
			return nil
		}
		days = append(days, day)
	}
	return days
}

func runsOn(days []time.Time) bool {
	for i := 1; i < len(days); i++ {
		if after := days[i].Sub(days[i-1]); after < 0 || after > 24*time.Hour {
			return false
		}
	}
	return true
}

// instants is dates for a column of dates and times in one cell.
func (h *head) instants(i int) (d dateReading) {
	var cells []string
	for _, cell := range h.cells[i] {
		date, rest, ok := splitInstant([]byte(cell))
		if !ok {
			if cell == "" || isInvalidCell(cell) {
				continue
			}
			return d
		}
		if _, ok := parseClock(rest); !ok {
			return d
		}
		if n := len(cells); n == 0 || cells[n-1] != string(date) {
			cells = append(cells, string(date))
		}
	}
	if len(cells) == 0 {
		return d
	}
	return datesOf(cells)
}
