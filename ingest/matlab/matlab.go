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
	"errors"
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
	data   []byte // the element with its tag; of a packed one its first bytes alone
	packed *unpacking
}

// headBytes is enough for the tag, the flags, the dimensions and the name of a variable.
const headBytes = 8 + 16 + 8 + 4*maxDimensions + 8 + maxNameBytes + 8

// mostPacked is how many bytes of data a byte of zlib's data makes at most. Source: zlib
// Technical Details, "Maximum Compression Factor".
const mostPacked = 1032

// unpacking is the rest of a compressed variable. Whoever does not read its array has it
// unpacked all the same, for the checksum at its end, but not kept.
type unpacking struct {
	in   io.Reader
	size int64 // of the element without its tag
	have int64 // bytes of it that were read
	done bool
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
			if err := v.finish(io.Discard); err != nil {
				yield(nil, err)
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
		d.at = e.end
		if err := v.open(e.data); err != nil {
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
	if p := v.packed; p != nil && !p.done {
		whole := bytes.NewBuffer(make([]byte, 0, 8+p.size+bytes.MinRead)) // held against the packed bytes by open
		whole.Write(v.data)
		if err := v.finish(whole); err != nil {
			return nil, err
		}
		v.data = whole.Bytes()
	}
	d := v.decoder(v.data)
	e, err := d.element()
	if err != nil {
		return nil, err
	}
	return d.sub(e).array(0)
}

func (v *Variable) decoder(data []byte) *decoder {
	if v.packed != nil {
		return v.file.decoder(data, v.offset, 0)
	}
	return v.file.decoder(data, v.offset, -1)
}

func (v *Variable) fail(cause string, args ...any) error {
	return &Error{Offset: v.offset, Inside: -1, Cause: fmt.Sprintf(cause, args...)}
}

// open unpacks the beginning of the element in packed data, and holds the size in its tag
// against the packed bytes and the limit.
func (v *Variable) open(packed []byte) error {
	f := v.file
	z, err := f.unzip(packed)
	if err != nil {
		return v.fail("compressed data that cannot be unpacked: %v", err)
	}
	head := make([]byte, headBytes)
	if n, err := io.ReadFull(z, head[:8]); n < 8 {
		return v.fail("compressed data that ends before its tag (%v)", err)
	}
	v.packed = &unpacking{in: z}
	kind, size := f.order.Uint32(head), int64(f.order.Uint32(head[4:]))
	if kind != typeMatrix {
		return &Error{Offset: v.offset, Inside: 0, Cause: fmt.Sprintf("an element of type %d where a variable is expected", kind)}
	}
	if f.left -= 8 + size; f.left < 0 {
		return v.fail("a variable of %d bytes; %d more are read of this file", size, f.left+size)
	}
	if size > mostPacked*int64(len(packed)) {
		return v.fail("a variable of %d bytes, packed in %d: it has at most %d", size, len(packed), mostPacked*len(packed))
	}
	n, err := io.ReadFull(z, head[8:min(headBytes, 8+size)])
	v.data = head[:8+n]
	v.packed.size, v.packed.have = size, int64(n)
	if err != nil && size > 0 {
		return v.short(err)
	}
	return nil
}

func (v *Variable) short(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = io.EOF
	}
	return v.fail("compressed data that ends after %d of %d bytes (%v)", v.packed.have, v.packed.size, cmp.Or(err, io.EOF))
}

// finish writes the rest of a packed variable and verifies the checksum, so damage to a
// name is noticed as well.
func (v *Variable) finish(to io.Writer) error {
	p := v.packed
	if p == nil || p.done {
		return nil
	}
	p.done = true
	n, err := io.Copy(to, io.LimitReader(p.in, p.size-p.have))
	if p.have += n; p.have < p.size {
		return v.short(err)
	}
	if n, err := io.CopyN(io.Discard, p.in, 8); err != io.EOF { // padding, then the end, which holds the checksum
		return v.fail("compressed data that does not end after %d bytes (%d more, %v)", p.size, n, err)
	}
	return nil
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
