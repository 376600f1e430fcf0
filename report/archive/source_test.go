package archive

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"downlock/testdata/effort"
)

// A shard is searched by halves; every line is found, and no other, whatever its length,
// with and without a line end at the end.
func TestFindLine(t *testing.T) {
	t.Parallel()
	source := rand.New(rand.NewPCG(7, 8))
	for _, lines := range []int{0, 1, 2, 3, effort.Of(100, 200, 2000)} {
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

// TestLineAfter finds the first of four lines that begins at each place or after it.
func TestLineAfter(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shard")
	if err := os.WriteFile(path, []byte("ab\ncde\n\nf"), 0o666); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for at, want := range []string{"0 ab", "3 cde", "3 cde", "3 cde", "7 ", "7 ", "7 ", "7 ", "8 f"} {
		if begin, text, err := lineAfter(f, int64(at)); fmt.Sprintf("%d %s", begin, text) != want || err != nil {
			t.Errorf("after %d: %d %q, %v, want %s", at, begin, text, err, want)
		}
	}
	if _, text, err := lineAfter(f, 9); text != nil || err != nil {
		t.Errorf("after the last line: %q, %v", text, err)
	}
}

// TestSources: every input that holds a recording, each from the shard of its folder.
func TestSources(t *testing.T) {
	t.Parallel()
	dir, run := filepath.Join(t.TempDir(), "archive"), fixtureRun("1")
	var paths []string
	for _, in := range []inputs{{"a.csv": "2031-03", "b.csv": "2031-04", "bad.csv": "bad"}, {"c.csv": "2031-03"}, {"d.csv": "2031-05"}} {
		paths = append(paths, in.write(t, t.TempDir())...)
	}
	mustNight(t, dir, run, paths)
	sha, _ := fixtureResults(run, "", "2031-03")
	sources, err := Sources(dir, sha)
	var names []string
	for _, s := range sources {
		names = append(names, filepath.Base(s.Path))
		if !s.SameSetting(run) || !slices.Contains(paths, s.Path) {
			t.Errorf("%+v", s)
		}
	}
	slices.Sort(names)
	if err != nil || strings.Join(names, " ") != "a.csv c.csv" {
		t.Errorf("%q, %v", names, err)
	}
	for _, none := range []string{strings.Repeat("0", 64), "", "ff", "../../a"} {
		if sources, err := Sources(dir, none); sources != nil || err != nil {
			t.Errorf("%q: %v, %v", none, sources, err)
		}
	}
}
