package archive

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A shard is searched by halves; every line is found, and no other, whatever its length,
// with and without a line end at the end.
func TestFindLine(t *testing.T) {
	t.Parallel()
	source := rand.New(rand.NewPCG(7, 8))
	for _, lines := range []int{0, 1, 2, 3, 2000} {
		var text strings.Builder
		want := map[string]string{}
		for i := range lines {
			key := fmt.Sprintf("%08x", 16*i+8)
			line := fmt.Sprintf(`{"key":"%s","x":"%s"}`, key, strings.Repeat("x", source.IntN(1+source.IntN(9000))))
			want[key] = line
			text.WriteString(line + "\n")
		}
		for _, ending := range []string{"\n", ""} {
			path := filepath.Join(t.TempDir(), "shard")
			if err := os.WriteFile(path, []byte(strings.TrimSuffix(text.String(), "\n")+ending), 0o666); err != nil {
				t.Fatal(err)
			}
			if lines == 0 && ending != "" {
				continue // no shard is an empty line
			}
			for i := range 2*lines + 2 {
				key := fmt.Sprintf("%08x", 8*i)
				got, err := findLine(path, key)
				if err != nil || string(got) != want[key] {
					t.Fatalf("%d lines: %s: %.60s, %v", lines, key, got, err)
				}
			}
		}
	}
	if line, err := findLine(filepath.Join(t.TempDir(), "none"), "00000000"); line != nil || err != nil {
		t.Errorf("without a file: %s %v", line, err)
	}
}
