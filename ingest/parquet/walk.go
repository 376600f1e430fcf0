package parquet

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Depth of structs and lists in a footer: file, row groups, row group, chunks, chunk,
// metadata, statistics, and a few more.
const maxThriftDepth = 24

// footerRoom bounds the memory that a decoded footer takes beside its texts: 300,000 column
// chunks, which are those of 3,000 parameters in a hundred row groups. An entry of a list
// takes a byte of a footer at least, and up to chunkBytes of memory.
const (
	footerRoom = 256 << 20
	chunkBytes = 800 // of a format.ColumnChunk, the largest entry
	entryBytes = 64  // of an entry of the lists in it
	chunkDepth = 6   // of the struct that is an entry of the list of chunks in the list of row groups
)

var errShort = errors.New("it ends too soon")

// thriftWalk walks a struct in Thrift's compact protocol. The decoder makes room for a list
// before it reads it, and descends without a limit of its own.
type thriftWalk struct {
	data []byte
	at   int
	room int // bytes of memory
}

// Kinds of values, from the specification of the compact protocol.
const (
	thriftStop = iota
	thriftTrue
	thriftFalse
	thriftByte
	thriftI16
	thriftI32
	thriftI64
	thriftDouble
	thriftBinary
	thriftList
	thriftSet
	thriftMap
	thriftStruct
	thriftUUID
)

// checkThrift walks the struct at the beginning of data and returns its size in bytes.
func checkThrift(data []byte) (int, error) {
	w := thriftWalk{data: data, room: footerRoom}
	err := w.fields(0)
	return w.at, err
}

func (w *thriftWalk) fields(depth int) error {
	for {
		head, err := w.byte()
		if err != nil || head == thriftStop {
			return err
		}
		if head>>4 == 0 { // the number of the field follows
			if _, err := w.number(); err != nil {
				return err
			}
		}
		if kind := head & 15; kind != thriftTrue && kind != thriftFalse { // which have no bytes as fields
			if err := w.value(kind, depth+1); err != nil {
				return err
			}
		}
	}
}

func (w *thriftWalk) value(kind byte, depth int) error {
	if depth > maxThriftDepth {
		return fmt.Errorf("it nests deeper than %d", maxThriftDepth)
	}
	switch kind {
	case thriftTrue, thriftFalse, thriftByte:
		return w.skip(1)
	case thriftI16, thriftI32, thriftI64:
		_, err := w.number()
		return err
	case thriftDouble:
		return w.skip(8)
	case thriftUUID:
		return w.skip(16)
	case thriftBinary:
		n, err := w.number()
		if err != nil {
			return err
		}
		return w.skip(n)
	case thriftList, thriftSet:
		return w.list(depth)
	case thriftMap:
		return w.pairs(depth)
	case thriftStruct:
		return w.fields(depth)
	}
	return fmt.Errorf("it has a value of the unknown kind %d", kind)
}

// list walks a list, whose entries take a byte each at least.
func (w *thriftWalk) list(depth int) error {
	head, err := w.byte()
	if err != nil {
		return err
	}
	kind, n := head&15, uint64(head>>4)
	if n == 15 {
		if n, err = w.number(); err != nil {
			return err
		}
	}
	each := entryBytes
	if kind == thriftStruct && depth < chunkDepth {
		each = chunkBytes
	}
	if left := len(w.data) - w.at; n > uint64(left) {
		return fmt.Errorf("a list of %d entries in %d bytes", n, left)
	}
	if n > uint64(w.room/each) {
		return errors.New("it lists more row groups and columns than are read")
	}
	w.room -= int(n) * each
	for range n {
		if err := w.value(kind, depth+1); err != nil {
			return err
		}
	}
	return nil
}

func (w *thriftWalk) pairs(depth int) error {
	n, err := w.number()
	if err != nil || n == 0 {
		return err
	}
	kinds, err := w.byte()
	if err != nil {
		return err
	}
	if left := len(w.data) - w.at; n > uint64(left/2) || n > uint64(w.room/entryBytes) {
		return fmt.Errorf("%d pairs in %d bytes", n, left)
	}
	w.room -= int(n) * entryBytes
	for range n {
		for _, kind := range []byte{kinds >> 4, kinds & 15} {
			if err := w.value(kind, depth+1); err != nil {
				return err
			}
		}
	}
	return nil
}

func (w *thriftWalk) byte() (byte, error) {
	if w.at >= len(w.data) {
		return 0, errShort
	}
	w.at++
	return w.data[w.at-1], nil
}

func (w *thriftWalk) number() (uint64, error) {
	v, n := binary.Uvarint(w.data[w.at:])
	if n <= 0 {
		return 0, errShort
	}
	w.at += n
	return v, nil
}

func (w *thriftWalk) skip(n uint64) error {
	if left := len(w.data) - w.at; n > uint64(left) {
		return fmt.Errorf("a value of %d bytes where %d are left", n, left)
	}
	w.at += int(n)
	return nil
}

// checkRuns walks runs of values of so many bits, packed or one value that repeats, and
// wants n values: a run may claim two thousand million. The last run may be filled up, as
// eight are packed together.
func checkRuns(data []byte, width, n int) error {
	most := uint64(n + 7)
	have := uint64(0)
	for at := 0; at < len(data) && have < uint64(n); {
		head, k := binary.Uvarint(data[at:])
		if k <= 0 {
			return errShort
		}
		at += k
		count, size := head>>1, uint64(width+7)/8
		if count > math.MaxInt32 {
			return fmt.Errorf("a run of %d values in a page of %d", count, n)
		}
		if head&1 == 1 {
			count, size = count*8, count*uint64(width)
		}
		if count > most-have {
			return fmt.Errorf("a run of %d values after %d in a page of %d", count, have, n)
		}
		if size > uint64(len(data)-at) {
			return fmt.Errorf("a run of %d bytes where %d are left", size, len(data)-at)
		}
		at += int(size)
		have += count
	}
	if have < uint64(n) {
		return fmt.Errorf("%d values where the page has %d", have, n)
	}
	return nil
}

// checkDelta walks n numbers written as differences, each in at most width bits, and returns
// where they end.
func checkDelta(data []byte, width uint, n int) (end int, err error) {
	number := func() (v uint64) {
		if err == nil {
			k := 0
			if v, k = binary.Uvarint(data[end:]); k <= 0 {
				err = errShort
				return 0
			}
			end += k
		}
		return v
	}
	block, parts, total := number(), number(), number()
	number() // the first value
	const mostBlock = 1 << 16
	switch {
	case err != nil:
		return end, err
	case total != uint64(n):
		return end, fmt.Errorf("%d differences for %d values", total, n)
	case block == 0 || block > mostBlock || block%128 != 0 || parts == 0 || block%parts != 0 || block/parts%32 != 0:
		return end, fmt.Errorf("blocks of %d differences in %d parts", block, parts)
	}
	each := int(block / parts)
	for left := n - 1; left > 0; {
		number() // the least difference
		if err != nil || len(data)-end < int(parts) {
			return end, errShort
		}
		widths := data[end : end+int(parts)]
		end += int(parts)
		for _, w := range widths {
			if left <= 0 {
				break
			}
			size := each * int(w) / 8
			if uint(w) > width || size > len(data)-end {
				return end, fmt.Errorf("differences of %d bits where %d bytes are left", w, len(data)-end)
			}
			end += size
			left -= each
		}
	}
	return end, nil
}
