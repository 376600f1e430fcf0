package ingest

import (
	"bytes"
	"fmt"
	"math"
	"path/filepath"
	"time"

	"downlock/schemas"
)

// anchors are the signs of UTC time beside an axis of seconds. Date and
// clock have words of their own in the frame, so they stand in different rows, are
// repeated in others, or lag behind at midnight: each is collected with the time of
// its row, and the time most of them agree on is taken.
type anchors struct {
	clocks []clockAt
	days   []dayAt
	shown  []byte // the clock's text before
	sure   bool   // the first of clocks is one that changed
	watch  watch
}

type clockAt struct{ at, seconds float64 }

type dayAt struct {
	at  float64
	day time.Time
}

// enoughAnchors is how many clock times and dates settle the matter: a minute of each,
// of which at most one a second is taken.
const enoughAnchors = 64

// needsAnchor reports whether date and clock of the row taken last matter.
func (r *reading) needsAnchor() bool {
	a := &r.current.anchors
	return r.axis.form == formSeconds && (len(a.days) < enoughAnchors || len(a.clocks) < enoughAnchors || r.previous >= min(a.watch.date.next, a.watch.clock.next))
}

// anchor takes the date and the clock of a row, nil for none. The cause says how they
// are wrong.
func (r *reading) anchor(at float64, date, clock []byte) (cause string) {
	a := &r.current.anchors
	date, clock = said(date), said(clock)
	if math.Abs(at) > 1e9 { // beyond what a time.Duration holds, some 30 years
		return ""
	}
	if len(a.days) == enoughAnchors {
		a.lookAtDate(&r.axis, at, date)
		date = nil
	}
	if len(a.clocks) == enoughAnchors {
		a.lookAtClock(at, clock)
		clock = nil
	}
	if len(date)+len(clock) == 0 {
		return ""
	}
	if n := len(a.days); len(date) > 0 && (n == 0 || at >= a.days[n-1].at+1) {
		day, ok := r.axis.parseDate(date)
		if !ok {
			return badDate(date)
		}
		a.days = append(a.days, dayAt{at, day})
	}
	if len(clock) > 0 {
		seconds, ok := parseClock(bytes.TrimSpace(clock))
		if !ok {
			return fmt.Sprintf("%q is not a clock time", clip(string(clock)))
		}
		a.addClock(at, seconds, clock)
	}
	if epoch, ok := a.epoch(); ok {
		r.axis.epoch = epoch
	}
	return ""
}

// said is the text, nil where it is the bare marks of a date or clock: --:--:--.
func said(text []byte) []byte {
	if len(bytes.Trim(text, "-:/. *_?")) == 0 {
		return nil
	}
	return text
}

// addClock takes a clock time. One that is repeated row by row is true where it
// changes; the first one, of which that is not known, makes room for those.
func (a *anchors) addClock(at, seconds float64, text []byte) {
	switch {
	case bytes.Equal(text, a.shown):
		return
	case len(a.clocks) == 1 && !a.sure:
		a.clocks[0], a.sure = clockAt{at, seconds}, true
	default:
		a.clocks = append(a.clocks, clockAt{at, seconds})
	}
	a.shown = append(a.shown[:0], text...)
}

// secondZero is the time of day at second 0 that most clock times agree on, s.
func (a *anchors) secondZero() (seconds float64, ok bool) {
	votes, most := map[int64]int{}, 0
	for _, c := range a.clocks {
		ms := int64(math.Round((c.seconds - c.at) * 1000))
		ms = (ms%(secondsPerDay*1000) + secondsPerDay*1000) % (secondsPerDay * 1000)
		if votes[ms]++; votes[ms] > most {
			most, seconds = votes[ms], float64(ms)/1000
		}
	}
	return seconds, most > 0
}

