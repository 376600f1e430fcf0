package archive

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// withoutChecksums makes an archive one from before there were checksums.
func withoutChecksums(t testing.TB, dir string) {
	t.Helper()
	if err := os.Remove(filepath.Join(dir, checksumsName)); err != nil {
		t.Fatal(err)
	}
	shards, err := filepath.Glob(filepath.Join(dir, ledgerFolder, "*", "*.jsonl"))
	if err != nil || len(shards) == 0 {
		t.Fatal(shards, err)
	}
	for _, shard := range shards {
		text, err := os.ReadFile(shard)
		if err != nil {
			t.Fatal(err)
		}
		text = regexp.MustCompile(`,"check":"[0-9a-f]{8}"}`).ReplaceAll(text, []byte("}"))
		if err := os.WriteFile(shard, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// TestFirstChecksums: the first commit to an archive from before there were checksums
// lists every file of it, those too that it does not change, and puts a check into each line that it carries over.
func TestFirstChecksums(t *testing.T) {
	t.Parallel()
	dir, folder := filepath.Join(t.TempDir(), "archive"), t.TempDir()
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03", "b.csv": "2031-04"}.write(t, folder))
	withoutChecksums(t, dir)
	c, err := Verify(dir)
	if err != nil || c.Listed || len(c.Faults) > 0 {
		t.Fatalf("before: %+v, %v", c, err)
	}
	if _, listed, err := Check(dir); listed || err != nil {
		t.Errorf("before: listed %v, %v", listed, err)
	}
	mustNight(t, dir, fixtureRun("1"), inputs{"c.csv": "2031-04 "}.write(t, folder))
	list, err := readChecksums(filepath.Join(dir, checksumsName))
	if err != nil {
		t.Fatal(err)
	}
	files := contents(t, dir)
	for name, text := range files {
		if name == checksumsName {
			continue
		}
		// crypto/sha256 at a second place; sha256sum reads the same in TestRunsKeepTheirFigures.
		sum := sha256.Sum256([]byte(text))
		if got := list.files[name]; got.SHA256 != hex.EncodeToString(sum[:]) || got.Bytes != int64(len(text)) {
			t.Errorf("%s is listed as %+v", name, got)
		}
	}
	if len(list.files) != len(files)-1 {
		t.Errorf("%d of %d files are listed", len(list.files), len(files)-1)
	}
	inputs := ""
	for name, text := range files {
		if filepath.Base(filepath.Dir(name)) == "inputs" {
			inputs += text
		}
	}
	if n := len(regexp.MustCompile(`(?m),"check":"[0-9a-f]{8}"}$`).FindAllString(inputs, -1)); n != 3 {
		t.Errorf("%d of 3 lines have a check", n)
	}
}

// TestTail: of a file that is longer than that the tail alone is read, and tells it from
// another.
func TestTail(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	data := bytes.Repeat([]byte("0123456789abcdef"), 3*tailLength/32)
	write := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	whole, err := sumFile(write("a", data))
	if err != nil || whole != sumOfText(data) || whole.Tail == "" {
		t.Fatal(whole, err)
	}
	last := bytes.Clone(data)
	last[len(data)-tailLength] ^= 1
	first := bytes.Clone(data)
	first[0] ^= 1
	for what, c := range map[string]struct {
		data []byte
		like bool
	}{"the same": {data, true}, "first byte of the tail": {last, false}, "shorter": {data[1:], false}, "longer": {append(data, 'x'), false}, "before the tail": {first, true}} {
		s, err := tailOf(write("b", c.data))
		if err != nil || whole.looksLike(s) != c.like {
			t.Errorf("%s: looks like it: %v, %v", what, whole.looksLike(s), err)
		}
		if s, _ := sumFile(filepath.Join(dir, "b")); sameSum(s, whole) != (what == "the same") {
			t.Errorf("%s: has the same sum", what)
		}
	}
	if none, err := tailOf(filepath.Join(dir, "none")); err != nil || none.exists() || whole.looksLike(none) {
		t.Errorf("a missing file: %+v, %v", none, err)
	}
}

// TestLineCheck: the check is the CRC-32C of the line before it was added. The value is that of the
// "check" value of the algorithm, of the digits 1 to 9: e3069283 (RFC 3720 appendix B.4 has others; from memory).
func TestLineCheck(t *testing.T) {
	t.Parallel()
	if sum := crc32.Checksum([]byte("123456789"), castagnoli); sum != 0xe3069283 {
		t.Fatalf("%x", sum)
	}
	line := []byte(`{"key":"ab","months":null}`)
	checked := withCheck(line)
	want := fmt.Sprintf(`{"key":"ab","months":null,"check":"%08x"}`, crc32.Checksum(line, castagnoli))
	if string(checked) != want || string(withCheck(checked)) != want || !isIntact(checked) || !isIntact(line) {
		t.Errorf("%s, not %s", checked, want)
	}
	for i := range checked[:len(checked)-len(`"}`)-8-len(checkBefore)] {
		spoilt := bytes.Clone(checked)
		spoilt[i] ^= 4
		if isIntact(spoilt) {
			t.Errorf("intact with another byte %d", i)
		}
	}
}

// TestCheckWhileCommitting: a reader never takes an archive for damaged because a run
// commits at the time.
func TestCheckWhileCommitting(t *testing.T) {
	t.Parallel()
	dir, folder := filepath.Join(t.TempDir(), "archive"), t.TempDir()
	mustNight(t, dir, fixtureRun("1"), inputs{"a.csv": "2031-03"}.write(t, folder))
	done := make(chan struct{})
	go func() {
		defer close(done)
		for n := range 12 {
			content := "2031-03 2031-0" + strconv.Itoa(4+n%5) + strings.Repeat(" ", n)
			if n%7 == 0 {
				content = "2031-09"
			}
			if _, err := night(dir, fixtureRun("1"), inputs{"a.csv": content}.write(t, folder), quickDisk{}); err != nil {
				t.Error(err)
			}
		}
	}()
	checked := 0
	for {
		select {
		case <-done:
			t.Logf("checked %d times", checked)
			return
		default:
		}
		if _, _, err := Check(dir); err != nil {
			t.Fatal(err)
		}
		checked++
	}
}

// FuzzParseChecksums: whatever the text, it is a list that can be written and read again,
// or an error; and no key leads out of the archive.
func FuzzParseChecksums(f *testing.F) {
	c := &checksums{Identity: "identity withheld; key check ab\n", Changing: true, files: map[string]listedFile{}}
	c.put(listedFile{Key: "tables/events/month=2031-03/part.parquet", fileSum: sumOfText([]byte("x")), Before: &fileSum{}, Lost: []string{"ab"}})
	f.Add(c.text()[65:])
	f.Add([]byte(`{"schema":"downlock checksums 1"}` + "\n" + `{"key":"../x","bytes":1,"sha256":""}`))
	f.Add([]byte("[[[["))
	f.Fuzz(func(t *testing.T, body []byte) {
		c, err := parseChecksums(checkedText(body))
		if err != nil {
			return
		}
		for key := range c.files {
			if !filepath.IsLocal(key) {
				t.Errorf("%q", key)
			}
		}
		again, err := parseChecksums(c.text())
		if err != nil || len(again.files) != len(c.files) {
			t.Errorf("%v, %d files of %d", err, len(again.files), len(c.files))
		}
	})
}
