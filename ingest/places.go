package ingest

import (
	"fmt"
	"math"
	"strings"
)

// A recorder samples its words one after the other. Some tools write a row a second and
// leave out when in the second each word was sampled: then the time of the row is that of
// none, and the order of two changes within a row is not known.
const (
	// slowRow (s) is the least time from row to row that matters.
	slowRow = 0.5
	// fewColumns may be sampled at the same times by chance, or in truth.
	fewColumns = 8
)

// placeless returns how much earlier or later than its row a sample may have been taken, in
// s: the time of a row, where the columns have their samples in the same slow rows and the
// profile states no place of any, else 0.
func placeless(channels []*channel) float64 {
	most := 0
	for _, c := range channels {
		most = max(most, c.count())
	}
	if most <= tellingChanges {
		return 0
	}
	row, first, alike := 0.0, 0.0, 0
	for _, c := range channels {
		if c.source.TimeOffset != 0 {
			return 0
		}
		if 100*c.count() < 98*most {
			continue
		}
		same := true
		c.eachBlock(func(block *channel) bool {
			step := usualStep(block.times)
			if alike == 0 {
				row, first = step, block.times[0]
			}
			rows := (block.times[0] - first) / row
			same = step == row && math.Abs(rows-math.Round(rows)) < 1e-6
			return false
		})
		if !same {
			return 0
		}
		alike++
	}
	if row < slowRow || math.IsInf(row, 1) || alike < fewColumns {
		return 0
	}
	return row
}

// within returns how much earlier or later than its time a sample of a series may have
// been taken, and a note where a profile may have more to state. The parameters of a MATLAB file have
// a rate each, and no place: their own interval is what is known.
func (r *reading) within(channels []*channel) (of func(*Series) float64, notes []string) {
	known := func(seconds float64) func(*Series) float64 { return func(*Series) float64 { return seconds } }
	if stated := r.profile.Time.Accuracy; stated != nil {
		return known(*stated), nil
	}
	if strings.HasPrefix(r.format, "MATLAB") {
		return func(s *Series) float64 { return s.Interval }, nil
	}
	row := placeless(channels)
	if row == 0 {
		return known(0), nil
	}
	return known(row), []string{fmt.Sprintf("every cell of a row stands at its time, and nothing says when in the %g s each word was sampled: times may be wrong by up to that; state time_offset of columns, or accuracy under time, in the profile", row)}
}
