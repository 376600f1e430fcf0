package ingest

import (
	"bytes"
	"fmt"
	"math"
	"time"

	"downlock/schemas"
)

const secondsPerDay = 86400

// How far a clock without a date must step back to have passed midnight. Rows
// of a wide export come in order, so an hour tells a new day from a row out of
// place; a long export may list one parameter after the other, each from the
// start of the flight.
const (
	midnightStepWide = 3600
	midnightStepLong = secondsPerDay / 2
)

// timeForm is how an export writes time; its first time cell decides.
type timeForm int

const (
	formUnknown timeForm = iota
	formSeconds          // a number
	formClock            // HH:MM:SS(.fff)
	formInstant          // ISO 8601 date and time
)

// axis turns time cells into seconds on the recording's own axis: the number
// itself, or seconds since the first UTC midnight for clock times and ISO 8601.
type axis struct {
	unit     float64 // s per unit of a number
	point    byte    // decimal mark
	midnight float64 // step back that counts as a new day, s
	form     timeForm
	epoch    time.Time // UTC at time 0, once known

	format   *schemas.DateFormat // of dates; nil: the usual ones
	dates    int                 // rows so far with a date of their own
	rowDated bool                // the row at hand has one

	started bool
	last    float64   // time of the row before
	days    int       // days since the first, of a clock
	origin  time.Time // midnight of the first date
	cached  []byte    // text of the date parsed last
	date    time.Time // that date
}

// number returns the time of a numeric cell.
func (a *axis) number(v float64) float64 {
	a.form = formSeconds
	return v * a.unit
}

// parse returns the time of a cell; date is the row's date cell or nil. The cause
// says how the cell is wrong, "" where it is not.
func (a *axis) parse(cell, date []byte) (at float64, cause string) {
	if a.form == formSeconds { // the usual form, so it is tried first
		if v, ok := parseDecimal(cell, a.point); ok {
			return v * a.unit, ""
		}
	}
	cell = bytes.TrimSpace(cell)
	if a.form == formUnknown {
		a.form = formOf(cell, a.point)
	}
	switch a.form {
	case formSeconds:
		if v, ok := parseDecimal(cell, a.point); ok {
			return v * a.unit, ""
		}
	case formClock:
		if clock, ok := parseClock(cell); ok {
			return a.clockTime(clock, date)
		}
	case formInstant:
		if at, ok := a.instant(cell); ok {
			return at, ""
		}
	default:
		return 0, fmt.Sprintf("%q is not a time", clip(string(cell)))
	}
	return 0, fmt.Sprintf("%q is not a time like the ones before it", clip(string(cell)))
}

func formOf(cell []byte, point byte) timeForm {
	if _, ok := parseDecimal(cell, point); ok {
		return formSeconds
	}
	if _, ok := parseClock(cell); ok {
		return formClock
	}
	if _, _, ok := splitInstant(cell); ok {
		return formInstant
	}
	return formUnknown
}

// clockTime puts a time of day on the axis: on the row's date, or else on the
// day that keeps time going forward.
func (a *axis) clockTime(clock float64, date []byte) (float64, string) {
	switch at := clock + float64(a.days)*secondsPerDay; {
	case !a.started:
	case at < a.last-a.midnight:
		a.days++
	case at > a.last+secondsPerDay/2 && a.days > 0:
		a.days-- // a row out of place, from before midnight
	}
	if a.rowDated = len(date) > 0; a.rowDated {
		a.dates++
		day, ok := a.parseDate(date)
		if !ok {
			return 0, badDate(date)
		}
		if a.origin.IsZero() {
			a.origin = day.AddDate(0, 0, -a.days)
			a.epoch = a.origin
		}
		a.days = int(math.Round(day.Sub(a.origin).Hours() / 24))
	}
	a.started = true
	a.last = clock + float64(a.days)*secondsPerDay
	return a.last, ""
}

// instant reads ISO 8601 date and time, UTC unless it gives an offset.
func (a *axis) instant(cell []byte) (float64, bool) {
	date, rest, ok := splitInstant(cell)
	if !ok {
		return 0, false
	}
	clockText, offset, ok := splitOffset(rest)
	if !ok {
		return 0, false
	}
	clock, ok := parseClock(clockText)
	if !ok {
		return 0, false
	}
	day, ok := a.parseDate(date)
	if !ok {
		return 0, false
	}
	if a.origin.IsZero() {
		a.origin = day.Add(time.Duration((clock - offset) * float64(time.Second))).Truncate(24 * time.Hour)
		a.epoch = a.origin
	}
	return float64(day.Unix()-a.origin.Unix()) - offset + clock, true
}

// dateLayouts are the date forms that leave no doubt about day and month.
var dateLayouts = []string{time.DateOnly, "2006/01/02", "20060102", "02.01.2006", "02-Jan-2006", "02 Jan 2006", "02Jan2006"}

const timeHint = "dates are read as YYYY-MM-DD, DD.MM.YYYY or with the month's name, others by date_format under time in the profile (DD/MM/YYYY); times as seconds, HH:MM:SS or ISO 8601"

func badDate(cell []byte) string { return fmt.Sprintf("%q is not a date", clip(string(cell))) }

// parseDate reads a date; the same text as last time costs nothing.
func (a *axis) parseDate(cell []byte) (time.Time, bool) {
	if bytes.Equal(cell, a.cached) && len(cell) > 0 {
		return a.date, true
	}
	text := string(bytes.TrimSpace(cell))
	if a.format != nil {
		day, ok := a.format.Date(text)
		if ok {
			a.cached, a.date = bytes.Clone(cell), day
		}
		return day, ok
	}
	for _, layout := range dateLayouts {
		if day, err := time.ParseInLocation(layout, text, time.UTC); err == nil {
			a.cached, a.date = bytes.Clone(cell), day
			return day, true
		}
	}
	return time.Time{}, false
}
