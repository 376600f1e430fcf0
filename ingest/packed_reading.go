package ingest

import (
	"fmt"
	"slices"
)

// checkSamples packs the samples of a large recording and refuses an export that
// has more than are kept.
func (r *reading) checkSamples() error {
	total, most := 0, 0
	for _, c := range r.mapping.channels {
		one := 0
		for _, c := range c.columns() {
			one += c.count()
		}
		total, most = total+c.whole(), max(most, one)
	}
	r.packing = r.packing || r.packAbove > 0 && total > r.packAbove
	size := 0
	for _, c := range r.mapping.channels {
		if r.packing {
			c.pack(&r.packer, false)
		}
		size += c.packedBytes()
	}
	if cause := excess(r.packing, total, most, size); cause != "" {
		return r.problem(cause, excessHint)
	}
	return nil
}

const excessHint = "split the export by flight or by day, or map fewer parameters"

// excess is the cause to refuse so many samples for, "" for none: most of them are
// of one parameter, and packed they take size bytes.
func excess(packing bool, total, most, size int) string {
	switch {
	case !packing && total > maxSamples:
		return fmt.Sprintf("has more than %d samples of the parameters the profile maps", maxSamples)
	case most > maxSamples:
		return fmt.Sprintf("has more than %d samples of one parameter", maxSamples)
	case size > maxPackedBytes:
		return fmt.Sprintf("has so many samples of the parameters the profile maps that they take more than %d MiB, packed", maxPackedBytes>>20)
	}
	return ""
}

// seriesOf makes the Series of a channel. It is packed where the channel is; the
// scratch channel lends the arrays for that.
func (r *reading) seriesOf(c, scratch *channel) (s *Series, t timing) {
	if c.samples != nil && r.packing {
		c.pack(&r.packer, true)
	}
	if c.packed == nil {
		return c.series()
	}
	if scratch.times == nil { // large enough for all of them at once
		most := 0
		for _, c := range r.mapping.channels {
			most = max(most, c.count())
		}
		scratch.times, scratch.numbers = make([]float64, 0, most), make([]float64, 0, most)
	}
	s, t = c.packedSeries(&r.packer, scratch)
	if !t.conflict {
		r.shareTimes(s)
	}
	return s, t
}

// shareTimes has a series use the times of one before it where they are the same.
func (r *reading) shareTimes(s *Series) {
	for _, known := range r.times {
		if known.count == s.packed.times.count && slices.Equal(known.before, s.packed.times.before) && known.numbers.Equal(&s.packed.times.numbers) {
			s.packed.times = known
			return
		}
	}
	r.times = append(r.times, s.packed.times)
}
