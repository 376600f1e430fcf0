package ingest

import (
	"bytes"
	"fmt"
	"math"
	"time"
)

// Date and clock beside an axis of seconds are compared with it to the end. Where they
// leap and the seconds run on, two recordings were joined under one count of seconds, or
// a clock was set, or a count of days began anew. Nothing in the file tells which. So the
// rows stay where the seconds have them, and the leap is said above everything else.

const (
	// dateLeap is how far noon of the date may be from the time by the seconds: half a
	// day on the day itself, as much where no clock says when the day began, and as much
	// for a date that changes late or early.
	dateLeap = 36 * time.Hour
	// clockLeap is how far the clock may be off, s: one without seconds lags by up to 60.
	clockLeap = 61.0
)

// watch is what date and clock say once there are anchors enough.
type watch struct {
	on          bool
	begin       time.Time // UTC at second 0
	zero        float64   // time of day at second 0, s
	date, clock leap
}

// leap is the words that are elsewhere.
type leap struct {
	next     float64 // time of the next look, s
	words    int
	at       float64 // time of the first, s
	said, by string  // what it says, and what it is by the seconds
}

// lookAtDate takes the date of a row, at most once a second. What cannot be read says
// nothing here.
func (a *anchors) lookAtDate(axis *axis, at float64, date []byte) {
	if len(date) == 0 || !a.due(at, &a.watch.date) {
		return
	}
	if day, ok := axis.parseDate(date); ok {
		a.watch.see(dayAt{at, day})
	}
}

// lookAtClock is lookAtDate for the clock.
func (a *anchors) lookAtClock(at float64, clock []byte) {
	if len(clock) == 0 || !a.due(at, &a.watch.clock) {
		return
	}
	if seconds, ok := parseClock(bytes.TrimSpace(clock)); ok {
		a.watch.hear(clockAt{at, seconds})
	}
}

func (a *anchors) due(at float64, l *leap) bool {
	if at < l.next {
		return false
	}
	if !a.watch.on {
		a.watch = a.newWatch()
	}
	l.next = at + 1
	return true
}

// newWatch holds what comes against what most anchors say.
func (a *anchors) newWatch() watch {
	w := watch{on: true}
	w.zero, _ = a.secondZero()
	if begin, ok := a.epoch(); ok {
		w.begin = begin
	} else if len(a.days) > 0 { // the first day, from its noon
		w.begin = onDay(a.days[0].day, a.days[0].at, secondsPerDay/2-a.days[0].at)
	}
	return w
}

func (w *watch) see(d dayAt) {
	now := w.begin.Add(time.Duration(d.at * float64(time.Second)))
	if d.day.Add(12*time.Hour).Sub(now).Abs() > dateLeap {
		w.date.add(d.at, d.day.Format(time.DateOnly), now.Format(time.DateOnly))
	}
}

func (w *watch) hear(c clockAt) {
	now := c.at + w.zero
	if math.Abs(math.Remainder(c.seconds-now, secondsPerDay)) > clockLeap {
		w.clock.add(c.at, timeOfDay(c.seconds), timeOfDay(now))
	}
}

func (l *leap) add(at float64, said, by string) {
	if l.words++; l.words == 1 {
		l.at, l.said, l.by = at, said, by
	}
}

// join adds what came later.
func (l *leap) join(later leap) {
	words := l.words + later.words
	if l.words == 0 {
		*l = later
	}
	l.words = words
}

// leapNotes says where date and clock leap. A word or two out of place are no leap.
func (a *anchors) leapNotes(seconds func(float64) string) (notes []string) {
	w := a.newWatch() // the anchors themselves came first
	for _, d := range a.days {
		w.see(d)
	}
	for _, c := range a.clocks {
		w.hear(c)
	}
	w.date.join(a.watch.date)
	w.clock.join(a.watch.clock)
	for _, one := range []struct {
		name string
		leap
	}{{"date", w.date}, {"clock", w.clock}} {
		if one.words > strayRows {
			notes = append(notes, fmt.Sprintf("the %s jumps while the seconds run on: at %s it is %s, by the seconds %s (%d times in all); "+
				"if two recordings were joined here, split the export; otherwise dates and times of day there may be wrong", one.name, seconds(one.at), one.said, one.by, one.words))
		}
	}
	return notes
}

// timeOfDay writes seconds, of any day, as a time of day.
func timeOfDay(seconds float64) string {
	return time.Time{}.AddDate(0, 0, 1).Add(time.Duration(math.Mod(seconds, secondsPerDay) * float64(time.Second))).Format("15:04:05")
}
