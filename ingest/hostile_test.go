package ingest

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/unicode"
)

// repeated is a file that begins with head and goes on with copies of a text up
// to a size: no such file need exist.
type repeated struct {
	head, text string
	left       int64
	at         int
}

func (r *repeated) Read(p []byte) (n int, err error) {
	if len(r.text) < 1<<12 { // copied in larger pieces, for speed
		r.text = strings.Repeat(r.text, 1<<12)
	}
	if r.left == 0 {
		return 0, io.EOF
	}
	for n < len(p) && r.left > 0 {
		from := r.head
		if r.at >= len(r.head) {
			from = r.text
		}
		at := r.at
		if r.at >= len(r.head) {
			at = (r.at - len(r.head)) % len(r.text)
		}
		k := copy(p[n:min(len(p), n+int(min(r.left, 1<<30)))], from[at:])
		n, r.at, r.left = n+k, r.at+k, r.left-int64(k)
	}
	return n, nil
}

// Files of a gigabyte and more are refused, or read, in little memory.
func TestEndlessFiles(t *testing.T) {
	const gigabyte = 1 << 30
	profile := profileOf(t, "column: time", testColumns)
	for _, tt := range []struct {
		name  string
		file  repeated
		cause string
		line  int
	}{
		{"a line of a gigabyte", repeated{head: "time,CAS\n0,", text: "1", left: gigabyte}, "a line of more than 1048576 bytes", 2},
		{"a preamble of a gigabyte", repeated{text: "no line end ", left: gigabyte}, "a line of more than 1048576 bytes", 1},
		{"a header of a billion columns", repeated{head: "time,CAS", text: ",A", left: gigabyte}, "a line of more than 1048576 bytes", 1},
		{"a header of half a million columns", repeated{head: "time,CAS" + strings.Repeat(",A", 500_000) + "\n", text: "0,1\n", left: 2 << 20}, "a header of 500002 columns; at most 10000 are read", 1},
		{"cells without end", repeated{head: "time,CAS\n", text: ",", left: gigabyte}, "a line of more than 1048576 bytes", 2},
		{"a quoted cell without end", repeated{head: "time,CAS\n0,\"", text: "a\n", left: gigabyte}, "a quoted cell without an end", 2},
		{"blank lines", repeated{head: "time,CAS\n", text: "\n", left: 30 << 20}, "has a header but no rows of data", 0},
		{"nothing but line ends", repeated{text: "\n", left: gigabyte}, "has no time column", 0},
		{"NUL bytes", repeated{head: "time,CAS\n0,1\n", text: "\x00", left: gigabyte}, "a NUL byte", 3},
		{"more than the limit", repeated{head: "time,X,CAS\n", text: "0,text of no parameter,\n", left: gigabyte}, "has more than 33554432 bytes", 0},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		size := tt.file.left
		_, err := Limits{MaxBytes: 32 << 20}.read("f.csv", &tt.file, size, profile, sha256.New())
		runtime.ReadMemStats(&after)
		p := problemsOf(t, err)[0]
		if !strings.Contains(p.Cause, tt.cause) || p.Line != tt.line || p.Hint == "" {
			t.Errorf("%s: %+v, want line %d, %s", tt.name, *p, tt.line, tt.cause)
		}
		if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 64 {
			t.Errorf("%s takes %d MiB", tt.name, took)
		}
	}
}

