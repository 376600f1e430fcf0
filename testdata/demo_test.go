package testdata

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"strings"
	"testing"
)

func TestManifest(t *testing.T) {
	t.Parallel()
	recordings := 0
	for _, f := range DemoFolders {
		entries, err := fs.ReadDir(Demo, f.Folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if !strings.HasPrefix(e.Name(), "tarnholm-") {
				continue
			}
			recordings++
			data, err := Demo.ReadFile(f.Folder + "/" + e.Name())
			if err != nil {
				t.Fatal(err)
			}
			sum := sha256.Sum256(data)
			if got := DemoProfile(hex.EncodeToString(sum[:])); got != f.Profile {
				t.Errorf("%s/%s: profile %q, want %q", f.Folder, e.Name(), got, f.Profile)
			}
		}
	}
	if recordings < 30 || len(demoSums()) != recordings {
		t.Errorf("%d recordings and %d sums, want the same number, at least 30", recordings, len(demoSums()))
	}
	empty := sha256.Sum256(nil)
	if DemoProfile(hex.EncodeToString(empty[:]))+DemoProfile("") != "" {
		t.Error("an empty file counts as a demonstration recording")
	}
}
