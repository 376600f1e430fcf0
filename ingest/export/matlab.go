package export

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/klauspost/compress/zlib"
)

// Types of elements and classes of arrays of a level 5 MAT-file, from the published
// description of the format.
const (
	matInt8, matInt32, matUint32, matDouble, matMatrix, matCompressed = 1, 5, 6, 9, 14, 15

	structClass, charClass, doubleClass = 2, 4, 6
)

// matlab writes a MAT-file of level 5, compressed, in the layout of public sample flight
// data: a struct per column, with the samples (data), their number a second (Rate), the
// unit (Units), and the name once more (Alpha). Sample i lies i/Rate seconds after the
// beginning, so a column whose samples lie elsewhere, or that holds text, is refused. The
// time column, date and clock of the Table are not written.
func (t *Table) matlab(w io.Writer) error {
	header := append(bytes.Repeat([]byte{' '}, 116), make([]byte, 8)...)
	copy(header, "MATLAB 5.0 MAT-file")
	if _, err := w.Write(append(header, 0, 1, 'I', 'M')); err != nil {
		return err
	}
	for i := range t.Columns {
		c := &t.Columns[i]
		rate, err := c.rate()
		if err != nil {
			return err
		}
		numbers := make([]float64, len(c.Numbers))
		for i := range numbers {
			numbers[i] = c.number(i)
		}
		var packed bytes.Buffer
		z, err := zlib.NewWriterLevel(&packed, zlib.BestCompression)
		if err != nil {
			return err
		}
		if _, err := z.Write(matStruct(c.Name, []matField{
			{"data", matDoubles(numbers)}, {"Rate", matDoubles([]float64{rate})}, {"Units", matText(c.Unit)}, {"Alpha", matText(c.Name)},
		})); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		tag := binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, matCompressed), uint32(packed.Len()))
		if _, err := w.Write(append(tag, packed.Bytes()...)); err != nil {
			return err
		}
	}
	return nil
}

// rate is the number of samples a second, from the last sample's time.
func (c *Column) rate() (float64, error) {
	rate, last := 1.0, len(c.Times)-1
	if last > 0 {
		rate = float64(last) / c.Times[last]
	}
	if c.Texts != nil {
		return 0, fmt.Errorf("column %q holds text, and a MATLAB export numbers", c.Name)
	}
	for i, at := range c.Times {
		if math.Abs(at-float64(i)/rate) > 1e-6 {
			return 0, fmt.Errorf("column %q: sample %d lies at %v s, and at %g samples a second from time 0 on at %v s", c.Name, i, at, rate, float64(i)/rate)
		}
	}
	return rate, nil
}

type matField struct {
	name  string
	array []byte
}

// matStruct is a struct with its fields, whose names take fieldWidth bytes each.
func matStruct(name string, fields []matField) []byte {
	const fieldWidth = 32
	var names, arrays []byte
	for _, f := range fields {
		names = append(append(names, f.name...), make([]byte, fieldWidth-len(f.name))...)
		arrays = append(arrays, f.array...)
	}
	width := matElement(matInt32, binary.LittleEndian.AppendUint32(nil, fieldWidth))
	return matArray(name, structClass, 1, 1, append(append(width, matElement(matInt8, names)...), arrays...))
}

func matDoubles(numbers []float64) []byte {
	var data []byte
	for _, v := range numbers {
		data = binary.LittleEndian.AppendUint64(data, math.Float64bits(v))
	}
	return matArray("", doubleClass, len(numbers), 1, matElement(matDouble, data))
}

// matText is one row of characters, for texts of ASCII alone.
func matText(text string) []byte {
	const typeUint16 = 4
	var data []byte
	for _, b := range []byte(text) {
		data = append(data, b, 0)
	}
	return matArray("", charClass, min(1, len(text)), len(text), matElement(typeUint16, data))
}

func matArray(name string, class uint32, rows, columns int, body []byte) []byte {
	u := binary.LittleEndian.AppendUint32
	head := matElement(matUint32, u(u(nil, class), 0))
	head = append(head, matElement(matInt32, u(u(nil, uint32(rows)), uint32(columns)))...)
	return matElement(matMatrix, append(append(head, matElement(matInt8, []byte(name))...), body...))
}

// matElement is data with its tag, padded to eight bytes.
func matElement(kind uint32, data []byte) []byte {
	out := binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, kind), uint32(len(data)))
	out = append(out, data...)
	return append(out, make([]byte, (8-len(data)%8)%8)...)
}
