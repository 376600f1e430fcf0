// Package compact keeps long columns of samples in a fraction of their size and
// returns every one of them exactly, to the bit.
//
// A column is filled and unpacked block by block. Exports write numbers with a few
// decimals. A block of numbers is kept as integers, in units of the last decimal, and
// only the differences are packed (Parquet's DELTA_BINARY_PACKED). Numbers that are
// no short decimals are kept beside them. A block with many of these is kept
// unpacked. Codes are kept as runs.
//
// The package knows no parameters, times or files. One goroutine fills a column;
// after that any number may read it.
package compact

import (
	"bytes"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go/encoding/delta"
)

const (
	// mostDecimals bounds the decimals tried: recorders have 6 at most, for
	// positions.
	mostDecimals = 9
	// mostInteger bounds the integers: float64 represents each integer up to it
	// exactly.
	mostInteger = 1 << 53
	// At most one in mostOdd numbers of a block may be no short decimal.
	mostOdd = 16
)

var powers = [mostDecimals + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// Numbers is a column of any float64 numbers.
type Numbers struct {
	blocks []numbers
	bytes  int
}

// numbers is a block: packed, or plain where too many are no short decimals.
type numbers struct {
	packed   []byte
	decimals int
	odd      []odd // in order
	plain    []float64
}

// odd is a number that is no short decimal, at its place in the block.
type odd struct {
	at    int
	value float64
}

// Packer makes blocks. It keeps its working memory, so one serves many columns, for
// one goroutine at a time.
type Packer struct {
	integers []int64
	odd      []odd
	packed   []byte
}

func (c *Numbers) Blocks() int { return len(c.blocks) }

// Bytes returns the approximate memory of the column, in bytes.
func (c *Numbers) Bytes() int { return c.bytes }

// blockBytes is the memory of a block beside its data: its description and the
// rounding of its allocation.
const blockBytes = 128

// Equal reports whether two columns were filled with the same blocks.
func (c *Numbers) Equal(o *Numbers) bool {
	return slices.EqualFunc(c.blocks, o.blocks, func(a, b numbers) bool {
		same := func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) }
		return a.decimals == b.decimals && bytes.Equal(a.packed, b.packed) && slices.EqualFunc(a.plain, b.plain, same) &&
			slices.EqualFunc(a.odd, b.odd, func(x, y odd) bool { return x.at == y.at && same(x.value, y.value) })
	})
}

// Append packs a block; it does not keep values.
func (c *Numbers) Append(p *Packer, values []float64) {
	c.add(p.pack(values))
}

// AppendLike appends the last block of another column, which it shares the memory of.
func (c *Numbers) AppendLike(o *Numbers) {
	c.add(o.blocks[len(o.blocks)-1])
}

func (c *Numbers) add(b numbers) {
	c.blocks = append(c.blocks, b)
	c.bytes += blockBytes + cap(b.packed) + 16*cap(b.odd) + 8*cap(b.plain)
}

func (p *Packer) pack(values []float64) numbers {
	decimals, ok := p.decimals(values)
	if !ok {
		return numbers{plain: append([]float64(nil), values...)}
	}
	var coding delta.BinaryPackedEncoding
	p.packed, _ = coding.EncodeInt64(p.packed, p.integers) // it returns no errors
	return numbers{packed: append([]byte(nil), p.packed...), decimals: decimals, odd: append([]odd(nil), p.odd...)}
}

// decimals turns values into integers of the fewest decimals that represent all of
// them; ok is false when too many are no short decimals.
func (p *Packer) decimals(values []float64) (decimals int, ok bool) {
	for {
		p.integers, p.odd = p.integers[:0], p.odd[:0]
		needed, last := decimals, int64(0)
		for i, v := range values {
			n, exact := integer(v, powers[decimals])
			if !exact {
				if needed = decimalsOf(v, decimals+1); needed <= mostDecimals {
					break // again from the first value, with more decimals
				}
				needed, n = decimals, last // a difference of zero
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

// decimalsOf returns the least number of decimals, at least from, that represents the
// value exactly. It returns more than mostDecimals where none does.
func decimalsOf(v float64, from int) int {
	for d := from; d <= mostDecimals; d++ {
		if _, exact := integer(v, powers[d]); exact {
			return d
		}
	}
	return mostDecimals + 1
}

// integer returns the value times a power of ten. exact reports whether division by
// it returns the value, with its sign.
func integer(v, power float64) (n int64, exact bool) {
	scaled := v * power
	if !(math.Abs(scaled) < mostInteger) { // false for NaN too
		return 0, false
	}
	n = int64(scaled + math.Copysign(0.5, scaled))
	return n, math.Float64bits(float64(n)/power) == math.Float64bits(v)
}

// Unpacker unpacks blocks. It keeps its working memory. The zero value is ready for
// use, by one goroutine at a time.
type Unpacker struct{ integers []int64 }

// UnpackAll returns the count values of the blocks from `from` up to but not
// including `to`.
func (c *Numbers) UnpackAll(from, to, count int) []float64 {
	var u Unpacker
	values := make([]float64, 0, count)
	for i := from; i < to; i++ {
		values = c.Unpack(&u, i, values)
	}
	return values
}

// Unpack appends the values of a block to values.
func (c *Numbers) Unpack(u *Unpacker, block int, values []float64) []float64 {
	b := &c.blocks[block]
	if b.plain != nil {
		return append(values, b.plain...)
	}
	var coding delta.BinaryPackedEncoding
	u.integers, _ = coding.DecodeInt64(u.integers, b.packed) // we packed it, so it is valid
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
