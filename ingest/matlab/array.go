package matlab

import (
	"math"
	"strings"
	"unicode/utf16"
)

// Class is the type of an array's elements.
type Class uint8

// The classes the package reads; it knows others only by their number.
const (
	Cell   Class = 1
	Struct Class = 2
	Char   Class = 4
	Double Class = 6
	Single Class = 7
	Int8   Class = 8
	Uint64 Class = 15
)

// Limits for structs: parameters are structs of plain arrays with five fields.
const (
	maxDepth      = 4
	maxFields     = 200
	maxDimensions = 8
	maxTextBytes  = 1 << 16
)

// Array is one array. Dims are its dimensions, at least two.
type Array struct {
	Class  Class
	Dims   []int
	Fields map[string]*Array // of a single struct, not of an array of structs

	name   string
	kind   uint32 // storage type of the numbers
	data   []byte
	values func(i int) float64
}

func (a *Array) Len() int {
	n := 1
	for _, d := range a.Dims {
		n *= d
	}
	return n
}

// Vector reports whether at most one dimension is longer than one.
func (a *Array) Vector() bool {
	long := 0
	for _, d := range a.Dims {
		if d > 1 {
			long++
		}
	}
	return long <= 1
}

// Numeric reports whether the elements are numbers.
func (a *Array) Numeric() bool { return a.Class >= Double && a.Class <= Uint64 }

// Number returns element i of a numeric array, column by column. Integers beyond 2^53
// are rounded.
func (a *Array) Number(i int) float64 { return a.values(i) }

// Text returns the characters of a char array of one row, "" for other arrays.
func (a *Array) Text() string {
	if a.Class != Char || !a.Vector() || len(a.data) > maxTextBytes {
		return ""
	}
	switch a.kind {
	case typeUTF8:
		return strings.ToValidUTF8(string(a.data), "\ufffd")
	case typeUint16, typeUTF16:
		units := make([]uint16, a.Len())
		for i := range units {
			units[i] = uint16(a.values(i))
		}
		return string(utf16.Decode(units))
	}
	runes := make([]rune, a.Len())
	for i := range runes {
		runes[i] = rune(a.values(i))
	}
	return string(runes)
}

// arrayHead reads flags, dimensions and name.
func (d *decoder) arrayHead() (*Array, error) {
	a := &Array{}
	flags, err := d.expect(typeUint32, "array flags")
	if err != nil {
		return a, err
	}
	if len(flags.data) != 8 {
		return a, d.fail(flags.start, "array flags of %d bytes, not 8", len(flags.data))
	}
	a.Class = Class(d.order.Uint32(flags.data) & 0xff)
	dims, err := d.expect(typeInt32, "dimensions")
	if err != nil {
		return a, err
	}
	if n := len(dims.data) / 4; n < 2 || n > maxDimensions || len(dims.data)%4 != 0 {
		return a, d.fail(dims.start, "dimensions of %d bytes; 2 to %d dimensions are read", len(dims.data), maxDimensions)
	}
	total := 1
	for i := 0; i < len(dims.data); i += 4 {
		n := int(int32(d.order.Uint32(dims.data[i:])))
		if n < 0 || total > math.MaxInt32/max(n, 1) {
			return a, d.fail(dims.start+i, "a dimension of %d", n)
		}
		total *= max(n, 1)
		a.Dims = append(a.Dims, n)
	}
	name, err := d.expect(typeInt8, "a name")
	if err != nil {
		return a, err
	}
	if len(name.data) > maxNameBytes {
		return a, d.fail(name.start, "a name of %d bytes", len(name.data))
	}
	a.name = strings.ToValidUTF8(string(name.data), "\ufffd")
	return a, nil
}

// array reads the array in the decoder's data.
func (d *decoder) array(depth int) (*Array, error) {
	if len(d.data) == 0 { // an empty field
		return &Array{Class: Double, Dims: []int{0, 0}, values: func(int) float64 { return 0 }}, nil
	}
	a, err := d.arrayHead()
	switch {
	case err != nil:
		return nil, err
	case a.Class == Struct && a.Len() == 1 && depth < maxDepth:
		err = d.fields(a, depth)
	case a.Numeric() || a.Class == Char:
		err = d.numbers(a)
	}
	if err != nil {
		return nil, err
	}
	return a, nil
}

// numbers reads the elements and ignores an imaginary part after them.
func (d *decoder) numbers(a *Array) error {
	at := d.at
	if a.Len() == 0 && at == len(d.data) {
		return nil
	}
	e, err := d.element()
	if err != nil {
		return err
	}
	width := widths[e.kind]
	if width == 0 {
		return d.fail(at, "numbers of type %d", e.kind)
	}
	if n := a.Len(); a.Class == Char && e.kind == typeUTF8 { // the number of bytes depends on the letters
		if n > len(e.data) {
			return d.fail(at, "%d characters in %d bytes", n, len(e.data))
		}
	} else if n*width != len(e.data) {
		return d.fail(at, "%d elements of %d bytes in %d bytes", n, width, len(e.data))
	}
	a.kind, a.data = e.kind, e.data
	a.values = d.number(e)
	return nil
}

// number returns a function that reads the numbers of an element.
func (d *decoder) number(e element) func(i int) float64 {
	data, order := e.data, d.order
	switch e.kind {
	case typeInt8:
		return func(i int) float64 { return float64(int8(data[i])) }
	case typeUint8, typeUTF8:
		return func(i int) float64 { return float64(data[i]) }
	case typeInt16:
		return func(i int) float64 { return float64(int16(order.Uint16(data[2*i:]))) }
	case typeUint16, typeUTF16:
		return func(i int) float64 { return float64(order.Uint16(data[2*i:])) }
	case typeInt32:
		return func(i int) float64 { return float64(int32(order.Uint32(data[4*i:]))) }
	case typeUint32, typeUTF32:
		return func(i int) float64 { return float64(order.Uint32(data[4*i:])) }
	case typeSingle:
		return func(i int) float64 { return float64(math.Float32frombits(order.Uint32(data[4*i:]))) }
	case typeInt64:
		return func(i int) float64 { return float64(int64(order.Uint64(data[8*i:]))) }
	case typeUint64:
		return func(i int) float64 { return float64(order.Uint64(data[8*i:])) }
	}
	return func(i int) float64 { return math.Float64frombits(order.Uint64(data[8*i:])) }
}

// fields reads the fields of a struct. They are the length of a name, the names, each
// padded to that length with NUL bytes, and an array for each.
func (d *decoder) fields(a *Array, depth int) error {
	length, err := d.expect(typeInt32, "the length of field names")
	if err != nil {
		return err
	}
	names, err := d.expect(typeInt8, "field names")
	if err != nil {
		return err
	}
	width := 0
	if len(length.data) == 4 {
		width = int(int32(d.order.Uint32(length.data)))
	}
	if width < 1 || width > maxNameBytes || len(names.data)%width != 0 || len(names.data)/width > maxFields {
		return d.fail(length.start, "field names of %d bytes, %d each; at most %d fields are read", len(names.data), width, maxFields)
	}
	a.Fields = map[string]*Array{}
	for i := 0; i < len(names.data); i += width {
		name, _, _ := strings.Cut(string(names.data[i:i+width]), "\x00")
		e, err := d.expect(typeMatrix, "field "+clean(name))
		if err != nil {
			return err
		}
		if a.Fields[name], err = d.sub(e).array(depth + 1); err != nil {
			return err
		}
	}
	return nil
}

// clean makes a name from a file safe for a message.
func clean(name string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, name[:min(len(name), 40)])
}
