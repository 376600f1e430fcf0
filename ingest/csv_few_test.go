package ingest

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// A line with a quote is cut by others than a line without, and never in a run. A long export whose
// names are all in quotes must read like the same one without: times, samples, notes and failure.
func TestLinesOfFewCells(t *testing.T) {
	t.Parallel()
	profile := profileOf(t, "column: time, date: D, clock: U", testColumns+valueColumns)
	names := []string{"CAS", "LEVER", "WOW", "FLAP", "COUNTS", "POS", "WORD", "HEX", "D", "U", "elsewhere", "a name of more than sixteen bytes", "CAS ", ""}
	times := []string{"0", "0.125", "1", "-3", "7199.875", "7200.0000", "12345678901", "100000.25", "", "x", " 2", "1e3", "nan"}
	fitting := map[string][]string{"CAS": {"100", "-12.5", "100.25", "12345.678", "----", "1e2"}, "LEVER": {"UP", "DN", ""}, "WOW": {"0", "1"}, "FLAP": {"0", "1"}, "COUNTS": {"2438", "3000.5"}, "POS": {"0", "1", ".5"},
		"WORD": {"5", "0x1A"}, "HEX": {"1A", "00FF"}, "D": {"2031-03-31"}, "U": {"00:00:01", "00:00:02"}}
	for _, name := range names {
		if fitting[name] == nil {
			fitting[name] = []string{"0", "x", ""}
		}
	}
	values := []string{"0", "1", "UP", "DN", "100", "-12.5", "100.25", "12345.678", "----", "", "1e2", "0x1A", "2031-03-31", "00:00:01", "+7", "bad"}
	rapid.Check(t, func(t *rapid.T) {
		header := "time,parameter,value" + rapid.SampledFrom([]string{"", "", "", ",D", ",D,U", ",unit"}).Draw(t, "further")
		profile := *profile
		if strings.HasSuffix(header, "unit") {
			profile.Long.Unit = "unit"
		}
		more := strings.Count(header, ",") - 2
		end := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		plain, quoted := header+end, header+end
		order := rapid.SampledFrom([]string{"none", "by time", "by time", "by name"}).Draw(t, "order")
		clock := rapid.SampledFrom([]float64{0, 0, 0, -30, 999_999_999_980}).Draw(t, "begin")
		name := "CAS"
		for range rapid.IntRange(0, 80).Draw(t, "rows") {
			at := ""
			switch order {
			case "none":
				at, name = rapid.SampledFrom(times[:5]).Draw(t, "time"), rapid.SampledFrom(names).Draw(t, "name")
			case "by time":
				clock += rapid.SampledFrom([]float64{0, 0, 0, 0, 0.125, 1, 30, 90_000, -8, -20, -400}[:rapid.SampledFrom([]int{7, 7, 11}).Draw(t, "steps")]).Draw(t, "step")
				name = rapid.SampledFrom(names).Draw(t, "name")
			default: // time begins again with each name, and sometimes within one
				clock += 5
				switch rapid.IntRange(0, 9).Draw(t, "next") {
				case 0:
					clock, name = 0, rapid.SampledFrom(names).Draw(t, "name")
				case 1:
					clock = 0
				}
			}
			if at == "" {
				at = strconv.FormatFloat(clock, 'f', -1, 64)
			}
			value := rapid.SampledFrom(fitting[name]).Draw(t, "value")
			if rapid.IntRange(0, 60).Draw(t, "odd") == 60 {
				at, value = rapid.SampledFrom(times).Draw(t, "odd time"), rapid.SampledFrom(values).Draw(t, "odd value")
			}
			rest := strings.Repeat(",", max(0, more+rapid.SampledFrom([]int{0, 0, 0, 0, 0, 0, 0, -1, 1, 9}).Draw(t, "cells more")))
			switch {
			case rest == "":
			case profile.Long.Unit != "":
				rest = "," + rapid.SampledFrom([]string{"kt", "kt", "", "m/s"}).Draw(t, "unit") + rest[1:]
			case more > 0:
				rest = "," + rapid.SampledFrom([]string{"", "2031-03-31", "2031-04-01"}).Draw(t, "date") + rest[1:]
			}
			if rapid.IntRange(0, 150).Draw(t, "cell beyond") == 150 {
				rest += ",x"
			}
			plain += at + "," + name + "," + value + rest + end
			quoted += at + `,"` + name + `",` + value + rest + end
		}
		cut := rapid.IntRange(0, 3).Draw(t, "cut off")
		plain, quoted = plain[:len(plain)-min(cut, 1)], quoted[:len(quoted)-min(cut, 1)]
		a, failA := ReadBytes("f.csv", []byte(plain), &profile)
		b, failB := ReadBytes("f.csv", []byte(quoted), &profile)
		if (failA == nil) != (failB == nil) {
			t.Fatalf("%v, in quotes %v\n%s", failA, failB, plain)
		}
		if failA != nil {
			if x, y := causeOf(failA), causeOf(failB); x != y {
				t.Fatalf("%s\nin quotes %s\n%s", x, y, plain)
			}
			return
		}
		b.SHA256, b.Bytes = a.SHA256, a.Bytes
		if d := sameRecording(a, b) + cmp.Diff(a.Notes, b.Notes); d != "" {
			t.Fatalf("(-plain +in quotes):\n%s\n%s", d, plain)
		}
	})
}

// A line without the delimiter after its time is no line of two cells that goes on.
func TestTimeWithoutAnEnd(t *testing.T) {
	t.Parallel()
	_, err := ReadBytes("f.csv", []byte("time,parameter,value\n0,CAS,100\n1,CAS,101\n2 CAS,102\n"), profileOf(t, "column: time", testColumns))
	if err == nil || !strings.HasPrefix(err.Error(), "f.csv:4:1: ") {
		t.Errorf("%v, want a problem of line 4", err)
	}
}

// causeOf is an error without the column and the source line, which differ by the quotes.
func causeOf(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	_, cause, _ := strings.Cut(line, ": ")
	return cause
}

// Names that have one place in the table take it from each other.
func TestNameTable(t *testing.T) {
	t.Parallel()
	var table nameTable
	heads := map[string]*channel{}
	for i := range 3 * len(table) {
		name := fmt.Sprint("ENGINE ", i)
		heads[name] = &channel{}
		table.add([]byte(name), heads[name])
		if met := table.met([]byte(name)); met == nil || met.head != heads[name] {
			t.Fatalf("%s was just added", name)
		}
	}
	known := 0
	for name, head := range heads {
		if met := table.met([]byte(name)); met != nil {
			if known++; met.head != head {
				t.Errorf("%s is taken for another name", name)
			}
		}
	}
	if known < len(table)/2 || known > len(table) {
		t.Errorf("%d names are known", known)
	}
}
