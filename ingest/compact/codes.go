package compact

// Codes is a column of codes: discretes and states, which rarely change.
type Codes struct {
	blocks [][]run
	bytes  int
}

// run is a number of equal codes.
type run struct {
	code  uint8
	count uint32
}

// Bytes returns the approximate memory of the column, in bytes.
func (c *Codes) Bytes() int { return c.bytes }

// Append packs a block; it does not keep codes.
func (c *Codes) Append(codes []uint8) {
	var runs []run
	for i, code := range codes {
		if i == 0 || code != codes[i-1] {
			runs = append(runs, run{code: code})
		}
		runs[len(runs)-1].count++
	}
	c.blocks = append(c.blocks, runs)
	c.bytes += blockBytes + 8*cap(runs)
}

// Unpack appends the codes of a block to codes.
func (c *Codes) Unpack(block int, codes []uint8) []uint8 {
	for _, r := range c.blocks[block] {
		for range r.count {
			codes = append(codes, r.code)
		}
	}
	return codes
}
