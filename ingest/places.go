package ingest

import (
	"fmt"
	"math"
	"strings"
)

// A recorder samples its words one after the other. Some tools leave out when in the second
// each word was sampled: all words that come once a second then stand at the same place in
// it, which is that of none, and the order of two changes within a second is not known.
const (
	// slowRow (s) is the least time from sample to sample that matters.
	slowRow = 0.5
	// fewColumns may be sampled at the same place by chance: with eight places in a second
	// four are once in five hundred exports.
	fewColumns = 4
)

// placeless returns the time, s, within which nothing says when a word was sampled: that
// from sample to sample of the slow words, where all of them stand at one place in it;
// else 0.
func placeless(channels []*channel) float64 {
	type slow struct{ step, first float64 }
	var words []slow
	row := math.Inf(1)
	for _, c := range channels {
		if c.count() <= tellingChanges {
			continue
		}
		c.eachBlock(func(block *channel) bool {
			if step := usualStep(block.times); step >= slowRow && !math.IsInf(step, 1) {
				words = append(words, slow{step, block.times[0]})
				row = min(row, step)
			}
			return false
		})
	}
	if len(words) < fewColumns {
		return 0
	}
	for _, w := range words {
		rows := (w.first - words[0].first) / row
		if math.Abs(rows-math.Round(rows)) > 1e-3 {
			return 0
		}
	}
	return row
}

// within returns how much earlier or later than its time a sample of a series may have
// been taken, and a note where a profile may have more to state. That is no longer than
// from sample to sample. The parameters of a MATLAB file have a rate each, and no place.
func (r *reading) within(channels []*channel) (of func(*Series) float64, notes []string) {
	if stated := r.profile.Time.Accuracy; stated != nil {
		return func(*Series) float64 { return *stated }, nil
	}
	if strings.HasPrefix(r.format, "MATLAB") {
		return func(s *Series) float64 { return s.Interval }, nil
	}
	row := placeless(channels)
	if row == 0 {
		return func(*Series) float64 { return 0 }, nil
	}
	return func(s *Series) float64 { return min(s.Interval, row) },
		[]string{fmt.Sprintf("all samples recorded every %g s have the same place in that interval, so it is not known when each was sampled: times may be wrong by up to the interval; give the columns a time_offset, or accuracy under time, in the profile", row)}
}
