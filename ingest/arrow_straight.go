package ingest

import (
	"fmt"
	"unsafe"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// The Arrow library copies every buffer of a batch, also those of columns that nobody asked
// for. An ordinary batch, of flat columns that are not packed, needs no copy: its arrays are
// the bytes of the file.

// straightBuffers is how many buffers a column of a type has in a batch, and how many bits a
// cell takes in the second, which a text has one more of: an offset. ok is false for types
// that are left to the library.
func straightBuffers(of arrow.DataType) (buffers, bits int, ok bool) {
	switch of := of.(type) {
	case *arrow.StringType:
		return 3, 32, true
	case *arrow.LargeStringType:
		return 3, 64, true
	case arrow.ExtensionType, *arrow.DictionaryType, *arrow.FixedSizeBinaryType:
		return 0, 0, false
	case arrow.FixedWidthDataType:
		return 2, of.BitWidth(), true
	}
	return 0, 0, false
}

// isStraight reports whether all columns of a schema may be read so.
func isStraight(schema *arrow.Schema) bool {
	for _, field := range schema.Fields() {
		if _, _, ok := straightBuffers(field.Type); !ok {
			return false
		}
	}
	return schema.IsNativeEndian()
}

// straight makes a record of a batch that was checked, from the bytes of the file. ok is
// false for one that is left to the library. It panics on offsets out of bounds.
func (b arrowBlock) straight(schema *arrow.Schema) (record arrow.Record, ok bool, err error) {
	batch, err := b.header()
	if err != nil || len(b.body) > 0 && uintptr(unsafe.Pointer(&b.body[0]))%8 != 0 {
		return nil, false, err
	}
	if _, packed := tableAt(batch, batchCompression); packed {
		return nil, false, nil
	}
	nodes, err := pairsAt(batch, batchNodes)
	if err != nil {
		return nil, false, err
	}
	places, err := pairsAt(batch, batchBuffers)
	if err != nil {
		return nil, false, err
	}
	var arrays []arrow.Array
	for i, field := range schema.Fields() {
		n, bits, _ := straightBuffers(field.Type)
		if i >= len(nodes) || n > len(places) {
			return nil, false, fmt.Errorf("column %d is not in it", i+1)
		}
		rows, nulls := nodes[i][0], nodes[i][1]
		var buffers []*memory.Buffer
		for k, place := range places[:n] {
			cells := rows
			if n == 3 && rows > 0 {
				cells++
			}
			wanted := [3]int64{(rows + 7) / 8, (cells*int64(bits) + 7) / 8}[k]
			switch {
			case k == 0 && nulls == 0:
				buffers = append(buffers, nil)
				continue
			case place[0]%8 != 0:
				return nil, false, nil
			case place[1] < wanted:
				return nil, false, fmt.Errorf("column %d has %d bytes in buffer %d, too few for its %d cells", i+1, place[1], k+1, rows)
			}
			buffers = append(buffers, memory.NewBufferBytes(b.body[place[0]:place[0]+place[1]]))
		}
		places = places[n:]
		arrays = append(arrays, array.MakeFromData(array.NewData(field.Type, int(rows), buffers, nil, int(nulls), 0)))
	}
	return array.NewRecord(schema, arrays, batch.GetInt64Slot(batchRows, 0)), true, nil
}
