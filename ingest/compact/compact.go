// Package compact keeps long columns of samples in a fraction of their size, and
// gives every one of them back to the bit.
//
// A column is filled block by block, and unpacked block by block. Numbers are
// written in an export with a few decimals: a block of them is kept as integers,
// so many of the last decimal each, of which only the differences are packed
// (Parquet's DELTA_BINARY_PACKED). Numbers that are no short decimals are kept
// beside them, and a block of many such as it is. Codes are kept as runs.
//
// Nothing here knows of parameters, times or files. A column is filled by one
// goroutine; once it is filled any number may read it.
package compact

import (
	"bytes"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go/encoding/delta"
)

const (
	// mostDecimals is how many decimals are looked for: recorders have 6 at most, for
	// positions.
	mostDecimals = 9
	// mostInteger bounds the integers: up to it each has a float64 of its own.
	mostInteger = 1 << 53
	// mostOdd is the share of a block, one in so many, that may be no short decimals.
	mostOdd = 16
)

var powers = [mostDecimals + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// Numbers is a column of numbers, each any float64.
type Numbers struct {
	blocks []numbers
	bytes  int
}

// numbers is a block: packed, or plain where most of it is no short decimals.
type numbers struct {
	packed   []byte
	decimals int
	odd      []odd // in their order
	plain    []float64
}

// odd is a number that is no short decimal, at its place in the block.
type odd struct {
	at    int
	value float64
}

// Packer makes blocks. It keeps the memory it needs for that, so one is used for
// many columns, by one goroutine at a time.
type Packer struct {
	integers []int64
	odd      []odd
	packed   []byte
}

// Blocks is how many blocks there are.
func (c *Numbers) Blocks() int { return len(c.blocks) }

// Bytes is about how much memory the column takes.
func (c *Numbers) Bytes() int { return c.bytes }

// blockBytes is what a block takes besides its data: its description and what an
// allocation is rounded up by.
const blockBytes = 128

// Equal reports whether two columns were filled with the same blocks.
func (c *Numbers) Equal(o *Numbers) bool {
	return slices.EqualFunc(c.blocks, o.blocks, func(a, b numbers) bool {
		same := func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) }
		return a.decimals == b.decimals && bytes.Equal(a.packed, b.packed) && slices.EqualFunc(a.plain, b.plain, same) &&
			slices.EqualFunc(a.odd, b.odd, func(x, y odd) bool { return x.at == y.at && same(x.value, y.value) })
	})
}

// Append packs a block; values are not kept.
func (c *Numbers) Append(p *Packer, values []float64) {
	var b numbers
	if decimals, ok := p.decimals(values); ok {
		var coding delta.BinaryPackedEncoding
		p.packed, _ = coding.EncodeInt64(p.packed, p.integers) // it has no errors
		b = numbers{packed: append([]byte(nil), p.packed...), decimals: decimals, odd: append([]odd(nil), p.odd...)}
	} else {
		b.plain = append([]float64(nil), values...)
	}
	c.blocks = append(c.blocks, b)
	c.bytes += blockBytes + cap(b.packed) + 16*cap(b.odd) + 8*cap(b.plain)
}

// decimals turns values into integers of the fewest decimals that give all of
// them; ok is false when too many are no short decimals.
func (p *Packer) decimals(values []float64) (decimals int, ok bool) {
	for {
		p.integers, p.odd = p.integers[:0], p.odd[:0]
		needed, last := decimals, int64(0)
		for i, v := range values {
			n, exact := integer(v, powers[decimals])
			if !exact {
				if needed = decimalsOf(v, decimals+1); needed <= mostDecimals {
					break // with more decimals, from the first value
				}
				needed, n = decimals, last // a difference of nothing
				p.odd = append(p.odd, odd{i, v})
				if len(p.odd) > len(values)/mostOdd {
					return 0, false
				}
			}
			p.integers = append(p.integers, n)
			last = n
		}
		if needed == decimals {
			return decimals, true
		}
		decimals = needed
	}
}

// decimalsOf is how many decimals, from so many on, give the value exactly; more
// than mostDecimals where none do.
func decimalsOf(v float64, from int) int {
	for d := from; d <= mostDecimals; d++ {
		if _, exact := integer(v, powers[d]); exact {
			return d
		}
	}
	return mostDecimals + 1
}

// integer is the value times a power of ten, and whether dividing by it gives the
// value back, with its sign.
func integer(v, power float64) (n int64, exact bool) {
	scaled := v * power
	if !(math.Abs(scaled) < mostInteger) { // nor is NaN
		return 0, false
	}
	n = int64(scaled + math.Copysign(0.5, scaled))
	return n, math.Float64bits(float64(n)/power) == math.Float64bits(v)
}

// Unpacker gives blocks back. It keeps the memory it needs for that; the zero
// value is ready, for one goroutine at a time.
type Unpacker struct{ integers []int64 }

// UnpackAll returns the values of the blocks from one up to another, count of them.
func (c *Numbers) UnpackAll(from, to, count int) []float64 {
	var u Unpacker
	values := make([]float64, 0, count)
	for i := from; i < to; i++ {
		values = c.Unpack(&u, i, values)
	}
	return values
}

// Unpack appends the values of a block to those given.
func (c *Numbers) Unpack(u *Unpacker, block int, values []float64) []float64 {
	b := &c.blocks[block]
	if b.plain != nil {
		return append(values, b.plain...)
	}
	var coding delta.BinaryPackedEncoding
	u.integers, _ = coding.DecodeInt64(u.integers, b.packed) // we packed it: it is sound
	from := len(values)
	power := powers[b.decimals]
	for _, n := range u.integers {
		values = append(values, float64(n)/power)
	}
	for _, o := range b.odd {
		values[from+o.at] = o.value
	}
	return values
}