// bomb packs a file of a size into a few thousandths of it.
func bomb(t *testing.T, packing, text string, size int64) []byte {
	t.Helper()
	var b bytes.Buffer
	var w io.WriteCloser
	var err error
	switch packing {
	case "gzip":
		w, err = gzip.NewWriterLevel(&b, gzip.BestCompression)
	case "zstd":
		w, err = zstd.NewWriter(&b)
	case "zip":
		z := zip.NewWriter(&b)
		defer z.Close()
		var entry io.Writer
		entry, err = z.Create("a.csv")
		w = closing{entry, z}
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(w, &repeated{head: "time,CAS\n", text: text, left: size}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

type closing struct {
	io.Writer
	io.Closer
}

func TestBombs(t *testing.T) {
	profile := profileOf(t, "column: time", testColumns)
	for _, packing := range []string{"gzip", "zstd", "zip"} {
		size := int64(100 << 20)
		if testing.Short() {
			size = 10 << 20
		}
		data := bomb(t, packing, ",\n", size)
		if int64(len(data)) > size/100 {
			t.Fatalf("%s: a bomb of %d bytes", packing, len(data))
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Limits{MaxBytes: size * 2 / 5}.read("bomb", bytes.NewReader(data), int64(len(data)), profile, sha256.New())
		runtime.ReadMemStats(&after)
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, fmt.Sprintf("has more than %d bytes", size*2/5)) || !strings.Contains(p.Hint, "raise the limit") {
			t.Errorf("%s: %v", packing, p)
		}
		if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 64 {
			t.Errorf("%s takes %d MiB", packing, took)
		}
	}
}

// partOf is a part of a zip archive.
func partOf(t *testing.T, archive []byte, name string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		t.Fatal(err)
	}
	part, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(part)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// At the limit a file is read, one byte past it is not, whatever it is packed in.
func TestLimits(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	for _, s := range specimens(t) {
		if strings.Contains(s.name, ".mat") {
			continue
		}
		content, _, err := decompress("f", s.data, DefaultMaxBytes)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(s.name, "XLSX") { // the sheet counts
			content = partOf(t, content, "xl/worksheets/sheet1.xml")
		}
		path := filepath.Join(t.TempDir(), "f")
		if err := os.WriteFile(path, s.data, 0o600); err != nil {
			t.Fatal(err)
		}
		limit := int64(max(len(content), len(s.data))) // an archive is no smaller than its content sometimes
		if _, err := (Limits{MaxBytes: limit}).Read(path, profile); err != nil {
			t.Errorf("%s at the limit: %v", s.name, err)
		}
		_, err = Limits{MaxBytes: int64(len(content)) - 1}.Read(path, profile)
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "the most that is read") {
			t.Errorf("%s one byte past the limit: %v", s.name, err)
		}
	}
}

func TestZip(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	csv := []byte("time,CAS\n0,1\n")
	for _, tt := range []struct {
		name  string
		files map[string][]byte
		cause string
		hint  string
	}{
		{"one export", map[string][]byte{"a.csv": csv}, "", ""},
		{"one export in a folder, with what packing tools add", map[string][]byte{"x/a.csv": csv, "__MACOSX/x/._a.csv": {1}, "x/": nil, "x/.DS_Store": {2}}, "", ""},
		{"a name that leads elsewhere", map[string][]byte{"../../etc/<script>.csv": csv}, "", ""},
		{"two", map[string][]byte{"a\n.csv": csv, "b.csv": csv}, `with 2 files in it: `, "unpack it"},
		{"none", map[string][]byte{}, "no file in it", "pack the export again"},
		{"a spreadsheet", map[string][]byte{"[Content_Types].xml": csv}, "an office document", "save the sheet as .xlsx or CSV"},
		{"a spreadsheet of another kind", map[string][]byte{"mimetype": csv, "content.xml": csv}, "an office document", "save the sheet as .xlsx or CSV"},
		{"a binary workbook", map[string][]byte{"[Content_Types].xml": csv, "xl/workbook.bin": csv, "xl/worksheets/sheet1.bin": csv}, "an office document", "save the sheet as .xlsx or CSV"},
		{"packed twice", map[string][]byte{"a.zip": zipped(t, map[string][]byte{"a.csv": csv})}, "is packed twice: zip in zip", "unpack the outer one"},
		{"empty", map[string][]byte{"a.csv": nil}, "is empty", "export the recording again"},
	} {
		r, err := ReadBytes("f.zip", zipped(t, tt.files), profile)
		if tt.cause == "" {
			if err != nil || r.Name != "f.zip" || r.Format != "wide CSV, zip" || r.Series[0].Len() != 1 {
				t.Errorf("%s: %+v, %v", tt.name, r, err)
			}
			continue
		}
		if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, tt.cause) || !strings.Contains(p.Hint, tt.hint) || strings.Contains(p.Cause, "\n") {
			t.Errorf("%s: %+v, want %s and %s", tt.name, *p, tt.cause, tt.hint)
		}
	}
}

func TestZipWithPassword(t *testing.T) {
	t.Parallel()
	data := zipped(t, map[string][]byte{"a.csv": []byte("time,CAS\n0,1\n")})
	directory := bytes.Index(data, []byte("PK\x01\x02"))
	data[6] |= encrypted           // flags of the entry, from the published description of the format
	data[directory+8] |= encrypted // and of its place in the directory
	_, err := ReadBytes("f.zip", data, profileOf(t, "column: time", testColumns))
	if p := problemsOf(t, err)[0]; !strings.Contains(p.Cause, "with a password") {
		t.Errorf("%v", p)
	}
}

// UTF-16 as the encoder of the standard text library writes it.
func TestUTF16(t *testing.T) {
	t.Parallel()
	text := "time,CAS,note\n0,100,«é»\n1,101,😀\n"
	profile := profileOf(t, "column: time", testColumns)
	for name, e := range map[string]struct {
		order unicode.Endianness
		mark  unicode.BOMPolicy
	}{"little-endian": {unicode.LittleEndian, unicode.UseBOM}, "big-endian": {unicode.BigEndian, unicode.UseBOM},
		"little-endian, no mark": {unicode.LittleEndian, unicode.IgnoreBOM}, "big-endian, no mark": {unicode.BigEndian, unicode.IgnoreBOM}} {
		text := text
		if e.mark == unicode.IgnoreBOM {
			text = strings.Repeat("plain preamble\n", 5) + text // what tells it without a mark: Latin letters first
		}
		data, err := unicode.UTF16(e.order, e.mark).NewEncoder().Bytes([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		r, err := ReadBytes("f.csv", data, profile)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if diff := cmp.Diff(samples{"computed_airspeed": {{0, 100}, {1, 101}}}, samplesOf(r)); diff != "" || r.Format != "wide CSV, UTF-16" {
			t.Errorf("%s as %s (-want +got):\n%s", name, r.Format, diff)
		}
	}
}

// Names and cells of a file appear in messages and notes, never as they stand
// where they could steer a terminal or a page, and always as valid UTF-8.
func TestHostileNames(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	for _, name := range []string{"<script>alert(1)</script>", "../../etc/passwd", "\x1b[31mred", "a\x07b", "\xff\xfe\xfd", "x\u202ey", "C:\\CON", strings.Repeat("long ", 1000)} {
		for _, text := range []string{
			fmt.Sprintf("time,\"%s\"\n0,1\n", name),
			fmt.Sprintf("time,CAS\n0,%s\n", name),
			fmt.Sprintf("%s,CAS\n0,1\n", name),
			fmt.Sprintf("time,parameter,value\n0,\"%s\",1\n", name),
			fmt.Sprintf("time,CAS\ns,%s\nkt,%s\n0,1\n", name, name),
			fmt.Sprintf("time,CAS\n%s,1\n", name),
		} {
			r, err := ReadBytes("f.csv", []byte(text), profile)
			var messages []string
			if err == nil {
				messages = r.Notes
			} else {
				for _, p := range problemsOf(t, err) {
					messages = append(messages, p.Cause, p.Hint)
					if !utf8.ValidString(p.Source) {
						t.Errorf("%q: the source line is no UTF-8", name)
					}
				}
			}
			for _, m := range messages {
				if !utf8.ValidString(m) || strings.ContainsAny(m, "\x1b\x07\n\u202e") || len(m) > 2000 {
					t.Errorf("%q: %q", name, m)
				}
			}
		}
	}
}

// A file that cannot be read on is the file system's error, not one of the file.
func TestReadFailure(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	broken := errors.New("the disk is gone")
	for _, head := range []string{"", "time,CAS\n0,1\n", "\x1f\x8b\x08", "PAR1", "time,CAS\n" + strings.Repeat("0,1\n", 200_000)} {
		in := io.MultiReader(strings.NewReader(head), failing{broken})
		_, err := Limits{}.read("f", in, 0, profile, sha256.New())
		if !errors.Is(err, broken) {
			t.Errorf("%.10q: %v", head, err)
		}
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// decompress is unpack for a file in memory: content comes back as it is when it
// is not packed.
func decompress(file string, data []byte, limit int64) (unpacked []byte, packing string, err error) {
	raw := openStream(bytes.NewReader(data), int64(len(data)), sha256.New())
	defer raw.close()
	c, err := unpack(file, raw, limit)
	if err != nil {
		return nil, "", err
	}
	defer c.close()
	if c.workbook != nil {
		return c.workbook, c.packing, nil
	}
	if c.packing == "" {
		return data, "", nil
	}
	unpacked, err = c.whole()
	return unpacked, c.packing, err
}
