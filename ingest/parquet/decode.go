package parquet

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	library "github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding"
	"github.com/parquet-go/parquet-go/encoding/rle"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// decoder decodes pages into buffers that the next page uses again.
type decoder struct {
	unpacker
	header   thrift.BytesReader
	thrift   *thrift.Decoder
	levels   []uint8
	bools    []uint8
	indexes  []int32
	lengths  []int32
	prefixes []int32
	int32s   []int32
	int64s   []int64
	floats   []float32
	doubles  []float64
	bytes    []byte
	offsets  []uint32
}

var errValues = errors.New("fewer bytes than its values take")

// presence decodes the levels of n cells; levels is nil where all are present.
func (d *decoder) presence(data []byte, n int) (levels []uint8, present int, err error) {
	if err := checkRuns(data, 1, n); err != nil {
		return nil, 0, err
	}
	if d.levels, err = (&rle.Encoding{BitWidth: 1}).DecodeLevels(d.levels[:0], data); err != nil || len(d.levels) < n {
		return nil, 0, cmp.Or(err, errShort)
	}
	levels = d.levels[:n]
	for _, level := range levels {
		if level > 1 {
			return nil, 0, fmt.Errorf("a level of %d", level)
		}
		present += int(level)
	}
	if present == n {
		levels = nil
	}
	return levels, present, nil
}

// places decodes n places in a dictionary.
func (d *decoder) places(data []byte, n, distinct int) ([]int32, error) {
	if n == 0 {
		return nil, nil
	}
	if len(data) == 0 || data[0] > 32 {
		return nil, errors.New("they have no width")
	}
	width := int(data[0])
	if err := checkRuns(data[1:], width, n); err != nil {
		return nil, err
	}
	var err error
	if d.indexes, err = (&rle.Encoding{BitWidth: width}).DecodeInt32(d.indexes[:0], data[1:]); err != nil || len(d.indexes) < n {
		return nil, cmp.Or(err, errShort)
	}
	for _, place := range d.indexes[:n] {
		if uint32(place) >= uint32(distinct) {
			return nil, fmt.Errorf("place %d in a dictionary of %d", uint32(place), distinct)
		}
	}
	return d.indexes[:n], nil
}

// values decodes n values.
func (d *decoder) values(kind format.Type, enc format.Encoding, data []byte, n int) (out encoding.Values, err error) {
	if n < 0 {
		return out, fmt.Errorf("%d values", n)
	}
	switch enc {
	case format.Plain:
		return d.plain(kind, data, n)
	case format.RLE:
		if kind == format.Boolean {
			return d.booleans(data, n)
		}
	case format.DeltaBinaryPacked:
		return d.differences(kind, data, n)
	case format.DeltaLengthByteArray:
		if kind == format.ByteArray {
			return d.lengthened(data, n)
		}
	case format.DeltaByteArray:
		if kind == format.ByteArray {
			return d.prefixed(data, n)
		}
	case format.ByteStreamSplit:
		return d.split(kind, data, n)
	}
	return out, fmt.Errorf("%s in the encoding %s is not supported; write it as DOUBLE or STRING", kind, enc)
}

// widths are the bytes of a value.
var widths = map[format.Type]int{format.Int32: 4, format.Int64: 8, format.Float: 4, format.Double: 8}

// fixed returns the bytes of n values that all take as many.
func fixed(kind format.Type, data []byte, n int) ([]byte, error) {
	if n > len(data)/widths[kind] {
		return nil, errValues
	}
	return data[:n*widths[kind]], nil
}

func (d *decoder) plain(kind format.Type, data []byte, n int) (out encoding.Values, err error) {
	switch kind {
	case format.Boolean:
		if n > 8*len(data) {
			return out, errValues
		}
		return encoding.BooleanValues(data[:(n+7)/8]), nil
	case format.ByteArray:
		return d.strings(data, n)
	}
	if widths[kind] == 0 {
		return out, fmt.Errorf("columns of type %s are not supported", kind)
	}
	if data, err = fixed(kind, data, n); err != nil {
		return out, err
	}
	switch kind {
	case format.Int32:
		return encoding.Int32ValuesFromBytes(data), nil
	case format.Int64:
		return encoding.Int64ValuesFromBytes(data), nil
	case format.Float:
		return encoding.FloatValuesFromBytes(data), nil
	}
	return encoding.DoubleValuesFromBytes(data), nil
}

// strings decodes texts, each after its length.
func (d *decoder) strings(data []byte, n int) (out encoding.Values, err error) {
	if n > len(data)/4 {
		return out, errValues
	}
	d.bytes, d.offsets = d.bytes[:0], append(slices.Grow(d.offsets[:0], n+1), 0)
	for range n {
		if len(data) < 4 {
			return out, errValues
		}
		size := int64(binary.LittleEndian.Uint32(data))
		if data = data[4:]; size > int64(len(data)) {
			return out, fmt.Errorf("a text of %d bytes where %d are left", size, len(data))
		}
		d.bytes = append(d.bytes, data[:size]...)
		d.offsets = append(d.offsets, uint32(len(d.bytes)))
		data = data[size:]
	}
	return encoding.ByteArrayValues(d.bytes, d.offsets), nil
}

