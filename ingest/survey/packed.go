package survey

import (
	"fmt"
	"math/bits"
	"slices"
	"strconv"
	"strings"
)

// packedBits describes the bits of a column that may hold packed words: whole numbers,
// decimal or hexadecimal, that are neither a switch's nor a measured value's. The text says
// which bits change and what they are on the ground and in the air; "" where it is none.
func (s *Survey) packedBits(c *Column, p phases) string {
	if c.Distinct < 2 || c.Distinct > statesKept || c.measured() || isBinary(c) && c.Distinct == 2 {
		return ""
	}
	numbers, base := wordsIn(c)
	if numbers == nil {
		return ""
	}
	var any uint64
	all := ^uint64(0)
	for _, n := range numbers {
		any |= n
		all &= n
	}
	var told []string
	for bit := range 64 {
		mask := uint64(1) << bit
		switch {
		case any&^all&mask != 0:
			told = append(told, fmt.Sprintf("bit %d changes%s", bit, s.bitIn(c, numbers, mask, p)))
		case all&mask != 0:
			told = append(told, fmt.Sprintf("bit %d is 1 throughout", bit))
		}
	}
	return fmt.Sprintf("as packed words in %s, %s", base, strings.Join(told, ", "))
}

// bitIn says how much of the time a bit is 1.
func (s *Survey) bitIn(c *Column, numbers []uint64, mask uint64, p phases) string {
	if !p.usable() {
		return ""
	}
	ground, air := 0.0, 0.0
	for state, n := range numbers {
		if n&mask != 0 {
			ground += c.shareIn(state, p.ground)
			air += c.shareIn(state, p.air)
		}
	}
	return fmt.Sprintf(" (1 for %.0f %% of the time on the ground and %.0f %% in the air)", 100*ground, 100*air)
}

// wordsIn reads the column's states as whole numbers, in the base in which the fewer bits
// are ever 1 where both will do.
func wordsIn(c *Column) (numbers []uint64, base string) {
	in := func(base int) (out []uint64) {
		for _, state := range c.States {
			text := state.Text
			if cut, ok := strings.CutPrefix(strings.ToLower(text), "0x"); ok && base == 16 {
				text = cut
			}
			n, err := strconv.ParseUint(text, base, 64)
			if err != nil {
				return nil
			}
			out = append(out, n)
		}
		return out
	}
	used := func(numbers []uint64) (n int) {
		var any uint64
		for _, v := range numbers {
			any |= v
		}
		return bits.OnesCount64(any)
	}
	decimal, hex := in(10), in(16)
	if hex == nil || decimal != nil && (slices.Equal(decimal, hex) || used(decimal) <= used(hex)) {
		return decimal, "decimal"
	}
	return hex, "hex"
}
