package ingest

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
)

// packings pack bytes in each way, with the standard library where it can.
var packings = map[string]func(t *testing.T, data []byte) []byte{
	"gz": func(t *testing.T, data []byte) []byte {
		var b bytes.Buffer
		w := gzip.NewWriter(&b)
		w.Comment = "packed"
		w.Write(data)
		w.Close()
		return b.Bytes()
	},
	"zst": func(t *testing.T, data []byte) []byte {
		w, err := zstd.NewWriter(nil)
		if err != nil {
			t.Fatal(err)
		}
		return w.EncodeAll(data, nil)
	},
	"zip": func(t *testing.T, data []byte) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		f, err := w.Create("export")
		if err != nil {
			t.Fatal(err)
		}
		f.Write(data)
		w.Close()
		return b.Bytes()
	},
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// TestContentOfPacked: the content of a packed recording is that of the one that is not,
// of every format and in every packing, with the rows after a line that cannot be read,
// too; what is on disk is another thing.
func TestContentOfPacked(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	contents := columnarOf(t, "time,CAS\n0,100\n1,101\n")
	contents["CSV"] = []byte("time,CAS\n0,100\n1,101\n")
	contents["CSV, cut off"] = []byte("time,CAS\n0,100\n1,101\n2,\"10")
	contents["UTF-16"] = []byte("\xff\xfet\x00i\x00m\x00e\x00,\x00C\x00A\x00S\x00\n\x000\x00,\x001\x00\n\x00")
	contents["long file"] = []byte("time,CAS\n" + strings.Repeat("0,100\n", 100_000))
	for name, data := range contents {
		plain, err := ReadBytes("f", data, profile)
		if err != nil {
			t.Fatal(name, err)
		}
		if want := sumOf(data); plain.SHA256 != want || plain.Content() != want || plain.Unpacked != "" {
			t.Errorf("%s: %s, content %s, want %s", name, plain.SHA256, plain.Content(), want)
		}
		for packing, pack := range packings {
			file := pack(t, data)
			r, err := ReadBytes("f", file, profile)
			if err != nil {
				t.Errorf("%s in %s: %v", name, packing, err)
				continue
			}
			if r.SHA256 != sumOf(file) || r.Content() != sumOf(data) {
				t.Errorf("%s in %s: %s, content %s, want %s and %s", name, packing, r.SHA256, r.Content(), sumOf(file), sumOf(data))
			}
		}
	}
}

// TestContentOfParts: parts that are packed, all or some, have the content of those that
// are not; a part without a mapped column counts.
func TestContentOfParts(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	profile.Parts = []string{"-1hz.csv", "-8hz.csv", "-text.csv", "-1hz.csv.gz", "-8hz.csv.zip"}
	parts := map[string]string{"-1hz.csv": "time,CAS\n0,100\n1,101\n", "-8hz.csv": "time,WOW\n0,1\n0.125,0\n", "-text.csv": "time,remark\n0,calm\n"}
	want := sumOf([]byte(parts["-1hz.csv"] + parts["-8hz.csv"] + parts["-text.csv"]))
	read := func(names ...string) *Recording {
		t.Helper()
		dir := t.TempDir()
		var paths []string
		for _, name := range names {
			data := []byte(parts[strings.TrimSuffix(strings.TrimSuffix(name, ".gz"), ".zip")])
			if pack := packings[strings.TrimPrefix(filepath.Ext(name), ".")]; pack != nil {
				data = pack(t, data)
			}
			paths = append(paths, filepath.Join(dir, "flight"+name))
			if err := os.WriteFile(paths[len(paths)-1], data, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		r, err := ReadParts(paths, profile)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := read("-1hz.csv", "-8hz.csv", "-text.csv"); r.Content() != want || r.SHA256 != want {
		t.Errorf("not packed: %s, content %s, want %s", r.SHA256, r.Content(), want)
	}
	if r := read("-1hz.csv", "-8hz.csv.zip", "-text.csv"); r.Content() != want || r.SHA256 == want {
		t.Errorf("one packed: %s, content %s, want %s", r.SHA256, r.Content(), want)
	}
	if r := read("-1hz.csv.gz", "-8hz.csv.zip", "-text.csv"); r.Content() != want || r.SHA256 == want {
		t.Errorf("two packed: %s, content %s, want %s", r.SHA256, r.Content(), want)
	}
}

// TestContentOfStretches: every stretch of a packed recording has its content.
func TestContentOfStretches(t *testing.T) {
	t.Parallel()
	data := []byte("time,CAS\n" + strings.Repeat("0,100\n", 20) + strings.Repeat("9000000,100\n", 20))
	r, err := ReadBytes("f", packings["gz"](t, data), profileOf(t, "column: time", testColumns))
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Stretches()) < 2 {
		t.Error("there is one stretch")
	}
	for i, s := range r.Stretches() {
		if s.Content() != sumOf(data) {
			t.Errorf("stretch %d of %d: %s", i+1, len(r.Stretches()), s.Content())
		}
	}
}
