package ingest

import (
	"fmt"
	"slices"
	"time"
)

// setMATClock sets the UTC time of the file's beginning from the parameters of
// the clock. Its parts are sampled one after the other and drop out now and
// then, so the beginning is the one most samples of the second allow.
func (r *reading) setMATClock(c *matClock) {
	second := c.parameters[c.names.Second]
	if second == nil {
		return
	}
	var votes []time.Duration // since base
	var base time.Time
	dated := false
	for i := range second.data.Len() {
		at := second.at(i)
		h, m, s := c.whole(c.names.Hour, at, 23), c.whole(c.names.Minute, at, 59), c.whole(c.names.Second, at, 60)
		if h < 0 || m < 0 || s < 0 || at > maxClockSeconds {
			continue
		}
		day, ok := c.date(at)
		if ok && !dated { // votes without a date are worth nothing beside those with one
			dated, votes = true, votes[:0]
		}
		if ok != dated {
			continue
		}
		clock := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
		begin := day.Add(clock - time.Duration(at*float64(time.Second))).Round(time.Millisecond)
		if len(votes) == 0 {
			base = begin
		}
		vote := begin.Sub(base)
		if !dated { // the nearest day: a clock alone starts anew at midnight
			vote -= vote.Round(24 * time.Hour)
		}
		votes = append(votes, vote)
	}
	after, agreed := commonBeginning(votes)
	begin := base.Add(after)
	if 2*agreed < len(votes) {
		r.notes = append(r.notes, fmt.Sprintf("the UTC clock does not run with the samples: only %d of its %d seconds agree on the start, and times of day may be wrong", agreed, len(votes)))
	}
	switch {
	case agreed == 0:
		r.notes = append(r.notes, "the UTC clock has no valid time")
	case dated:
		r.axis.epoch = begin
	default:
		r.current.anchors.clocks = []clockAt{{0, begin.Sub(begin.Truncate(24 * time.Hour)).Seconds()}}
		if len(r.mapping.channels) == 0 { // a survey, which has no other day to go by
			r.notes = append(r.notes, fmt.Sprintf("the recording begins at %s UTC; its date is not recorded", begin.Format("15:04:05")))
		}
	}
}

// maxClockSeconds bounds the samples a clock is read from: 30 years, which a
// time.Duration still holds.
const maxClockSeconds = 1e9

// date is the date at a time; ok is false where it is not recorded or not valid.
func (c *matClock) date(at float64) (day time.Time, ok bool) {
	y, m, d := c.whole(c.names.Year, at, 9999), c.whole(c.names.Month, at, 12), c.whole(c.names.Day, at, 31)
	if y < 1970 || m < 1 || d < 1 { // a year of two digits leaves the century open
		return time.Date(1, 1, 2, 0, 0, 0, 0, time.UTC), false
	}
	return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC), true
}

// commonBeginning is the beginning most samples of a clock allow, and how many do. A
// clock in whole seconds says that up to a second more has passed: a sample that sees it
// change allows the beginning it shows and later ones, and one between two changes an
// earlier one than it can have been. So it is the latest that is shown of those within a
// second, and right to the interval between samples. Of several the earliest is taken.
func commonBeginning(votes []time.Duration) (begin time.Duration, agreed int) {
	slices.Sort(votes)
	first := 0
	for i, vote := range votes {
		for vote-votes[first] >= time.Second {
			first++
		}
		if n := i + 1 - first; n > agreed {
			begin, agreed = vote, n
		}
	}
	return begin, agreed
}
