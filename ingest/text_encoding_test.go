package ingest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// The bytes are written by hand from the code charts: in Windows-1252 B0 is the degree
// sign, B5 the micro sign, E9 the e with acute, 80 the euro sign; in UTF-16 they are 00B0,
// 00B5, 00E9, 20AC.
func TestTextEncodings(t *testing.T) {
	t.Parallel()
	const columns = "  pitch_attitude: {column: 'PITCH (°)', unit: deg}\n  gear_lever: {column: Levier µ, states: {levé: UP, €: DOWN}}\n"
	profile := profileOf(t, "column: time", columns)
	utf16 := func(text string, big bool) string {
		var b strings.Builder
		for _, r := range text {
			low, high := byte(r), byte(r>>8)
			if big {
				low, high = high, low
			}
			b.Write([]byte{low, high})
		}
		return b.String()
	}
	const text = "time,PITCH (°),Levier µ\n0,1.5,levé\n1,2.5,€\n"
	for _, tt := range []struct{ name, data, format string }{
		{"UTF-8", text, "wide CSV"},
		{"UTF-8 with a mark", "\xef\xbb\xbf" + text, "wide CSV"},
		{"Windows-1252", "time,PITCH (\xb0),Levier \xb5\n0,1.5,lev\xe9\n1,2.5,\x80\n", "wide CSV, Windows-1252"},
		{"UTF-16 LE with a mark", "\xff\xfe" + utf16(text, false), "wide CSV, UTF-16"},
		{"UTF-16 BE with a mark", "\xfe\xff" + utf16(text, true), "wide CSV, UTF-16"},
		{"UTF-16 LE without one", utf16(text, false), "wide CSV, UTF-16"},
		{"UTF-16 BE without one", utf16(text, true), "wide CSV, UTF-16"},
	} {
		r, err := ReadBytes("f.csv", []byte(tt.data), profile)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if diff := cmp.Diff(samples{"pitch_attitude": {{0, 1.5}, {1, 2.5}}, "gear_lever": {{0, 0}, {1, 2}}}, samplesOf(r)); diff != "" || r.Format != tt.format {
			t.Errorf("%s read as %s (-want +got):\n%s", tt.name, r.Format, diff)
		}
		note := `the text is neither UTF-8 nor UTF-16 and was read as Windows-1252: its first character beyond ASCII is then '°'`
		if got := slices.Contains(r.Notes, note); got != (tt.name == "Windows-1252") {
			t.Errorf("%s: notes %q", tt.name, r.Notes)
		}
		raw, err := OpenRawBytes("f.csv", []byte(tt.data))
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if diff := cmp.Diff([]RawColumn{{Name: "PITCH (°)"}, {Name: "Levier µ"}}, raw.Columns); diff != "" || raw.Format != tt.format {
			t.Errorf("%s surveyed as %s (-want +got):\n%s", tt.name, raw.Format, diff)
		}
	}
	for _, lever := range []string{"\xe9t\xe9", "été"} { // é in front of the wrong cell: columns are characters
		_, err := ReadBytes("f.csv", []byte("\xb0\ntime,x,Levier \xb5\n0,\xe9\xe9,"+lever+"\n"), profile)
		if p := problemsOf(t, err)[0]; p.Line != 3 || p.Column != 6 {
			t.Errorf("%q: %s, want 3:6", lever, p.Position())
		}
	}
}

// Windows-1252 far behind the head of a long file, whose beginning has been let go of.
func TestCodepageLate(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	var b strings.Builder
	b.WriteString("time,CAS,remark\n")
	for i := range 60_000 {
		fmt.Fprintf(&b, "%d,100,calm\n", i)
	}
	b.WriteString("60000,101,caf\xe9 \"x\"\n60001,102,\n60002,wrong,\n")
	_, err := ReadBytes("f.csv", []byte(b.String()), profile)
	if p := problemsOf(t, err)[0]; p.Line != 60_004 || p.Column != 7 || !strings.Contains(p.Cause, `"wrong"`) {
		t.Errorf("%v", p)
	}
}

// Whatever the sizes of the pieces a text is read in, its lines are those of the text
// decoded at once: by the letters' code points, which are those of Latin-1, or as UTF-8.
func TestWindowDecodes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		letters := rapid.SliceOfN(rapid.SampledFrom([]rune("a,1\n\nß°éµ")), 1, 60).Draw(t, "text")
		want := string(letters)
		data := []byte(want)
		if rapid.Bool().Draw(t, "Latin-1") {
			data = nil
			for _, r := range letters {
				data = append(data, byte(r))
			}
			if utf8.Valid(data) {
				want = string(data) // two letters that happen to be UTF-8 are
			} else if first := beyondASCII(data); utf8.RuneLen(firstRune(data[first:])) > 1 && firstRune(data[first:]) != utf8.RuneError {
				return // begins as UTF-8 and goes on as something else
			}
		}
		text := &csvText{window: newWindow(strings.NewReader(string(data)), int64(rapid.IntRange(1, 20).Draw(t, "window")))}
		text.keep = rapid.Bool().Draw(t, "keep")
		text.more(0)
		var got strings.Builder
		for text.advance() {
			got.Write(text.line)
			if text.ended {
				got.WriteByte('\n')
			}
		}
		if got.String() != want {
			t.Fatalf("%q read as %q, want %q", data, got.String(), want)
		}
	})
}

func firstRune(data []byte) rune {
	r, _ := utf8.DecodeRune(data)
	return r
}

func FuzzReadText(f *testing.F) {
	f.Add([]byte("time,CAS,LEVER\n0,1,UP\n1,\xb0,\xff\n"))
	f.Add([]byte("\xff\xfet\x00i\x00m\x00e\x00,\x00C\x00A\x00S\x00\n\x000\x00,\x001\x00\n\x00"))
	f.Add([]byte("\xfe\xff\x00t\x00i\x00m\x00e\x00;\x00C\x00A\x00S\x00\n\x000\x00;\x001\x00\n\x00"))
	f.Add([]byte("time|CAS|WOW\n---|---|---\n0|1|1\n"))
	f.Add([]byte("<!DOCTYPE html><title>x</title>"))
	f.Add([]byte("version https://git-lfs.github.com/spec/v1\nsize 5\n"))
	profile := profileOf(f, "column: time", testColumns)
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, "text", func() (*Recording, error) { return ReadBytes("f.txt", data, profile) })
	})
}
