package ingest

import (
	"slices"
	"sort"

	"downlock/ingest/compact"
)

// packedTimes are the sample times of one or more parameters, in blocks: columns of
// a wide export that are sampled together have the same.
type packedTimes struct {
	numbers compact.Numbers
	starts  []float64 // of each block
	before  []int     // samples before each block
	count   int       // samples
}

func (p *packedTimes) bytes() int { return p.numbers.Bytes() + 16*len(p.starts) }

// add packs a block of at least one time.
func (p *packedTimes) add(packer *compact.Packer, times []float64) {
	p.starts, p.before = append(p.starts, times[0]), append(p.before, p.count)
	p.count += len(times)
	p.numbers.Append(packer, times)
}

// samples is how many there are in the blocks from one up to another.
func (p *packedTimes) samples(from, to int) int {
	before := func(i int) int {
		if i < len(p.before) {
			return p.before[i]
		}
		return p.count
	}
	return before(to) - before(from)
}

// unpacked returns the times of the blocks from one up to another. It adds the
// shifts one after the other, as the samples of a plain series are shifted.
func (p *packedTimes) unpacked(from, to int, shifts []float64) []float64 {
	times := p.numbers.UnpackAll(from, to, p.samples(from, to))
	for _, by := range shifts {
		for i := range times {
			times[i] += by
		}
	}
	return times
}

// timesPart is a part of the times, unpacked.
type timesPart struct {
	of       *packedTimes
	from, to int
	shifts   []float64
	times    []float64
}

// timesParts are the parts that one call has unpacked: parameters that are sampled
// together share one array.
type timesParts []timesPart

// of returns the times of the blocks from one up to another of a packed series.
func (p *timesParts) of(s *Series, from, to int) []float64 {
	times := s.packed.times
	for _, k := range *p {
		if k.of == times && k.from == from && k.to == to && slices.Equal(k.shifts, s.shifts) {
			return k.times
		}
	}
	*p = append(*p, timesPart{times, from, to, s.shifts, times.unpacked(from, to, s.shifts)})
	return (*p)[len(*p)-1].times
}

// margin (s) is how much more than a stretch of time is unpacked on either side,
// and a sample beyond it: a time between samples needs those around it.
const margin = 120.0

// around returns the blocks that hold a stretch of time and its margins.
func (p *packedTimes) around(start, end float64, shifts []float64) (from, to int) {
	at := func(i int) float64 {
		t := p.starts[i]
		for _, by := range shifts {
			t += by
		}
		return t
	}
	from = sort.Search(len(p.starts), func(i int) bool { return at(i) >= start-margin }) - 1
	to = sort.Search(len(p.starts), func(i int) bool { return at(i) > end+margin }) + 1
	return max(from, 0), min(to, len(p.starts))
}
