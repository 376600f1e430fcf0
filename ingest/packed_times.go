package ingest

import (
	"slices"
	"sort"
	"sync"
	"unsafe"
	"weak"

	"github.com/apache/arrow/go/v17/arrow/array"

	"downlock/ingest/compact"
)

// packedTimes are the sample times of one or more parameters, in blocks: columns of
// a wide export that are sampled together have the same.
type packedTimes struct {
	numbers compact.Numbers
	starts  []float64 // of each block
	before  []int     // samples before each block
	count   int       // samples

	last lastTimes
}

// lastTimes remembers the times that were unpacked last, as long as somebody holds
// them or a part of them: then the next parameter shares them.
type lastTimes struct {
	sync.Mutex
	from, to int
	shifts   []float64
	first    weak.Pointer[float64] // of them
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

// unpacked gives the times of the blocks from one up to another, with the shifts
// added one after the other.
func (p *packedTimes) unpacked(from, to int, shifts []float64) *array.Float64 {
	p.last.Lock()
	defer p.last.Unlock()
	n := p.samples(from, to)
	if first := p.last.first.Value(); first != nil && p.last.from == from && p.last.to == to && slices.Equal(p.last.shifts, shifts) {
		return float64Array(unsafe.Slice(first, n)) // the array it was taken from below is of that length
	}
	var u compact.Unpacker
	times := make([]float64, 0, n)
	for i := from; i < to; i++ {
		times = p.numbers.Unpack(&u, i, times)
	}
	for _, by := range shifts {
		for i := range times {
			times[i] += by
		}
	}
	if n > 0 {
		p.last.from, p.last.to, p.last.shifts, p.last.first = from, to, shifts, weak.Make(&times[0])
	}
	return float64Array(times)
}

// margin (s) is how much more than a stretch of time is unpacked on either side,
// and a sample beyond it: what lies between samples needs those around it.
const margin = 120.0

// around gives the blocks that hold a stretch of time and its margins.
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