// booleans decodes runs of true and false, after their size.
func (d *decoder) booleans(data []byte, n int) (out encoding.Values, err error) {
	if len(data) < 4 || int64(binary.LittleEndian.Uint32(data)) > int64(len(data)-4) {
		return out, errValues
	}
	data = data[4 : 4+int(binary.LittleEndian.Uint32(data))]
	if err := checkRuns(data, 1, n); err != nil {
		return out, err
	}
	if d.bools, err = (&rle.Encoding{BitWidth: 1}).DecodeLevels(d.bools[:0], data); err != nil || len(d.bools) < n {
		return out, cmp.Or(err, errShort)
	}
	bits := make([]byte, (n+7)/8)
	for i, b := range d.bools[:n] {
		if b != 0 {
			bits[i/8] |= 1 << (i % 8)
		}
	}
	return encoding.BooleanValues(bits), nil
}

func (d *decoder) differences(kind format.Type, data []byte, n int) (out encoding.Values, err error) {
	switch kind {
	case format.Int32:
		if _, err := checkDelta(data, 32, n); err != nil {
			return out, err
		}
		d.int32s, err = library.DeltaBinaryPacked.DecodeInt32(d.int32s[:0], data)
		return encoding.Int32Values(d.int32s), err
	case format.Int64:
		if _, err := checkDelta(data, 64, n); err != nil {
			return out, err
		}
		d.int64s, err = library.DeltaBinaryPacked.DecodeInt64(d.int64s[:0], data)
		return encoding.Int64Values(d.int64s), err
	}
	return out, fmt.Errorf("%s written as differences", kind)
}

// sizes decodes n sizes, none negative, and returns their sum and the bytes after them.
func sizes(into []int32, data []byte, n int) (list []int32, sum int64, rest []byte, err error) {
	end, err := checkDelta(data, 32, n)
	if err != nil {
		return nil, 0, nil, err
	}
	if list, err = library.DeltaBinaryPacked.DecodeInt32(into[:0], data[:end]); err != nil {
		return nil, 0, nil, err
	}
	for _, size := range list {
		if size < 0 {
			return nil, 0, nil, fmt.Errorf("a text of %d bytes", size)
		}
		sum += int64(size)
	}
	return list, sum, data[end:], nil
}

// lengthened decodes texts that follow all of their lengths.
func (d *decoder) lengthened(data []byte, n int) (out encoding.Values, err error) {
	list, sum, rest, err := sizes(d.lengths, data, n)
	if err != nil {
		return out, err
	}
	if d.lengths = list; sum > int64(len(rest)) {
		return out, fmt.Errorf("texts of %d bytes where %d are left", sum, len(rest))
	}
	d.offsets = append(slices.Grow(d.offsets[:0], n+1), 0)
	at := uint32(0)
	for _, size := range list {
		at += uint32(size)
		d.offsets = append(d.offsets, at)
	}
	return encoding.ByteArrayValues(rest[:sum], d.offsets), nil
}

// prefixed decodes texts that begin like the one before. A few bytes can say a great many
// long texts, so the sum is held against the most that a page may have.
func (d *decoder) prefixed(data []byte, n int) (out encoding.Values, err error) {
	prefixes, shared, rest, err := sizes(d.prefixes, data, n)
	if err != nil {
		return out, err
	}
	d.prefixes = prefixes
	suffixes, sum, rest, err := sizes(d.lengths, rest, n)
	if err != nil {
		return out, err
	}
	if d.lengths = suffixes; sum > int64(len(rest)) || shared+sum > maxPageBytes {
		return out, fmt.Errorf("texts of %d bytes, %d of them shared, where %d are left", sum+shared, shared, len(rest))
	}
	d.bytes = slices.Grow(d.bytes[:0], int(shared+sum))
	d.offsets = append(slices.Grow(d.offsets[:0], n+1), 0)
	before := 0 // where the text before begins
	for i, size := range suffixes {
		begin, prefix := len(d.bytes), int(prefixes[i])
		if prefix > begin-before {
			return out, fmt.Errorf("a text that shares %d bytes with one of %d", prefix, begin-before)
		}
		d.bytes = append(d.bytes, d.bytes[before:before+prefix]...)
		d.bytes = append(d.bytes, rest[:size]...)
		rest, before = rest[size:], begin
		d.offsets = append(d.offsets, uint32(len(d.bytes)))
	}
	return encoding.ByteArrayValues(d.bytes, d.offsets), nil
}

// split decodes numbers whose first bytes stand together, then their second ones, and so on.
func (d *decoder) split(kind format.Type, data []byte, n int) (out encoding.Values, err error) {
	if widths[kind] == 0 {
		return out, fmt.Errorf("%s written in streams of bytes", kind)
	}
	if len(data) != n*widths[kind] {
		return out, errValues
	}
	switch kind {
	case format.Int32:
		d.int32s, err = library.ByteStreamSplit.DecodeInt32(d.int32s[:0], data)
		return encoding.Int32Values(d.int32s), err
	case format.Int64:
		d.int64s, err = library.ByteStreamSplit.DecodeInt64(d.int64s[:0], data)
		return encoding.Int64Values(d.int64s), err
	case format.Float:
		d.floats, err = library.ByteStreamSplit.DecodeFloat(d.floats[:0], data)
		return encoding.FloatValues(d.floats), err
	}
	d.doubles, err = library.ByteStreamSplit.DecodeDouble(d.doubles[:0], data)
	return encoding.DoubleValues(d.doubles), err
}
