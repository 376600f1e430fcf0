package ingest

import (
	"fmt"
	"math"
	"time"
)

// Time that steps back, or leaps by more than a day, is not the time it was: the
// elapsed time began anew, the clock was set, a date is wrong. The rows from there
// on are a stretch of their own, and no sample of one is ever put beside those of
// another. A few rows out of place are not worth a stretch: see strayRows.
const (
	// jitterSeconds is how far the rows of one recording may be out of order: two
	// frames of four seconds each, changed over, and some more.
	jitterSeconds = 10.0
	// leapSeconds is the longest time without a row in one stretch.
	leapSeconds = secondsPerDay
	// strayRows is how many rows in a row may be out of place before the time counts
	// as another: "a sample or two", and as many again.
	strayRows = 4
	// maxStretches bounds the stretches of one file: more is a file in which time does
	// not run at all. Four years of daily flights are fewer.
	maxStretches = 1500
)

// follow says how a reader treats the time of its rows.
type follow int

const (
	followNothing follow = iota // rows come in any order: long exports, and surveys
	followRows                  // stretches of rows alone, samples follow: columnar files
	followSamples               // stretches of rows, and of the samples read with them: CSV
)

// stretch is a piece of the recording whose time runs on.
type stretch struct {
	where       int // line or row it begins in
	rows        int
	first, last float64   // earliest and latest time, s
	epoch       time.Time // UTC at time 0
	anchors     anchors
	dates       int     // rows with a date of their own before it, where clock times are the time base
	month       string  // YYYY-MM where the day is known and the time of day is not
	from        float64 // time before it began, s; of all but the first
}

// doubt is rows that may begin a stretch or be out of place; what came before
// waits in the stretch before.
type doubt struct {
	rows  int
	apart bool // farther than jitterSeconds
}

// rowSpan is rows that are left out, by line or row, both included.
type rowSpan struct{ first, last int }

// noteRow takes the time of a row and returns the time of its samples; where is
// its line or row.
func (r *reading) noteRow(at float64, where int) (float64, error) {
	if at > r.previous && at-r.previous <= leapSeconds && r.doubt.rows == 0 && r.order == 0 {
		r.rows++
		r.previous = at
		r.current.rows++
		if at > r.current.last {
			r.current.last = at
		}
		return at, nil
	}
	if r.follow == followNothing && at >= r.previous && r.rows > 0 {
		r.rows++
		r.take(at)
		return at, nil
	}
	return r.noteOddRow(at, where)
}

// noteOddRow is noteRow for the first row and for time that does not run on.
func (r *reading) noteOddRow(at float64, where int) (float64, error) {
	if r.rows == 0 {
		r.current = stretch{where: where, first: at, last: at}
	}
	r.rows++
	if r.follow == followNothing {
		if r.rows > 1 && at < r.previous {
			r.backwards.add(where)
		}
		r.take(at)
		return at, nil
	}
	if r.rows > 1 {
		if err := r.settle(at, where); err != nil {
			return 0, err
		}
	}
	shared, err := r.shareSecond(at, where)
	r.take(at)
	return shared, err
}

// take makes a row part of the stretch at hand.
func (r *reading) take(at float64) {
	r.previous = at
	r.current.rows++
	r.current.first, r.current.last = min(r.current.first, at), max(r.current.last, at)
}

// settle decides which stretch a row belongs to.
func (r *reading) settle(at float64, where int) error {
	switch {
	case r.doubt.rows > 0:
		before := &r.earlier[len(r.earlier)-1]
		if at >= before.last && at-before.last <= leapSeconds {
			r.closeSecond()
			r.endDoubt(where)
			return nil
		}
		if r.doubt.rows++; r.doubt.rows > strayRows {
			r.doubt = doubt{}
			return nil
		}
	case at < r.previous || at-r.previous > leapSeconds:
		r.closeSecond()
		r.doubt = doubt{rows: 1, apart: r.previous-at > jitterSeconds || at > r.previous}
		return r.begin(at, where)
	}
	return nil
}

// begin begins a stretch.
func (r *reading) begin(at float64, where int) error {
	if len(r.earlier) >= maxStretches {
		return r.problem(fmt.Sprintf("%s %d: time steps back, or jumps by more than a day, for the %dth time", r.place, where, len(r.earlier)+1),
			"is the right column named under time in "+r.profileName()+"? sort the rows by time, or split the export by flight")
	}
	dates := r.axis.dates
	if r.axis.rowDated {
		dates--
	}
	r.closeStretch(dates)
	r.earlier = append(r.earlier, r.current)
	r.current = stretch{where: where, first: at, last: at, from: r.previous, dates: dates}
	if r.axis.form == formSeconds { // the day of second 0 is another now
		r.axis.epoch = time.Time{}
	}
	if r.follow == followSamples {
		for _, c := range r.mapping.channels {
			c.begin()
		}
	}
	return nil
}

