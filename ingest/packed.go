package ingest

import (
	"cmp"
	"fmt"
	"slices"

	"downlock/ingest/compact"
	"downlock/schemas"
)

// blockSamples is how many samples are packed at a time. Fewer cost more
// bookkeeping; of more the columns of a wide export would wait with too much
// unpacked, 5 MiB for 64 of them at this size.
const blockSamples = 4096

// packed is the samples of one parameter in blocks, as the export has them:
// numbers before conversion, since that makes long fractions of short decimals.
type packed struct {
	times   *packedTimes
	numbers compact.Numbers // of a numeric parameter
	codes   compact.Codes   // of the others
	most    int             // samples of a flight that are unpacked at once, of all parameters; 0: maxSamples
}

func newPacked() *packed { return &packed{times: &packedTimes{}} }

func (p *packed) bytes() int { return p.times.bytes() + p.numbers.Bytes() + p.codes.Bytes() }

func (p *packed) blocks() int { return len(p.times.starts) }

// add packs a block; one of numbers and codes is empty.
func (p *packed) add(packer *packer, times, numbers []float64, codes []uint8) {
	if len(times) == 0 {
		return
	}
	p.times.add(packer, times)
	if len(numbers) > 0 {
		p.numbers.Append(&packer.Packer, numbers)
	} else {
		p.codes.Append(codes)
	}
}

// unpack appends the samples of the blocks from one up to another to a channel's.
func (p *packed) unpack(c *channel, from, to int) {
	var u compact.Unpacker
	for i := from; i < to; i++ {
		c.times = p.times.numbers.Unpack(&u, i, c.times)
	}
	p.unpackValues(c, from, to)
}

// unpackValues is unpack without the times.
func (p *packed) unpackValues(c *channel, from, to int) {
	var u compact.Unpacker
	for i := from; i < to; i++ {
		if c.numeric {
			c.numbers = p.numbers.Unpack(&u, i, c.numbers)
		} else {
			c.codes = p.codes.Unpack(i, c.codes)
		}
	}
}

// only is p without the samples whose times are not among those kept, which rise
// as p's do.
func (p *packed) only(packer *packer, kept []float64, numeric bool) *packed {
	out := newPacked()
	block := &channel{numeric: numeric}
	for i := range p.blocks() {
		block.truncate(0)
		p.unpack(block, i, i+1)
		block.filter(func(i int) bool {
			if len(kept) == 0 || block.times[i] != kept[0] {
				return false
			}
			kept = kept[1:]
			return true
		})
		out.add(packer, block.times, block.numbers, block.codes)
	}
	return out
}

// pack packs the channel's full blocks; the samples after them, or none where all
// are to be packed, stay as they are.
func (c *channel) pack(packer *packer, all bool) {
	n := len(c.times) / blockSamples * blockSamples
	if all {
		n = len(c.times)
	}
	if n == 0 {
		return
	}
	if c.packed == nil {
		c.packed = newPacked()
	}
	for from := 0; from < n; from += blockSamples {
		to := min(from+blockSamples, n)
		if c.numeric {
			c.packed.add(packer, c.times[from:to], c.numbers[from:to], nil)
		} else {
			c.packed.add(packer, c.times[from:to], nil, c.codes[from:to])
		}
	}
	c.spacing = nil
	if c.borrowed {
		c.times = slices.Clone(c.times[n:])
	} else {
		c.times = rest(c.times, n)
	}
	switch {
	case !c.numeric:
		c.codes = rest(c.codes, n)
	case c.borrowed:
		c.numbers = slices.Clone(c.numbers[n:])
	default:
		c.numbers = rest(c.numbers, n)
	}
	c.borrowed = false
}

// rest moves the values after the first n to the front, of an array no
// larger than the next block needs.
func rest[T any](values []T, n int) []T {
	const most = blockSamples + rowsPerCheck
	if cap(values) > 2*most {
		return append(make([]T, 0, most), values[n:]...)
	}
	return append(values[:0], values[n:]...)
}

// scratch is the arrays that channels are unpacked into, one after the other.
type scratch struct {
	channel
	of    *packedTimes // what the times are; nil where they were changed since
	known *spacing     // of them
}

