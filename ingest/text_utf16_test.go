package ingest

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"

	"downlock/schemas"
)

// utf16Bytes writes a text by the standard library's encoder, in an order of bytes and
// with its mark.
func utf16Bytes(text string, order binary.AppendByteOrder) (data []byte) {
	for _, unit := range utf16.Encode([]rune("\ufeff" + text)) {
		data = order.AppendUint16(data, unit)
	}
	return data
}

var bothOrders = []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian}

// TestUTF16OddBytes: a text that ends within a character is read without it, and the
// note says so.
func TestUTF16OddBytes(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	const text = "time,CAS\n0,100\n1,101\n"
	for _, order := range bothOrders {
		whole := utf16Bytes(text, order)
		for name, data := range map[string][]byte{"one too many": append(slices.Clone(whole), '2'), "one too few": whole[:len(whole)-1]} {
			r, err := ReadBytes("f.csv", data, profile)
			if err != nil {
				t.Errorf("%v, %s: %v", order, name, err)
				continue
			}
			if diff := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {1, 101}}}, samplesOf(r)); diff != "" || !slices.Contains(r.Notes, halfUnitNote) {
				t.Errorf("%v, %s: notes %q (-want +got):\n%s", order, name, r.Notes, diff)
			}
		}
		if r, err := ReadBytes("f.csv", whole, profile); err != nil || slices.Contains(r.Notes, halfUnitNote) {
			t.Errorf("%v: whole: %v", order, err)
		}
	}
}

// TestUTF16Shifted takes each single byte away, and puts one in at each place: no row is
// lost without a word. From the byte on all letters are others, which an error or a note
// says; the error names the line, or the one after it where the line feed went.
func TestUTF16Shifted(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	const text = "time,CAS\n0,100\n1,101\n2,102\n3,103\n"
	want := samples{"computed_airspeed": {{0, 100}, {1, 101}, {2, 102}, {3, 103}}}
	shifted := 0
	for _, order := range bothOrders {
		whole := utf16Bytes(text, order)
		for at := 2; at < len(whole); at++ { // behind the mark
			line := 1 + strings.Count(text[:(at-2)/2], "\n")
			for name, data := range map[string][]byte{"missing": slices.Delete(slices.Clone(whole), at, at+1), "too many": slices.Insert(slices.Clone(whole), at, 'x')} {
				r, err := ReadBytes("f.csv", data, profile)
				if err == nil {
					if diff := cmp.Diff(want, samplesOf(r)); diff != "" && !slices.Contains(r.Notes, halfUnitNote) {
						t.Errorf("%v, byte %d %s: notes %q (-want +got):\n%s", order, at, name, r.Notes, diff)
					}
					continue
				}
				p := problemsOf(t, err)[0]
				if strings.Contains(p.Cause, "a missing or extra byte") {
					shifted++
					if p.Line < line || p.Line > line+1 {
						t.Errorf("%v, byte %d, in line %d, %s: %v", order, at, line, name, p)
					}
				}
			}
		}
	}
	if all := 2 * 2 * 2 * len(text); shifted < all/2 {
		t.Errorf("said in %d of %d texts", shifted, all)
	}
}

// TestUTF16Pieces: a line feed that was turned is found wherever the pieces that are read
// begin and end.
func TestUTF16Pieces(t *testing.T) {
	t.Parallel()
	for pieces := range 9 {
		in := &piecewise{data: []byte("ab\n\xff\xe0\xa8\xff\xe0\xe0\xa8\x80c"), piece: pieces + 1}
		text := &utf16Text{decoded: in, file: "f.csv", line: 1}
		var err error
		for buffer := make([]byte, 16); err == nil; {
			_, err = text.Read(buffer)
		}
		if p, ok := err.(*schemas.Problem); !ok || p.Line != 2 {
			t.Errorf("in pieces of %d: %v", pieces+1, err)
		}
	}
}

// piecewise hands out so many bytes at a time.
type piecewise struct {
	data  []byte
	piece int
}

func (p *piecewise) Read(to []byte) (int, error) {
	n := copy(to, p.data[:min(p.piece, len(p.data))])
	if n == 0 {
		return 0, fmt.Errorf("nothing found")
	}
	p.data = p.data[n:]
	return n, nil
}

// TestCarriageReturns: lines that end in a carriage return alone are lines, in every
// encoding, by their numbers too, in a text of many pieces; one inside a line of other
// texts is none.
func TestCarriageReturns(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	const text = "time,CAS,remark\r0,100,caf\u00e9\r1,101,\r"
	want := samples{"computed_airspeed": {{0, 100}, {1, 101}}}
	for name, data := range map[string][]byte{
		"UTF-8": []byte(text), "Windows-1252": bytes.ReplaceAll([]byte(text), []byte("\u00e9"), []byte{0xe9}),
		"UTF-16 LE": utf16Bytes(text, binary.LittleEndian), "UTF-16 BE": utf16Bytes(text, binary.BigEndian),
		"without the last": []byte(strings.TrimSuffix(text, "\r")),
		"mixed":            []byte("time,CAS,remark\r\n0,100,a\rb\r\n1,101,\r\n"),
	} {
		r, err := ReadBytes("f.csv", data, profile)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if diff := cmp.Diff(want, samplesOf(r)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	var long strings.Builder
	long.WriteString("time,CAS\r")
	for i := range 60_000 {
		fmt.Fprintf(&long, "%d,100\r", i)
	}
	long.WriteString("60000,wrong\r")
	_, err := ReadBytes("f.csv", []byte(long.String()), profile)
	if p := problemsOf(t, err)[0]; p.Line != 60_002 || p.Column != 7 {
		t.Errorf("%v", p)
	}
}

// TestArrowColumnTwice: the first of two columns of one name is read, and the note says
// so, as of text.
func TestArrowColumnTwice(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	r, err := ReadBytes("f.arrow", columnarOf(t, "time,CAS,CAS\n0,100,1\n1,101,2\n")["Arrow"], profile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {1, 101}}}, samplesOf(r)); diff != "" || !slices.Contains(r.Notes, repeatedColumn("CAS")) {
		t.Errorf("notes %q (-want +got):\n%s", r.Notes, diff)
	}
}