// endDoubt puts rows that were out of place where they belong: in order, where
// they are a little off; else they are left out, since their time is none.
func (r *reading) endDoubt(where int) {
	stray, before := r.current, r.earlier[len(r.earlier)-1]
	r.earlier = r.earlier[:len(r.earlier)-1]
	r.current = before
	if r.axis.form == formSeconds {
		r.axis.epoch = before.epoch
	}
	left := r.doubt.apart
	r.doubt = doubt{}
	if r.follow == followSamples {
		for _, c := range r.mapping.channels {
			c.join(!left)
		}
	}
	if left {
		for range stray.rows {
			r.strays.add(stray.where)
		}
		r.rows -= stray.rows
		r.left = append(r.left, rowSpan{stray.where, where - 1})
		r.previous = before.last
		return
	}
	r.backwards.count += stray.rows
	if r.backwards.first == 0 {
		r.backwards.first = stray.where
	}
	r.current.rows += stray.rows
	r.current.first = min(r.current.first, stray.first)
}

// endRows is called after the last row.
func (r *reading) endRows() {
	r.closeSecond()
	leap := r.doubt.apart && r.current.first > r.current.from
	switch {
	case r.doubt.rows == 0:
	case leap && r.earlier[len(r.earlier)-1].rows > strayRows: // as in the middle of the file
		r.endDoubt(math.MaxInt)
	case leap || !r.doubt.apart:
		last := r.current
		r.doubt.apart = false
		back := last.first < last.from
		r.endDoubt(0)
		r.current.last = max(r.current.last, last.last)
		if !back { // a leap among a few rows is a long gap
			r.backwards.count -= last.rows
			if r.backwards.count == 0 {
				r.backwards.first = 0
			}
		}
	}
	r.doubt = doubt{}
	r.closeStretch(r.axis.dates)
}

// closeStretch keeps the day of the stretch at hand, where known. Clock times that
// stepped back are of a day nobody knows, unless a date stands beside them.
func (r *reading) closeStretch(dates int) {
	r.current.epoch = r.axis.epoch
	if r.axis.form == formClock && len(r.earlier) > 0 && dates == r.current.dates {
		r.current.epoch = time.Time{}
	}
}

// begin puts the samples of the channel aside, as those of a stretch that is over.
// The arrays go on behind them, so that their reserve is not lost.
func (c *channel) begin() {
	over := *c
	over.earlier, over.chosen = nil, nil
	c.earlier = append(c.earlier, &over)
	c.packed, c.tokens = nil, 0
	c.times, c.numbers, c.codes = c.times[len(c.times):], c.numbers[len(c.numbers):], c.codes[len(c.codes):]
}

// join takes back the samples put aside last, with those since or without.
func (c *channel) join(keep bool) {
	before := c.earlier[len(c.earlier)-1]
	c.earlier = c.earlier[:len(c.earlier)-1]
	if keep {
		before.times = append(before.times, c.times...)
		before.numbers = append(before.numbers, c.numbers...)
		before.codes = append(before.codes, c.codes...)
		before.tokens += c.tokens
	}
	c.packed, c.tokens, c.times, c.numbers, c.codes = before.packed, before.tokens, before.times, before.numbers, before.codes
}

// piece is the channel with its samples of one stretch alone.
func (c *channel) piece(k int) *channel {
	if k < len(c.earlier) {
		p := c.earlier[k]
		p.seen, p.problem = c.seen, c.problem
		return p
	}
	if k == len(c.earlier) {
		return c
	}
	none := *c
	none.earlier, none.packed, none.tokens = nil, nil, 0
	none.times, none.numbers, none.codes = nil, nil, nil
	return &none
}

// splitNote says where the recording was split; "" where it was not.
func (r *reading) splitNote(all []stretch) string {
	if len(all) < 2 {
		return ""
	}
	steps := ""
	for i, s := range all[1:] {
		if i == 3 && len(all) > 5 {
			steps += fmt.Sprintf("; … %d more", len(all)-1-i)
			break
		}
		how := "steps back"
		if s.first > s.from {
			how = "leaps"
		}
		steps += fmt.Sprintf("; in %s %d it %s from %s to %s", r.place, s.where, how, r.clockText(s.from), r.clockText(s.first))
	}
	return fmt.Sprintf("time is not continuous: the recording was split into %d stretches, each with its own time and flights%s", len(all), steps)
}

// clockText writes a time for people as the export has it.
func (r *reading) clockText(at float64) string {
	if r.axis.form == formSeconds || math.Abs(at) > 1e9 {
		return fmt.Sprintf("%g s", math.Round(at*1000)/1000)
	}
	t := time.Time{}.AddDate(0, 0, 1).Add(time.Duration(at * float64(time.Second)))
	if !r.axis.origin.IsZero() {
		return r.axis.origin.Add(time.Duration(at * float64(time.Second))).Format("2006-01-02 15:04:05")
	}
	return t.Format("15:04:05")
}
