package archive

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"
)

// record puts the SHA-256 and the length before a text, as a staged file has them.
func recordOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return fmt.Sprintf("%s %d\n%s", hex.EncodeToString(sum[:]), len(text), text)
}

// TestRecordsByHand: records one after the other, with their places; and what is none.
func TestRecordsByHand(t *testing.T) {
	t.Parallel()
	read := func(text string) (got string, err error) {
		path := filepath.Join(t.TempDir(), "staged")
		writeTestFile(t, path, text)
		err = eachRecord(path, func(at int64, sum string, head, rows []byte) error {
			got += fmt.Sprintf("%d:%s/%s ", at, head, rows)
			if !strings.HasPrefix(text[at:], sum) {
				t.Errorf("the record at %d has the sum %s", at, sum)
			}
			return nil
		})
		return got, err
	}
	one, two, three := recordOf("head\nrows\n"), recordOf("\n"), recordOf("h\n")
	if len(one) != 78 || len(two) != 68 { // 64 digits, a blank, 10 or 1, a line end, the text
		t.Fatal(len(one), len(two))
	}
	if got, err := read(one + two + three); err != nil || got != "0:head/rows\n 78:/ 146:h/ " {
		t.Errorf("%q, %v", got, err)
	}
	resized := func(size string) string { return strings.Replace(one, " 10\n", " "+size+"\n", 1) }
	for name, text := range map[string]string{"no length": resized(""), "a sign": resized("+10"), "a zero before it": resized("010"), "negative": resized("-10"), "letters": resized("1o"), "too large for a number": resized("99999999999999999999"),
		"larger than what is there": resized("1000000"), "smaller": resized("9"), "nothing": recordOf(""), "no line": recordOf("head"), "no line end at all": strings.Repeat("x", 70_000), "cut in its first line": one[:20],
		"cut": one[:len(one)-1], "another byte": strings.Replace(one, "rows", "rowz", 1), "a sum cut": one[1:], "followed by something": one + "x"} {
		if got, err := read(text); !errors.Is(err, errRecord) || got != "" && name != "followed by something" {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	// What says that it is larger than any record is not read.
	start := fmt.Sprintf("%s %d\n", one[:64], maxRecord+1)
	wentOn := bufio.NewReader(io.MultiReader(strings.NewReader(start), strings.NewReader(strings.Repeat("x", 8192)), iotest.ErrReader(errors.New("went on"))))
	if _, _, _, err := readRecord(wentOn); !errors.Is(err, errRecord) {
		t.Errorf("a record of %d bytes: %v", maxRecord+1, err)
	}
	stop := errors.New("stop")
	path := filepath.Join(t.TempDir(), "staged")
	writeTestFile(t, path, one+two)
	if err := eachRecord(path, func(int64, string, []byte, []byte) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("each's own: %v", err)
	}
	if err := eachRecord(path+".none", nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
}

// TestStagedByHand: a record at its place, with its rows or without; of a damaged one nothing is taken.
func TestStagedByHand(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "staged")
	head := stagedHead{Entry: inputEntry{Key: "00"}, Name: "a<b.csv"}
	record, err := newRecord(head, []flightRows{{Month: "2031-03"}, {Month: "2031-04"}})
	if err != nil {
		t.Fatal(err)
	}
	empty, err := newRecord(head, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(record, []byte("a<b.csv")) {
		t.Error("a name is written as another")
	}
	noJSON, noRows := recordOf("{\n"), recordOf("{}\nrows\n")
	writeTestFile(t, path, string(record)+string(empty)+noJSON+noRows+"x")
	at := int64(0)
	for i, c := range []struct {
		text   string
		ok     bool
		months string
	}{{string(record), true, "2031-03 2031-04 "}, {string(empty), true, ""}, {noJSON, false, ""}, {noRows, false, ""}, {"x", false, ""}, {"", false, ""}} {
		months := ""
		got, ok, err := readStaged(path, at, func(f *flightRows) error { months += f.Month + " "; return nil })
		if ok != c.ok || months != c.months || (err != nil) != (c.text == noRows) || ok && (got.Name != head.Name || got.sum != c.text[:64]) {
			t.Errorf("record %d: %+v, %v, %q, %v", i, got, ok, months, err)
		}
		if _, ok, err := readStaged(path, at, nil); err != nil || ok != (c.ok || c.text == noRows) {
			t.Errorf("the head of record %d: %v, %v", i, ok, err)
		}
		at += int64(len(c.text))
	}
	stop := errors.New("stop")
	if _, ok, err := readStaged(path, 0, func(*flightRows) error { return stop }); ok || !errors.Is(err, stop) {
		t.Errorf("each's own: %v, %v", ok, err)
	}
	if _, ok, err := readStaged(path+".none", 0, nil); ok || err == nil {
		t.Errorf("no file: %v, %v", ok, err)
	}
}

// TestChecksByHand: what at the end of a line is a check.
func TestChecksByHand(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{`,"check":"00000000"}`: "0 true", `{"key":"a","check":"0000002a"}`: "42 true", `x,"check":"ffffffff"}`: "4294967295 true", `"check":"00000000"}`: "0 false",
		`{"key":"a","check":"0000000g"}`: "0 false", `{"key":"a","check":"00000000ab`: "171 false", `{"key":"a","chexk":"00000000"}`: "0 false", "": "0 false", `{"key":"a"}`: "0 false"} {
		sum, checked := splitCheck([]byte(text))
		if got := fmt.Sprint(sum, " ", checked); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
	for text, want := range map[string]string{`{"key":"00ff"`: "00ff true", `{"key":"00ff`: " false", `{"kay":"00ff"`: " false", "": " false", `{"key":"` + strings.Repeat("a", 91) + `"`: strings.Repeat("a", 91) + " true"} {
		key, ok := lineKey([]byte(text))
		if got := fmt.Sprint(key, " ", ok); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
	path := filepath.Join(t.TempDir(), "shard.jsonl")
	line := func(key string, length int) string {
		text := `{"key":"` + key + `","x":""}`
		return strings.Replace(text, `""`, `"`+strings.Repeat("x", length-len(text))+`"`, 1)
	}
	for length, sound := range map[int]bool{100_000: true, 1_000_000: true, 1_100_000: false, 2_000_000: false} {
		writeTestFile(t, path, line("00aa", 30)+"\n"+line("00bb", length)+"\n")
		keys := ""
		err := readShard(path, func(key string, _ []byte) error { keys += key; return nil })
		if (err == nil) != sound || sound && keys != "00aa00bb" {
			t.Errorf("a line of %d bytes: %s, %v", length, keys, err)
		}
		got, err := findLine(path, "00bb")
		if (err == nil) != sound || sound && len(got) != length {
			t.Errorf("a line of %d bytes is found with %d, %v", length, len(got), err)
		}
	}
	writeTestFile(t, path, strings.Replace(string(withCheck([]byte(line("00aa", 30)))), "x", "y", 1)+"\n")
	if err := readShard(path, func(string, []byte) error { return nil }); err == nil || !strings.Contains(err.Error(), "does not have the check at its end") {
		t.Errorf("a wrong check: %v", err)
	}
}

// stageReport stages an input with what its run is to report.
func stageReport(t *testing.T, a *Archive, path string) {
	t.Helper()
	in := Input{path, []string{path}, nil}
	sight, err := in.Look()
	if err == nil {
		sum := sha256.Sum256([]byte(path))
		err = a.StageRows(in, sight, later(), Rows{Recording: hex.EncodeToString(sum[:]), Report: json.RawMessage(`"` + filepath.Base(path) + `"`)})
	}
	if err != nil {
		t.Fatal(err)
	}
}

// TestTakenOver: what runs that were cut off had staged is in the archive with the next, which has it
// to report, with what those before had; until one has said so in its exit code.
func TestTakenOver(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "archive")
	paths := inputs{"a.csv": "a", "b.csv": "b", "c<.csv": "c"}.write(t, t.TempDir())
	place := filepath.Join(dir, unreportedName)
	earlier := func(a *Archive) (reports string) {
		for _, u := range a.EarlierRuns() {
			reports += string(u.Report)
			if u.Told {
				reports += " told"
			}
		}
		return reports
	}
	ofRun := func() string {
		t.Helper()
		text, err := os.ReadFile(place)
		if err != nil {
			t.Fatal(err)
		}
		_, run, _ := strings.Cut(string(text), `{"run":"`)
		run, _, _ = strings.Cut(run, `"`)
		return run
	}
	want := ""
	for i, path := range paths {
		a := openAt(t, dir, time.Unix(int64(i), 0))
		if got := earlier(a); got != want {
			t.Errorf("run %d has %s to report, want %s", i, got, want)
		}
		if i > 0 && ofRun() != filepath.ToSlash(a.figures) {
			t.Errorf("run %d leaves the list to %s", i, ofRun())
		}
		if fileExists(filepath.Join(dir, stagingFolder)) || fileExists(filepath.Join(dir, newFolder)) {
			t.Errorf("run %d leaves staging", i)
		}
		stageReport(t, a, path) // and is cut off
		want += `"` + filepath.Base(path) + `"`
		a.Close()
	}
	a := openAt(t, dir, time.Unix(5, 0))
	if got := earlier(a); got != want {
		t.Errorf("%s to report, want %s", got, want)
	}
	if text, _ := os.ReadFile(place); !bytes.Contains(text, []byte(`"c<.csv"`)) {
		t.Error("a name is written as another")
	}
	// Cut off after its figures: with a code of a signal the next run has them told, else nothing.
	kept, err := os.ReadFile(place)
	if err != nil {
		t.Fatal(err)
	}
	for i, figures := range []string{`{"exit_code":130}`, `{"exit_code":6}`} {
		if _, err := a.KeepRun([]byte(figures), nothingToSay); err != nil {
			t.Fatal(err)
		}
		if fileExists(place) != (i == 0) {
			t.Errorf("after %s the list is there: %v", figures, fileExists(place))
		}
		a.Close()
		if i == 1 { // before the list went
			stageOne(t, dir, paths[0])
			writeTestFile(t, place, string(rewritten(kept, a.figures)))
		}
		a = openAt(t, dir, time.Unix(int64(6+i), 0))
		wanted := ""
		if i == 0 {
			wanted = strings.ReplaceAll(want, `""`, `" told"`) + " told"
		}
		if got := earlier(a); got != wanted {
			t.Errorf("after %s: %s to report, want %s", figures, got, wanted)
		}
		if fileExists(filepath.Join(dir, stagingFolder)) || i == 1 && fileExists(place) {
			t.Errorf("after %s: staging or the list is left", figures)
		}
	}
	a.Close()
}

// rewritten is a list of what is unreported for the figures of another run.
func rewritten(text []byte, figures string) []byte {
	body, _ := checkedBody(text)
	_, rest, _ := strings.Cut(string(body), "\n")
	return checkedText([]byte(`{"run":"` + filepath.ToSlash(figures) + `"}` + "\n" + rest))
}

// TestDiskErrorOfAList: an error of the disk while a run takes over what others left, or keeps its figures, is said.
func TestDiskErrorOfAList(t *testing.T) {
	t.Parallel()
	path := inputs{"a.csv": "a"}.write(t, t.TempDir())[0]
	for left := 0; ; left++ {
		dir := filepath.Join(t.TempDir(), "archive")
		a := openAt(t, dir, time.Unix(1, 0))
		stageReport(t, a, path)
		if err := a.Commit(); err != nil {
			t.Fatal(err)
		}
		a.Close()
		d := &brittleDisk{left: left, mode: failing}
		run := fixtureRun("1")
		run.Began = time.Unix(2, 0)
		a, err := open(dir, run, nil, d)
		if err == nil {
			_, err = a.KeepRun([]byte(`{"exit_code":6}`), nothingToSay)
			a.Close()
		}
		if d.left >= 0 {
			if err != nil || left < 10 {
				t.Errorf("%d changes, %v", left, err)
			}
			return
		}
		if !errors.Is(err, errIO) {
			t.Errorf("change %d: %v", left, err)
		}
	}
}
