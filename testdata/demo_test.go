package testdata

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"strings"
	"testing"
)

func TestManifest(t *testing.T) {
	recordings := 0
	err := fs.WalkDir(Demo, "demo", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.Contains(path, "tarnholm-") {
			return err
		}
		recordings++
		data, err := Demo.ReadFile(path)
		sum := sha256.Sum256(data)
		if !IsDemo(hex.EncodeToString(sum[:])) {
			t.Errorf("%s is not in the manifest", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if recordings < 10 || len(demoSums()) != recordings {
		t.Errorf("%d recordings and %d sums, want the same number, at least 10", recordings, len(demoSums()))
	}
	empty := sha256.Sum256(nil)
	if IsDemo(hex.EncodeToString(empty[:])) || IsDemo("") {
		t.Error("an empty file counts as a demonstration recording")
	}
}
