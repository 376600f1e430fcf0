package ingest

import (
	"fmt"
	"math"
	"slices"

	"downlock/schemas"
)

// A tool that writes a value into every row repeats the last sample of each slower
// parameter until its next one: such a column is held. Read as it stands, it would
// be sampled far more often than it was, and a lever would be certain to have moved
// between two rows an eighth of a second apart. Its changes betray it: they come at
// multiples of its true interval only. The samples between are taken out.
const (
	// tellingChanges is how many changes tell: that as many fall on every second row by
	// chance happens once in a million times.
	tellingChanges = 20
	// slowestHeld (s) is the slowest word of a frame: one in sixteen frames of 4 s.
	slowestHeld = 64.0
	// frameSeconds is how often a discrete is recorded at the least where no regulation
	// says: once in a frame.
	frameSeconds = 4.0
)

// hold is how a column repeats its samples.
type hold struct {
	stride  int     // rows from sample to sample; 0 or 1: not held
	row     float64 // usual time from row to row, s
	phase   float64 // time of a row with a sample, s
	changes int
	dense   bool // it has a value in nearly every row
}

// findHolds looks at every channel of a stretch and sets how it is held.
func findHolds(channels []*channel) (notes []string) {
	most := 0
	for _, c := range channels {
		most = max(most, c.count())
	}
	slowest := 0
	var told []string
	for _, c := range channels {
		c.hold = hold{dense: 100*c.count() >= 98*most && c.count() > tellingChanges}
		if !c.hold.dense {
			continue
		}
		c.findHold()
		if c.hold.changes >= tellingChanges && c.hold.stride > 1 {
			slowest = max(slowest, c.hold.stride)
			told = append(told, fmt.Sprintf("%s 1 row in %d", c.parameter.Name, c.hold.stride))
		}
	}
	if slowest == 0 {
		for _, c := range channels {
			c.hold.stride = 0
		}
		return nil
	}
	var rare []string
	for _, c := range channels {
		if c.hold.dense && c.hold.changes < tellingChanges {
			if c.assumeHold(slowest); c.hold.stride > 1 {
				rare = append(rare, fmt.Sprintf("%s 1 row in %d", c.parameter.Name, c.hold.stride))
			}
		}
	}
	notes = append(notes, "columns that repeat a value until the next sample were reduced to the true samples, as their changes show: "+joinNames(told))
	if len(rare) > 0 {
		notes = append(notes, "columns that change too rarely to show this were treated in the same way: "+joinNames(rare))
	}
	return notes
}

// findHold finds the largest number of rows that divides the distances between all
// changes. It stops as soon as that is one row, which nearly always is at once.
func (c *channel) findHold() {
	h, started := &c.hold, false
	var before sampleValue
	c.eachBlock(func(block *channel) bool {
		if h.row == 0 {
			h.row = usualStep(block.times)
			h.phase = block.times[0]
		}
		for i, at := range block.times {
			v := block.value(i)
			if started && v != before {
				if h.changes == 0 {
					h.phase = at
				} else {
					h.stride = divisor(h.stride, int(math.Round(min((at-h.phase)/h.row, 1e9))))
				}
				h.changes++
			}
			started, before = true, v
			if h.changes > 1 && h.stride <= 1 {
				h.changes = tellingChanges // enough to know
				return false
			}
		}
		return true
	})
	if float64(h.stride)*h.row > slowestHeld && h.changes >= tellingChanges {
		h.stride = 1
	}
}

// assumeHold has a column that changes rarely be held as slowly as its changes, the
// regulation on it and the slowest column of the export allow. Too slow costs
// certainty, too fast would lend it.
func (c *channel) assumeHold(slowest int) {
	allowed := c.parameter.LongestInterval
	if allowed == 0 {
		allowed = frameSeconds
	}
	most := min(slowest, max(1, int(math.Round(allowed/c.hold.row))))
	stride := c.hold.stride // 0 with fewer than two changes
	for c.hold.stride = most; stride > 0 && stride%c.hold.stride != 0; c.hold.stride-- {
	}
}

// thin takes out the samples that repeat the one before.
func (c *channel) thin() {
	h := c.hold
	var before sampleValue
	c.filter(func(i int) bool {
		v := c.value(i)
		changed := i > 0 && v != before
		before = v
		rows := int(math.Round((c.times[i] - h.phase) / h.row))
		return changed || rows%h.stride == 0
	})
}

// sampleValue is a number or a code, to be compared.
type sampleValue struct {
	number float64
	code   uint8
}

func (c *channel) value(i int) sampleValue {
	if c.numeric {
		return sampleValue{number: c.numbers[i]}
	}
	return sampleValue{code: c.codes[i]}
}

// eachBlock hands the samples to use piece by piece until it has seen enough.
func (c *channel) eachBlock(use func(block *channel) (more bool)) {
	if c.packed != nil {
		block := &channel{numeric: c.numeric}
		for i := range c.packed.blocks() {
			block.truncate(0)
			c.packed.unpack(block, i, i+1)
			if !use(block) {
				return
			}
		}
	}
	if len(c.times) > 0 {
		use(c)
	}
}

// usualStep is the median step of the first times, s.
func usualStep(times []float64) float64 {
	var steps []float64
	for i := 1; i < min(len(times), 200); i++ {
		steps = append(steps, times[i]-times[i-1])
	}
	slices.Sort(steps)
	if len(steps) == 0 || steps[len(steps)/2] <= 0 {
		return math.Inf(1)
	}
	return steps[len(steps)/2]
}

// divisor is the greatest common divisor.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// setHold says how much later than its row each sample was taken, and what of its time
// is not known: a held value shows up in the first row after it.
func (s *Series) setHold(h hold, source *schemas.Source) {
	s.delay = source.TimeOffset
	if h.stride > 1 {
		s.TimeAccuracy = h.row
	}
}
