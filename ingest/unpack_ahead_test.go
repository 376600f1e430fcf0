package ingest

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

// What unpacking says stays as it is on the way through two goroutines: data that ended too
// soon are not the end, and a panic is an error of the file.
func TestReadAhead(t *testing.T) {
	t.Parallel()
	text := strings.Repeat("0123456789", blockBytes/4)
	panics := readerFunc(func([]byte) (int, error) { panic("an index out of range") })
	for _, c := range []struct {
		name string
		end  io.Reader
		want string
	}{
		{"whole", strings.NewReader(""), ""},
		{"cut off", iotest.ErrReader(io.ErrUnexpectedEOF), "the gzip data ends too soon"},
		{"damaged", iotest.ErrReader(errors.New("invalid checksum")), "invalid checksum"},
		{"panic", panics, "an index out of range"},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw := openStream(bytes.NewReader(nil), 1, nil)
			defer raw.close()
			sum := &countingHash{}
			content := &content{file: "f", raw: raw, packing: "gzip", limit: 1 << 40, sum: sum, close: func() {}}
			content.in = bufio.NewReader(io.MultiReader(strings.NewReader(text), c.end))
			content.readAhead()
			defer content.close()
			got, err := io.ReadAll(content)
			if content.ahead == nil && raw.patient {
				t.Skip("one core")
			}
			if string(got) != text || sum.bytes != len(text) {
				t.Errorf("%d bytes, %d hashed, want %d", len(got), sum.bytes, len(text))
			}
			if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// countingHash counts the bytes it takes.
type countingHash struct {
	noHash
	bytes int
}

func (h *countingHash) Write(p []byte) (int, error) {
	h.bytes += len(p)
	return len(p), nil
}
