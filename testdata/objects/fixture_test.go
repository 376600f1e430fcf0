package objects

import (
	"bytes"
	"compress/gzip"
	"context"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/minio/minio-go/v7"
)

// few lays out four demonstration flights of different formats with their profile, and wide.csv, a fifth with a column that no
// profile maps and that makes it larger than three ranges of a request, 4 MiB each.
func few(t testing.TB) (folder string) {
	t.Helper()
	all := demo(t)
	folder = filepath.Join(t.TempDir(), "few")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"th120.yaml", "tarnholm-05.arrow.zst", "tarnholm-07.csv.gz", "tarnholm-08.csv.gz", "tarnholm-14.parquet"} {
		if err := os.Rename(filepath.Join(all, name), filepath.Join(folder, name)); err != nil {
			t.Fatal(err)
		}
	}
	text := unpacked(t, filepath.Join(all, "tarnholm-01.csv.gz"))
	var wide bytes.Buffer
	random := rand.New(rand.NewPCG(52, 18))
	words := make([]byte, 2600)
	for i := range words {
		words[i] = byte('a' + random.IntN(26))
	}
	column := ",remark"
	for line := range strings.Lines(text) {
		wide.WriteString(strings.TrimRight(line, "\r\n") + column + "\n")
		column = "," + string(words[random.IntN(100):])
	}
	if wide.Len() < 13<<20 {
		t.Fatalf("wide.csv has %d bytes", wide.Len())
	}
	if err := os.WriteFile(filepath.Join(folder, "wide.csv"), wide.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return folder
}

// unpacked is the content of a file packed with gzip.
func unpacked(t testing.TB, path string) string {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	in, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// replace writes something else to the place of an object.
func replace(t testing.TB, bucket, key string) {
	t.Helper()
	if _, err := client.PutObject(context.Background(), bucket, key, strings.NewReader("another object"), 14, minio.PutObjectOptions{}); err != nil {
		t.Error(err)
	}
}

func remove(t testing.TB, bucket, key string) {
	t.Helper()
	if err := client.RemoveObject(context.Background(), bucket, key, minio.RemoveObjectOptions{}); err != nil {
		t.Error(err)
	}
}
