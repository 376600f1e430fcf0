// Package matlab reads MATLAB level 5 MAT-files: the format of the `save` command's
// versions 5 to 7, in either byte order, with compressed variables. The input is the
// bytes of a file. The output is its variables one after the other, with numeric
// arrays, texts, and structs of them.
//
// The package trusts no content: it checks sizes against the data, stops unpacking at
// a limit, and reports each fault with its byte offset. It reads numbers in place, so
// an array takes no memory until its values are used.
//
// It does not read objects, sparse arrays, function handles or the HDF5 files of
// version 7.3, and it writes nothing.
package matlab

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"iter"

	"github.com/klauspost/compress/zlib"
)

// The header is 128 bytes: a text of 116, an offset that is not used here, a version
// and a mark of the byte order.
const (
	headerBytes  = 128
	markOffset   = 124
	maxNameBytes = 63 * 4
	maxVariables = 10_000 // a full frame of a modern recorder has about 3000 parameters
)

// Error is a fault of a file and its place.
type Error struct {
	Offset int64 // of the byte in the file
	Inside int64 // offset into the unpacked data of the compressed variable at Offset; -1 outside one
	Cause  string
}

func (e *Error) Error() string {
	if e.Inside < 0 {
		return fmt.Sprintf("at byte %d: %s", e.Offset, e.Cause)
	}
	return fmt.Sprintf("at byte %d, %d bytes into the data packed there: %s", e.Offset, e.Inside, e.Cause)
}

// Is reports whether a file is a MAT-file of level 5. head is its beginning, at least
// 128 bytes.
func Is(head []byte) bool {
	_, ok := byteOrder(head)
	return ok
}

// IsHDF5 reports whether a file that begins with head is a MAT-file of version 7.3,
// which is another format.
func IsHDF5(head []byte) bool {
	return bytes.HasPrefix(head, []byte("MATLAB 7.3 MAT-file")) || bytes.HasPrefix(head, []byte("\x89HDF\r\n\x1a\n"))
}

func byteOrder(head []byte) (binary.ByteOrder, bool) {
	if len(head) < headerBytes {
		return nil, false
	}
	switch string(head[markOffset:headerBytes]) {
	case "\x00\x01IM":
		return binary.LittleEndian, true
	case "\x01\x00MI":
		return binary.BigEndian, true
	}
	return nil, false
}

// File is a MAT-file in memory.
type File struct {
	content []byte
	order   binary.ByteOrder
	left    int64 // bytes left of the unpacking limit
	zlib    io.ReadCloser
	scratch bytes.Buffer // the variable unpacked last, unless a caller keeps it
}

// Open takes the bytes of a file and a limit on the unpacked bytes of its variables.
// The content must not change while its variables are in use.
func Open(content []byte, limit int64) (*File, error) {
	order, ok := byteOrder(content)
	if !ok {
		return nil, &Error{Offset: 0, Inside: -1, Cause: "no header of a level 5 MAT-file"}
	}
	return &File{content: content, order: order, left: limit}, nil
}

// Variable is one variable: its name, and its array on request.
type Variable struct {
	Name   string
	file   *File
	offset int64  // of its element in the file
	packed bool   // the element is compressed
	data   []byte // the element with its tag, unpacked; valid until the next variable
}

// Variables walks the variables in the order of the file. The last one may come with
// an error: the variables after it cannot be found.
func (f *File) Variables() iter.Seq2[*Variable, error] {
	return func(yield func(*Variable, error) bool) {
		for at, n := headerBytes, 0; at < len(f.content); n++ {
			v, next, err := f.variable(at)
			if err == nil && n == maxVariables {
				err = &Error{Offset: int64(at), Inside: -1, Cause: fmt.Sprintf("more than %d variables", maxVariables)}
			}
			if !yield(v, err) || err != nil {
				return
			}
			at = next
		}
	}
}

func (f *File) variable(at int) (v *Variable, next int, err error) {
	d := f.decoder(f.content[at:], int64(at), -1)
	e, err := d.element()
	if err != nil {
		return nil, 0, err
	}
	v = &Variable{file: f, offset: int64(at)}
	switch e.kind {
	case typeMatrix:
		v.data = f.content[at : at+d.at]
	case typeCompressed: // without padding
		v.packed = true
		d.at = e.end
		if v.data, err = f.unpack(v.offset, e.data); err != nil {
			return nil, 0, err
		}
	default:
		return nil, 0, d.fail(0, "an element of type %d where a variable is expected", e.kind)
	}
	if v.Name, err = v.decoder(v.data).name(); err != nil {
		return nil, 0, err
	}
	return v, at + d.at, nil
}

// Offset returns the position of the variable in the file, in bytes.
func (v *Variable) Offset() int64 { return v.offset }

// Array reads the variable. It must be called before the walk goes on. The caller may
// keep the array.
func (v *Variable) Array() (*Array, error) {
	if v.packed {
		v.file.scratch = bytes.Buffer{}
	}
	d := v.decoder(v.data)
	e, err := d.element()
	if err != nil {
		return nil, err
	}
	return d.sub(e).array(0)
}

func (v *Variable) decoder(data []byte) *decoder {
	if v.packed {
		return v.file.decoder(data, v.offset, 0)
	}
	return v.file.decoder(data, v.offset, -1)
}

// unpack returns the element in compressed data and verifies the checksum, so damage
// to a name is noticed as well. The buffer grows with the data, not with the size in
// the tag.
func (f *File) unpack(offset int64, packed []byte) ([]byte, error) {
	fail := func(cause string, args ...any) error {
		return &Error{Offset: offset, Inside: -1, Cause: fmt.Sprintf(cause, args...)}
	}
	z, err := f.unzip(packed)
	if err != nil {
		return nil, fail("compressed data that cannot be unpacked: %v", err)
	}
	f.scratch.Reset()
	if n, err := f.scratch.ReadFrom(io.LimitReader(z, 8)); err != nil || n < 8 {
		return nil, fail("compressed data that ends before its tag")
	}
	kind, size := f.order.Uint32(f.scratch.Bytes()), int64(f.order.Uint32(f.scratch.Bytes()[4:]))
	if kind != typeMatrix {
		return nil, &Error{Offset: offset, Inside: 0, Cause: fmt.Sprintf("an element of type %d where a variable is expected", kind)}
	}
	if f.left -= 8 + size; f.left < 0 {
		return nil, fail("a variable of %d bytes; %d more are read of this file", size, f.left+size)
	}
	n, err := f.scratch.ReadFrom(io.LimitReader(z, size))
	if n < size {
		return nil, fail("compressed data that ends after %d of %d bytes (%v)", n, size, cmp.Or(err, io.EOF))
	}
	if n, err := io.CopyN(io.Discard, z, 8); err != io.EOF { // padding, then the end, which holds the checksum
		return nil, fail("compressed data that does not end after %d bytes (%d more, %v)", size, n, err)
	}
	return f.scratch.Bytes(), nil
}

// unzip returns a reader of packed data, the same one every time: a new one takes far
// more memory than most variables.
func (f *File) unzip(packed []byte) (io.Reader, error) {
	in := bytes.NewReader(packed)
	if f.zlib == nil {
		z, err := zlib.NewReader(in)
		if err == nil {
			f.zlib = z
		}
		return z, err
	}
	return f.zlib, f.zlib.(zlib.Resetter).Reset(in, nil)
}

func (f *File) decoder(data []byte, offset, inside int64) *decoder {
	return &decoder{data: data, order: f.order, offset: offset, inside: inside}
}
