package ingest

import (
	"fmt"
	"time"
)

// setMATClock sets the UTC time of the file's beginning from the parameters of
// the clock. Its parts are sampled one after the other and drop out now and
// then, so the beginning is what most samples of the second agree on.
func (r *reading) setMATClock(c *matClock) {
	second := c.parameters[c.names.Second]
	if second == nil {
		return
	}
	votes := map[time.Time]int{}
	dated := false
	for i := range second.data.Len() {
		at := second.at(i)
		h, m, s := c.whole(c.names.Hour, at, 23), c.whole(c.names.Minute, at, 59), c.whole(c.names.Second, at, 60)
		if h < 0 || m < 0 || s < 0 || at > maxClockSeconds {
			continue
		}
		day, ok := c.date(at)
		if ok && !dated { // votes without a date are worth nothing beside those with one
			dated, votes = true, map[time.Time]int{}
		}
		if ok == dated {
			clock := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
			begin := day.Add(clock - time.Duration(at*float64(time.Second))).Round(time.Millisecond)
			if !ok {
				begin = time.Date(1, 1, 2, begin.Hour(), begin.Minute(), begin.Second(), begin.Nanosecond(), time.UTC)
			}
			votes[begin]++
		}
	}
	begin, agreed := mostVotes(votes)
	total := 0
	for _, n := range votes {
		total += n
	}
	if 2*agreed < total {
		r.notes = append(r.notes, fmt.Sprintf("the UTC clock does not run on with the samples: only %d of its %d seconds agree on the beginning, and times of day may be wrong", agreed, total))
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

// mostVotes is the beginning most samples agree on, the earliest of several.
func mostVotes(votes map[time.Time]int) (begin time.Time, agreed int) {
	for at, n := range votes {
		if n > agreed || n == agreed && at.Before(begin) {
			begin, agreed = at, n
		}
	}
	return begin, agreed
}