// epoch is UTC at second 0; ok is false where a date or a clock is missing.
func (a *anchors) epoch() (epoch time.Time, ok bool) {
	zero, known := a.secondZero()
	if !known {
		return epoch, false
	}
	votes := map[time.Time]int{}
	for _, d := range a.days {
		votes[onDay(d.day, d.at, zero)]++
	}
	epoch, agreed := mostVotes(votes)
	return epoch, agreed > 0
}

// mostVotes is the beginning most dates agree on, the earliest of several.
func mostVotes(votes map[time.Time]int) (begin time.Time, agreed int) {
	for at, n := range votes {
		if n > agreed || n == agreed && at.Before(begin) {
			begin, agreed = at, n
		}
	}
	return begin, agreed
}

// onDay is UTC at second 0 where the time at is on the day, and zero the time of day
// at second 0.
func onDay(day time.Time, at, zero float64) time.Time {
	clock := math.Mod(math.Mod(at+zero, secondsPerDay)+secondsPerDay, secondsPerDay)
	return day.Add(time.Duration((clock - at) * float64(time.Second))).Round(time.Millisecond)
}

// anchorNamed takes a row of a long export that holds date or clock; false for other
// rows.
func (r *reading) anchorNamed(name string, at float64, value []byte) (ok bool, err error) {
	date, clock := r.profile.Time.Date, r.profile.Time.Clock
	if r.profile.Time.Column == "" {
		return false, nil
	}
	cause := ""
	switch {
	case name == date && date != "":
		cause = r.anchor(at, value, nil)
	case name == clock && clock != "":
		cause = r.anchor(at, nil, value)
	default:
		return false, nil
	}
	if cause != "" {
		return true, r.problem(fmt.Sprintf("parameter %q at %s: %s", name, r.clockText(at), cause), timeHint)
	}
	return true, nil
}

// givenDay is the date of the first row where the export itself has none: the user's,
// or that in the file's name.
func (r *reading) givenDay() (day time.Time, source string) {
	if !r.date.IsZero() {
		return r.date, "as given for this run"
	}
	if r.profile.Time.FileDate == "" {
		return day, ""
	}
	pattern, err := schemas.ParseFileDate(r.profile.Time.FileDate)
	if err != nil { // ParseProfile has refused it
		return day, ""
	}
	if day, ok := pattern.Date(filepath.Base(r.file)); ok {
		return day, "from the file's name"
	}
	return time.Time{}, ""
}

// setDay sets the UTC time of a stretch, as far as it is known, and notes the rest.
// The given day is that of the first row, so of the first stretch alone.
func (r *reading) setDay(s *stretch, first bool) (notes []string) {
	if !s.epoch.IsZero() {
		return nil
	}
	zero, clocked := s.anchors.secondZero()
	clocked = clocked || r.axis.form == formClock
	day, source := time.Time{}, ""
	if first {
		day, source = r.givenDay()
	}
	if source == "" && len(s.anchors.days) > 0 {
		day, source = s.anchors.days[0].day, "as recorded"
	}
	const unknown = "its date is not recorded, so its month is not known: give it with --date, or take it from the file's name with file_date in the profile"
	switch {
	case clocked && source != "":
		if s.epoch = onDay(day, s.first, zero); r.axis.form == formClock {
			s.epoch = day.AddDate(0, 0, -int(math.Floor(s.first/secondsPerDay)))
		}
		notes = append(notes, fmt.Sprintf("the date is %s, %s", day.Format(time.DateOnly), source))
	case clocked:
		text := timeOfDay(s.first + zero)
		notes = append(notes, fmt.Sprintf("the recording begins at %s UTC; %s", text, unknown))
	case source != "":
		s.month = day.Format("2006-01")
		notes = append(notes, fmt.Sprintf("the date is %s, %s; the time of day is not recorded", day.Format(time.DateOnly), source))
	case r.profile.Time.FileDate != "" && first:
		notes = append(notes, "its date is not known: it is not recorded, and the file's name does not fit file_date")
	}
	return notes
}
