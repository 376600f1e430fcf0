package ingest

import (
	"math"
	"slices"
	"sort"
	"sync"
	"unsafe"
	"weak"

	"downlock/ingest/compact"
)

// packedTimes are the sample times of one or more parameters, in blocks: columns of
// a wide export that are sampled together have the same.
type packedTimes struct {
	numbers compact.Numbers
	starts  []float64 // of each block
	before  []int     // samples before each block
	count   int       // samples

	mu    sync.Mutex
	inUse weak.Pointer[float64] // the first of all times, unpacked, while somebody has them
}

func (p *packedTimes) bytes() int { return p.numbers.Bytes() + 16*len(p.starts) }

// packer packs blocks of samples.
type packer struct {
	compact.Packer
	times []float64    // of the block packed last
	of    *packedTimes // whose last block it is; nil for none
}

// add packs a block of at least one time. Columns that are sampled together come one after
// the other, and their blocks are packed once.
func (p *packedTimes) add(packer *packer, times []float64) {
	p.starts, p.before = append(p.starts, times[0]), append(p.before, p.count)
	p.count += len(times)
	if packer.of != nil && sameBits(packer.times, times) {
		p.numbers.AppendLike(&packer.of.numbers)
	} else {
		p.numbers.Append(&packer.Packer, times)
		packer.times = append(packer.times[:0], times...)
	}
	packer.of = p
}

// sameBits tells -0 from 0.
func sameBits(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			return false
		}
	}
	return true
}

// same reports whether the times are those of another, in the same blocks.
func (p *packedTimes) same(o *packedTimes) bool {
	return p == o || p.count == o.count && slices.Equal(p.before, o.before) && p.numbers.Equal(&o.numbers)
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
	if from == 0 && to == len(p.starts) && len(shifts) == 0 {
		return p.whole()
	}
	times := p.numbers.UnpackAll(from, to, p.samples(from, to))
	for _, by := range shifts {
		for i := range times {
			times[i] += by
		}
	}
	return times
}

// whole returns all times, one array for all parameters that are looked at together: most
// of a wide export are sampled together, and the times of each would be unpacked anew.
func (p *packedTimes) whole() []float64 {
	p.mu.Lock()
	defer p.mu.Unlock()
	if first := p.inUse.Value(); first != nil {
		return unsafe.Slice(first, p.count)
	}
	times := p.numbers.UnpackAll(0, len(p.starts), p.count)
	if len(times) > 0 {
		p.inUse = weak.Make(&times[0])
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
