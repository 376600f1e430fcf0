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
	if cause := r.excess(total, most, size); cause != "" {
		return r.problem(cause, excessHint)
	}
	return nil
}

const excessHint = "split the export by flight or by day, or map fewer parameters"

// cellsPerCheck is how often the samples of a column that is at hand as a whole are counted,
// and packed.
const cellsPerCheck = 1 << 20

// atOnce is how many of n samples to make room for at once: those of a recording that will be
// packed come and go.
func (r *reading) atOnce(n int) int {
	if r.packAbove > 0 {
		n = min(n, max(r.packAbove, cellsPerCheck))
	}
	return n
}

// checkNow checks the samples before cell i of a long column.
func (r *reading) checkNow(i int) error {
	if i%cellsPerCheck != cellsPerCheck-1 {
		return nil
	}
	return r.checkSamples()
}

// mostSamples is how many samples of one parameter, which are unpacked all at once, are kept
// beside the packed ones: no more than fit in the limit and nearly a gigabyte more.
func (r *reading) mostSamples(packed int) int {
	const beside = 896 << 20
	return int(max(0, min(maxSamples, (r.room()+beside-int64(packed))/SampleBytes)))
}

// boundUse sets how many samples of a flight of the recording are unpacked at once.
func (r *reading) boundUse(out *Recording) {
	packed := int64(0)
	for _, stretch := range out.Stretches() {
		packed += stretch.PackedBytes()
	}
	for _, stretch := range out.Stretches() {
		for _, s := range slices.Concat(stretch.Series, stretch.Alternatives) {
			if s.Packed() {
				s.packed.most = r.mostSamples(int(packed))
			}
		}
	}
}

// excess is the cause to refuse so many samples for, "" for none: most of them are
// of one parameter, and packed they take size bytes.
func (r *reading) excess(total, most, size int) string {
	switch limit := r.mostSamples(size); {
	case !r.packing && total > limit:
		return fmt.Sprintf("has more than %d samples of the mapped parameters", limit)
	case most > limit:
		return fmt.Sprintf("has more than %d samples of one parameter", limit)
	case size > maxPackedBytes:
		return fmt.Sprintf("has so many samples of the mapped parameters that they take more than %d MiB, packed", maxPackedBytes>>20)
	}
	return ""
}

// seriesOf makes the Series of a channel. It is packed where the channel is; the
// scratch channel lends the arrays for that.
func (r *reading) seriesOf(c *channel, scratch *scratch) (s *Series, t timing) {
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
		if known.same(s.packed.times) {
			s.packed.times = known
			return
		}
	}
	r.times = append(r.times, s.packed.times)
}
