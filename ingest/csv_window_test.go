package ingest

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// A file may come in pieces of any size: the recording is the same, with
// the same problems at the same places.
func TestPiecesGiveTheSame(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time", testColumns)
	rapid.Check(t, func(rt *rapid.T) {
		text := drawCSV(rt, rapid.SampledFrom([]string{",", ";"}).Draw(rt, "delimiter"), ".")
		if rapid.Bool().Draw(rt, "damaged") {
			at := rapid.IntRange(0, len(text)).Draw(rt, "at")
			junk := rapid.SampledFrom([]string{"\"", "\"\n", "\n\n", "x", "\x00", ",", "\r\n", "\xff"}).Draw(rt, "junk")
			text = text[:at] + junk + text[at:]
		}
		whole, wholeErr := ReadBytes("f", []byte(text), profile)
		// The size is a hint: taken for a few bytes, the file is read in pieces of as many.
		hint := int64(rapid.IntRange(1, 200).Draw(rt, "hint"))
		sum := sha256.New()
		pieces, err := Limits{}.read("f", iotest.HalfReader(strings.NewReader(text)), hint, profile, sum)
		if fmt.Sprint(err) != fmt.Sprint(wholeErr) {
			rt.Fatalf("in pieces: %v\nas a whole: %v\n%q", err, wholeErr, text)
		}
		if err != nil {
			return
		}
		if diff := sameRecording(whole, pieces); diff != "" {
			rt.Fatalf("(-whole +pieces):\n%s\n%q", diff, text)
		}
		if got := hex.EncodeToString(sum.Sum(nil)); got != whole.SHA256 || pieces.Bytes != int64(len(text)) {
			rt.Fatalf("hash %s of %d bytes, want %s of %d", got, pieces.Bytes, whole.SHA256, len(text))
		}
	})
}

// A quoted cell that runs over the end of a piece is one cell.
func TestQuotedCellsOverPieces(t *testing.T) {
	t.Parallel()
	note := "\"" + strings.Repeat("a \"\"quoted\"\" line,\n", 40) + "\""
	text := "time,note,CAS\n" + strings.Repeat("1,"+note+",100\n", 500)
	in := iotest.OneByteReader(strings.NewReader(text))
	r, err := Limits{}.read("f", in, 100, profileOf(t, "column: time", testColumns), sha256.New())
	if err != nil {
		t.Fatal(err)
	}
	if s := r.Series[0]; s.Len() != 1 || len(r.Notes) != 1 || !strings.HasSuffix(r.Notes[0], "used once: computed_airspeed 499") {
		t.Errorf("%d samples, notes %q; want one taken and 499 that are the same", s.Len(), r.Notes)
	}
}
