package ingest

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// decimal is the grammar parseDecimal reads, as a regular expression.
var decimal = regexp.MustCompile(`^[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?$`)

func checkDecimal(t interface{ Errorf(string, ...any) }, text string) {
	want, err := strconv.ParseFloat(text, 64)
	wantOK := decimal.MatchString(text) && err == nil
	for _, point := range []byte{'.', ','} {
		written := strings.ReplaceAll(text, ".", string(point))
		got, ok := parseDecimal([]byte(written), point)
		if ok != wantOK || ok && math.Float64bits(got) != math.Float64bits(want) {
			t.Errorf("%q: %v %v, strconv gives %v %v", written, got, ok, want, wantOK)
		}
		checkShort(t, written, point, want, wantOK)
	}
}

// shortNumber is what splitter.number must not leave to others.
var shortNumber = regexp.MustCompile(`^[+-]?([0-9]+[.,]?[0-9]*|[.,][0-9]+)$`)

// checkShort reads the number as a cell of a line, with another before it and whatever
// behind it.
func checkShort(t interface{ Errorf(string, ...any) }, written string, point byte, want float64, wantOK bool) {
	if written == "" || strings.Contains(written, ";") {
		return
	}
	for _, behind := range []string{";", ";;;;;;;;", ";12345678", ";.,.,.,.,", "\n;9999999", "\r\n1234567", "\x00\x00\x00\x00\x00\x00\x00\x00", "00000000"} {
		line := []byte("7;" + written + behind)
		end := len(line)
		if behind[0] != ';' { // the line ends before it
			end = len(line) - len(behind)
		}
		s := splitter{delimiter: ';', wanted: []uint8{0, 1}}
		cells, _, _ := s.split(line[:end])
		got, ok := s.number(&cells[0], point)
		if ok && (!wantOK || math.Float64bits(got) != math.Float64bits(want)) {
			t.Errorf("%q before %q: %v, strconv gives %v %v", written, behind, got, want, wantOK)
		}
		if !ok && len(written) < 16 && shortNumber.MatchString(written) {
			t.Errorf("%q before %q is not read", written, behind)
		}
	}
}

func TestDecimal(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"", "-", "+", ".", "-.", "0", "-0", "+1", "1.", ".5", "007", "1e5", "1e", "1e+", "1e400", "1e-400", "9007199254740993", "18446744073709551616",
		"123456789012345678901234567890", "0.1", "2.2250738585072011e-308", "1_000", "0x10", "nan", "inf", "1 2", "1,5", "1.2.3", "--1", "0." + strings.Repeat("0", 30) + "1",
		"9007199254740991.5", "5e-324", "0.3333333333333333333333"} {
		if !strings.Contains(text, ",") {
			checkDecimal(t, text)
		}
	}
	if _, ok := parseDecimal([]byte("1,5"), '.'); ok {
		t.Error("a comma is taken for a decimal point")
	}
}

func TestDecimalIsExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		checkDecimal(t, rapid.StringMatching(`[+-]?[0-9]{0,21}(\.[0-9]{0,25})?([eE][+-]?[0-9]{1,3})?`).Draw(t, "text"))
		v := rapid.Float64().Draw(t, "value")
		checkDecimal(t, strconv.FormatFloat(v, 'g', -1, 64))
		checkDecimal(t, strconv.FormatFloat(v, 'f', rapid.IntRange(0, 6).Draw(t, "places"), 64))
	})
}

func FuzzDecimal(f *testing.F) {
	for _, text := range []string{"-12.50", "1.5e-3", "9007199254740993", "0.1", "e5", "1e"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if !strings.Contains(text, ",") {
			checkDecimal(t, text)
		}
	})
}

// Each power of ten that a decimal is divided by, against strconv: so many places, with one digit
// at the end and with fifteen.
func TestPlacesOfDecimals(t *testing.T) {
	t.Parallel()
	for places := 1; places <= 22; places++ {
		for _, digits := range []string{"7", "123456789012345"} {
			text := "0." + strings.Repeat("0", max(0, places-len(digits))) + digits[:min(places, len(digits))]
			want, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			if got, ok := parseDecimal([]byte(text), '.'); !ok || got != want {
				t.Errorf("%s: %v, want %v", text, got, want)
			}
		}
	}
}
