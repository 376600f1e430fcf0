package compact

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// bits makes numbers comparable to the bit: NaN is not equal to itself, and -0 is
// equal to 0.
func bits(values []float64) []uint64 {
	out := make([]uint64, len(values))
	for i, v := range values {
		out[i] = math.Float64bits(v)
	}
	return out
}

func there(blocks [][]float64) (back [][]float64, column *Numbers) {
	column = &Numbers{}
	var p Packer
	var u Unpacker
	for _, b := range blocks {
		column.Append(&p, b)
	}
	for i := range column.Blocks() {
		back = append(back, column.Unpack(&u, i, nil))
	}
	return back, column
}

// anyNumber is mostly a number as an export writes it, and otherwise any number.
func anyNumber(t *rapid.T) float64 {
	switch rapid.IntRange(0, 9).Draw(t, "kind") {
	case 0:
		return math.Float64frombits(rapid.Uint64().Draw(t, "bits"))
	case 1:
		return rapid.SampledFrom([]float64{math.Copysign(0, -1), math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, 5e-324, 1 << 53, 1<<53 - 1, -(1 << 53), 0.1 + 0.2}).Draw(t, "special")
	}
	text := strconv.FormatInt(rapid.Int64Range(-1e12, 1e12).Draw(t, "digits"), 10) + "e-" + strconv.Itoa(rapid.IntRange(0, 10).Draw(t, "decimals"))
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestNumbersComeBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		blocks := rapid.SliceOfN(rapid.SliceOfN(rapid.Custom(anyNumber), 0, 300), 0, 4).Draw(t, "blocks")
		back, _ := there(blocks)
		for i := range blocks {
			if !slices.Equal(bits(blocks[i]), bits(back[i])) {
				t.Fatalf("block %d: in %v, out %v", i, blocks[i], back[i])
			}
		}
	})
}

func FuzzNumbers(f *testing.F) {
	f.Add([]byte{})
	f.Add(binary.LittleEndian.AppendUint64(nil, math.Float64bits(12.375)))
	f.Add(binary.LittleEndian.AppendUint64(binary.LittleEndian.AppendUint64(nil, math.Float64bits(math.NaN())), 1<<63))
	f.Fuzz(func(t *testing.T, data []byte) {
		var values []float64
		for ; len(data) >= 8; data = data[8:] {
			values = append(values, math.Float64frombits(binary.LittleEndian.Uint64(data)))
		}
		back, _ := there([][]float64{values})
		if !slices.Equal(bits(values), bits(back[0])) {
			t.Fatalf("in %v, out %v", values, back[0])
		}
	})
}

func TestCodesComeBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		blocks := rapid.SliceOfN(rapid.SliceOfN(rapid.Uint8Range(0, 2), 0, 300), 0, 4).Draw(t, "blocks")
		var c Codes
		for _, b := range blocks {
			c.Append(b)
		}
		for i, b := range blocks {
			if back := c.Unpack(i, []uint8{7}); back[0] != 7 || !slices.Equal(back[1:], b) {
				t.Fatalf("block %d: in %v, out %v", i, b, back)
			}
		}
	})
}

// The sizes follow from the format. A block of 128 differences takes two to eleven
// bytes for the smallest difference and four for widths. Each difference takes the
// width of the largest one above the smallest.
func TestSizes(t *testing.T) {
	t.Parallel()
	const n = 4096
	make := func(value func(i int) float64) []float64 {
		out := []float64{}
		for i := range n {
			out = append(out, value(i))
		}
		return out
	}
	noise := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name   string
		values []float64
		most   int // bytes
	}{
		{"a regular grid of times", make(func(i int) float64 { return float64(i) / 8 }), n / 128 * 15},
		{"a constant", make(func(int) float64 { return 12.7 }), n / 128 * 15},
		{"steps of up to 0.15 with two decimals: 5 bits", make(func(i int) float64 { return math.Round(float64(noise.IntN(16))) / 100 }), n*5/8 + n/128*15},
		{"the same and a few odd ones", make(func(i int) float64 {
			if i%64 == 5 {
				return 1.0 / 3
			}
			return math.Round(float64(noise.IntN(16))) / 100
		}), n*5/8 + n/128*15 + n/64*24},
		{"no decimals at all", make(func(int) float64 { return noise.Float64() }), 8 * n},
	} {
		back, column := there([][]float64{c.values})
		if !slices.Equal(bits(back[0]), bits(c.values)) {
			t.Errorf("%s: does not come back", c.name)
		}
		if got := column.Bytes(); got > c.most+c.most/8+blockBytes+64 { // allocations are rounded up by up to an eighth
			t.Errorf("%s: %d bytes, at most %d expected", c.name, got, c.most)
		}
	}
}

// A column that takes its blocks from others has what they were filled with.
func TestAppendLike(t *testing.T) {
	t.Parallel()
	var p Packer
	var u Unpacker
	first, second, both := []float64{1.5, 2, math.Pi}, []float64{7, math.Copysign(0, -1)}, &Numbers{}
	for _, block := range [][]float64{first, second} {
		var from Numbers
		from.Append(&p, []float64{99})
		from.Append(&p, block)
		both.AppendLike(&from)
		from.Append(&p, []float64{98})
	}
	var plain Numbers
	plain.Append(&p, first)
	plain.Append(&p, second)
	if got := both.Unpack(&u, 1, both.Unpack(&u, 0, nil)); !slices.Equal(bits(got), bits(slices.Concat(first, second))) {
		t.Errorf("%v", got)
	}
	if !both.Equal(&plain) || both.Bytes() != plain.Bytes() {
		t.Errorf("%d bytes, %d where packed again", both.Bytes(), plain.Bytes())
	}
}

func BenchmarkNumbers(b *testing.B) {
	noise := rand.New(rand.NewPCG(1, 2))
	values := make([]float64, 4096)
	for i := range values {
		values[i] = math.Round(1000*math.Sin(float64(i)/90)+float64(noise.IntN(9))) / 10
	}
	var p Packer
	var u Unpacker
	b.Run("pack", func(b *testing.B) {
		b.SetBytes(int64(8 * len(values)))
		for b.Loop() {
			var c Numbers
			c.Append(&p, values)
		}
	})
	b.Run("unpack", func(b *testing.B) {
		b.SetBytes(int64(8 * len(values)))
		var c Numbers
		c.Append(&p, values)
		var out []float64
		for b.Loop() {
			out = c.Unpack(&u, 0, out[:0])
		}
	})
}
