package matlab

import (
	"encoding/binary"
	"fmt"
)

// Types of elements, from the published description of the format.
const (
	typeInt8       = 1
	typeUint8      = 2
	typeInt16      = 3
	typeUint16     = 4
	typeInt32      = 5
	typeUint32     = 6
	typeSingle     = 7
	typeDouble     = 9
	typeInt64      = 12
	typeUint64     = 13
	typeMatrix     = 14
	typeCompressed = 15
	typeUTF8       = 16
	typeUTF16      = 17
	typeUTF32      = 18
)

// widths holds the size of one number of a type, in bytes.
var widths = map[uint32]int{typeInt8: 1, typeUint8: 1, typeInt16: 2, typeUint16: 2, typeInt32: 4, typeUint32: 4,
	typeSingle: 4, typeDouble: 8, typeInt64: 8, typeUint64: 8, typeUTF8: 1, typeUTF16: 2, typeUTF32: 4}

// decoder walks the elements of a piece of a file.
type decoder struct {
	data   []byte
	order  binary.ByteOrder
	at     int   // offset of the next element
	offset int64 // of data in the file, or of the compressed variable it comes from
	inside int64 // offset of data in the unpacked variable, -1 outside one
}

// element is a tagged piece of data.
type element struct {
	kind  uint32
	data  []byte
	start int // offset of its data
	end   int // offset after its data, without padding
}

// fail makes an error at an offset into the decoder's data.
func (d *decoder) fail(at int, cause string, args ...any) error {
	e := &Error{Offset: d.offset, Inside: d.inside, Cause: fmt.Sprintf(cause, args...)}
	if d.inside < 0 {
		e.Offset += int64(at)
	} else {
		e.Inside += int64(at)
	}
	return e
}

// element reads the next element. Data of up to four bytes may be in the tag itself,
// with its size in the tag's upper half. Other data is padded to a multiple of eight
// bytes.
func (d *decoder) element() (element, error) {
	left := len(d.data) - d.at
	if left < 8 {
		return element{}, d.fail(d.at, "%d bytes where the tag of an element takes 8", left)
	}
	word := d.order.Uint32(d.data[d.at:])
	if small := int(word >> 16); small != 0 {
		if small > 4 {
			return element{}, d.fail(d.at, "an element of %d bytes in a tag, which has room for 4", small)
		}
		e := element{kind: word & 0xffff, start: d.at + 4, end: d.at + 4 + small}
		e.data = d.data[e.start:e.end]
		d.at += 8
		return e, nil
	}
	size := int64(d.order.Uint32(d.data[d.at+4:]))
	if size > int64(left-8) {
		return element{}, d.fail(d.at, "an element of %d bytes where %d are left", size, left-8)
	}
	e := element{kind: word, start: d.at + 8, end: d.at + 8 + int(size)}
	e.data = d.data[e.start:e.end]
	d.at = min((e.end+7)&^7, len(d.data)) // the padding of the last one may be missing
	return e, nil
}

// expect reads the next element, which must be of a type.
func (d *decoder) expect(kind uint32, what string) (element, error) {
	at := d.at
	e, err := d.element()
	if err != nil {
		return e, fmt.Errorf("%w (%s)", err, what)
	}
	if e.kind != kind {
		return e, d.fail(at, "%s of type %d, not %d", what, e.kind, kind)
	}
	return e, nil
}

// sub returns a decoder of the data of an element.
func (d *decoder) sub(e element) *decoder {
	sub := &decoder{data: e.data, order: d.order, offset: d.offset, inside: d.inside}
	if d.inside < 0 {
		sub.offset += int64(e.start)
	} else {
		sub.inside += int64(e.start)
	}
	return sub
}

// name returns the name of the variable that begins here. The data may end after the
// name.
func (d *decoder) name() (string, error) {
	if len(d.data) < 8 {
		return "", d.fail(0, "%d bytes where the tag of an element takes 8", len(d.data))
	}
	whole := &decoder{data: d.data[8:], order: d.order, offset: d.offset, inside: d.inside}
	if d.inside < 0 {
		whole.offset += 8
	} else {
		whole.inside += 8
	}
	a, err := whole.arrayHead()
	return a.name, err
}
