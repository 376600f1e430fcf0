package ingest

import (
	"fmt"
	"math"
	"slices"
)

// A clock in whole seconds has rows that share one. Their order is kept and they
// are spread evenly over the second: the time of each may be wrong by up to that
// second, which Series.TimeAccuracy says. Where a column has several samples at one
// time of another form, those are spread over the time to the next in the same way.

// maxShared is how many rows may share a second: more than any frame has words of
// one parameter. Until the second is over, a row's place in it is kept as so many
// parts of it, which is exact in binary.
const maxShared = 4096

// shareSecond returns the time of a row that may share its second with others.
func (r *reading) shareSecond(at float64, where int) (float64, error) {
	switch {
	case r.axis.form != formClock && r.axis.form != formInstant || at != math.Trunc(at):
	case r.current.rows > 0 && at == r.previous:
		if r.order++; r.order >= maxShared {
			return 0, r.problem(fmt.Sprintf("%s %d: more than %[4]d rows have the time %[3]s", r.place, where, r.clockText(at), maxShared),
				"name a finer time column under time in "+r.profileName())
		}
		r.sharing++
		return at + float64(r.order)/maxShared, nil
	}
	r.closeSecond()
	return at, nil
}

// closeSecond spreads the rows of the second that is over.
func (r *reading) closeSecond() {
	if r.order == 0 {
		return
	}
	second, step := r.previous, maxShared/float64(r.order+1)
	if r.follow == followSamples {
		for _, c := range r.mapping.channels {
			for i := len(c.times) - 1; i >= 0 && c.times[i] > second && c.times[i] < second+1; i-- {
				c.times[i] = second + (c.times[i]-second)*step
			}
		}
	}
	r.current.last = max(r.current.last, second+float64(r.order)/float64(r.order+1))
	r.order = 0
}

// spreadRows is closeSecond for the times of all rows of a columnar file.
func spreadRows(times []float64, timed []bool) {
	var rows []int // of the second at hand
	spread := func() {
		for i, row := range rows {
			times[row] = math.Floor(times[row]) + float64(i)/float64(len(rows))
		}
	}
	for row, at := range times {
		if !timed[row] {
			continue
		}
		if len(rows) > 0 && math.Floor(at) != math.Floor(times[rows[0]]) || at == math.Floor(at) {
			spread()
			rows = rows[:0]
		}
		rows = append(rows, row)
	}
	spread()
}

// timing notes the repairs of the times of a channel's samples.
type timing struct {
	spread   int     // samples that had the time of the one before
	width    float64 // s they were spread over, at most
	same     int     // samples left out that stand there twice, the same
	conflict bool    // different samples at one time, in different places of the file
	at       float64 // of the conflict
	column   string  // of the conflict
}

// separate has the channel's times rise strictly: samples sorted by time, those of
// equal time that follow each other spread over the time to the next.
func (c *channel) separate() (t timing) {
	if isRising(c.times) {
		return t
	}
	order := c.sortByTime()
	width := smallestStep(c.times)
	var drop []bool // by sample; nil for none
	for from := 0; from < len(c.times); {
		to := from + 1
		for to < len(c.times) && c.times[to] == c.times[from] {
			to++
		}
		if to-from > 1 {
			kept, ok := c.oneBlock(order, from, to, width == 0)
			if !ok {
				t.conflict, t.at, t.column = true, c.times[from], c.column
				return t
			}
			for i := range to - from {
				if i >= kept {
					if drop == nil {
						drop = make([]bool, len(c.times))
					}
					drop[from+i] = true
				} else {
					c.times[from+i] += width * float64(i) / float64(kept)
				}
			}
			if kept > 1 {
				t.spread, t.width = t.spread+kept-1, width
			}
		}
		from = to
	}
	if drop != nil {
		t.same = c.filter(func(i int) bool { return !drop[i] })
	}
	return t
}

// oneBlock says how many of the samples of equal time to keep: all where they follow
// each other in the file; else the first that do, where the others repeat them. Where
// there is no other time one alone has a place.
func (c *channel) oneBlock(order []int, from, to int, alone bool) (kept int, ok bool) {
	kept = 1
	for !alone && from+kept < to && order[from+kept] == order[from+kept-1]+1 {
		kept++
	}
	for i := from + kept; i < to; i++ {
		like := from + (i-from)%kept
		if c.numeric && c.numbers[i] != c.numbers[like] || !c.numeric && c.codes[i] != c.codes[like] {
			return kept, false
		}
	}
	return kept, (to-from)%kept == 0
}

// smallestStep is the smallest time between samples that differ in time; 0 where
// all have the same.
func smallestStep(times []float64) float64 {
	least := math.Inf(1)
	for i := 1; i < len(times); i++ {
		if step := times[i] - times[i-1]; step > 0 {
			least = min(least, step)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// conflictProblem is the problem of different samples at one time.
func (r *reading) conflictProblem(t timing) error {
	where := ""
	if r.backwards.first > 0 {
		where = fmt.Sprintf("%s %d: time steps back, and ", r.place, r.backwards.first)
	}
	return r.problem(fmt.Sprintf("%scolumn %q has different values at the same time, %s", where, t.column, r.clockText(t.at)),
		"which one is right is not known: remove the rows that do not belong there from the export, or name a finer time column under time in "+r.profileName())
}

// repeatNotes says how samples of equal time were repaired.
func (r *reading) repeatNotes(timings map[string]timing) (notes []string) {
	var spread, same []string
	for name, t := range timings {
		if t.spread > 0 {
			spread = append(spread, fmt.Sprintf("%s %d", name, t.spread))
		}
		if t.same > 0 {
			same = append(same, fmt.Sprintf("%s %d", name, t.same))
		}
	}
	slices.Sort(spread)
	slices.Sort(same)
	if len(spread) > 0 {
		notes = append(notes, "samples of a parameter with the same time were spread over the time to the next sample, in the order of the file: "+joinNames(spread))
	}
	if len(same) > 0 {
		notes = append(notes, "samples that the export has twice, with the same time and value, were used once: "+joinNames(same))
	}
	return notes
}