// packedSeries is series for a channel that is packed: the same Series, but with
// its samples packed again.
func (c *channel) packedSeries(packer *packer, scratch *scratch) (s *Series, t timing) {
	c.pack(packer, true)
	store := c.packed
	work := *c
	work.packed, work.times, work.numbers, work.codes, work.chosen = nil, scratch.times[:0], scratch.numbers[:0], scratch.codes[:0], scratch.chosen
	work.grow(store.times.count)
	if scratch.of != nil && scratch.of.same(store.times) { // sampled together with the one before
		work.times, work.spacing = scratch.times, scratch.known
		store.unpackValues(&work, 0, store.blocks())
	} else {
		store.unpack(&work, 0, store.blocks())
		scratch.of = nil
	}
	raw := store.times
	if work.spacing == nil && !isRising(work.times) {
		if t = work.separate(); t.conflict {
			return nil, t
		}
		again := work
		again.pack(packer, true)
		raw, store = nil, again.packed
	} else if work.spacing == nil {
		work.spacing = spacingOf(work.times)
	}
	known := work.spacing
	s, _ = work.series()
	scratch.times, scratch.numbers, scratch.codes, scratch.chosen = work.times, work.numbers, work.codes, work.chosen
	if scratch.of, scratch.known = raw, known; work.spacing != known { // samples were taken out
		scratch.of = nil
	}
	switch {
	case work.meaning.computed != nil && work.meaning.computed.levels: // the store has codes that are not settled
		settled := work
		settled.times, settled.codes = slices.Clone(s.TimeValues()), slices.Clone(s.Codes())
		settled.pack(packer, true)
		if store = settled.packed; store == nil {
			store = newPacked()
		}
	case s.Len() < store.times.count:
		store = store.only(packer, s.TimeValues(), c.numeric)
	}
	c.packed = nil
	s.Times, s.Values, s.packed, s.source = nil, nil, store, c.source
	return s, t
}

// truncate keeps the first n samples, and the arrays.
func (c *channel) truncate(n int) {
	c.times = c.times[:n]
	c.numbers, c.codes = c.numbers[:min(n, len(c.numbers))], c.codes[:min(n, len(c.codes))]
}

// Packed reports whether the samples are packed: Times and Values are nil then.
func (s *Series) Packed() bool { return s.packed != nil }

// around returns a packed series with the samples of a stretch of time and its
// margins, unpacked.
func (s *Series) around(start, end float64, parts *timesParts) *Series {
	from, to := s.packed.times.around(start, end, s.shifts)
	out := *s
	out.packed = nil
	out.Times = float64Array(parts.of(s, from, to))
	if s.Parameter.Numeric() {
		out.Values = float64Array(s.unpackedNumbers(from, to))
	} else {
		out.Values = uint8Array(s.unpackedCodes(from, to))
	}
	return &out
}

// unpackedNumbers returns the numbers of the blocks from one up to another, in the
// canonical unit.
func (s *Series) unpackedNumbers(from, to int) []float64 {
	numbers := s.packed.numbers.UnpackAll(from, to, s.packed.times.samples(from, to))
	return convert(numbers, s.source, s.Parameter, true)
}

// unpackedCodes returns the codes of the blocks from one up to another.
func (s *Series) unpackedCodes(from, to int) []uint8 {
	codes := make([]uint8, 0, s.packed.times.samples(from, to))
	for i := from; i < to; i++ {
		codes = s.packed.codes.Unpack(i, codes)
	}
	return codes
}

// Packed reports whether samples of the recording are packed.
func (r *Recording) Packed() bool {
	return slices.ContainsFunc(slices.Concat(r.Series, r.Alternatives), (*Series).Packed)
}

// PackedBytes is about how much memory the packed samples take.
func (r *Recording) PackedBytes() (bytes int64) {
	counted := map[*packedTimes]bool{}
	for _, s := range slices.Concat(r.Series, r.Alternatives) {
		if !s.Packed() {
			continue
		}
		bytes += int64(s.packed.numbers.Bytes() + s.packed.codes.Bytes())
		if times := s.packed.times; !counted[times] {
			counted[times] = true
			bytes += int64(times.bytes())
		}
	}
	return bytes
}

// Between is the recording with the samples of a stretch of time, some more
// either side, unpacked; everything else is that of the whole: start and end,
// intervals, dropped samples. A recording that is not packed is given as it is.
// The error is a schemas.Problem of too many samples.
func (r *Recording) Between(start, end float64) (*Recording, error) {
	if !r.Packed() {
		return r, nil
	}
	total, most := 0, maxSamples
	for _, s := range slices.Concat(r.Series, r.Alternatives) {
		if s.Packed() {
			most = min(most, cmp.Or(s.packed.most, maxSamples))
			total += s.packed.times.samples(s.packed.times.around(start, end, s.shifts))
		}
	}
	if total > most {
		return nil, &schemas.Problem{File: r.Name, Hint: excessHint,
			Cause: fmt.Sprintf("has more than %d samples of the mapped parameters between %.0f and %.0f s, in one flight", most, start, end)}
	}
	var parts timesParts
	window := func(all []*Series) []*Series {
		some := slices.Clone(all)
		for i, s := range all {
			if s.Packed() {
				some[i] = s.around(start, end, &parts)
			}
		}
		return some
	}
	out := *r
	out.Series, out.Alternatives = window(r.Series), window(r.Alternatives)
	return &out, nil
}
