package scan

import (
	"fmt"
	"runtime/debug"
	"strings"
	"testing"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/schemas"
)

// TestMemoryLimit: the limit is that of the recordings at hand together, never
// above the one there was, and that one again after the last.
func TestMemoryLimit(t *testing.T) {
	const before = besidePacked*3/2 + 1<<20
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(before))
	var text strings.Builder
	text.WriteString("time,airspeed\n")
	for i := range 10_000 {
		fmt.Fprintf(&text, "%d,%d\n", i, i%300)
	}
	file := t.TempDir() + "/x.csv"
	if err := command.WriteWhole(file, []byte(text.String()), false); err != nil {
		t.Fatal(err)
	}
	profile, err := schemas.ShippedProfile()
	if err != nil {
		t.Fatal(err)
	}
	read := func(packAbove int) *ingest.Recording {
		r, err := ingest.Limits{PackAbove: packAbove}.Read(file, profile)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	plain, packed := read(0), read(1)
	one := packed.PackedBytes() + besidePacked
	if packed.PackedBytes() < 2000 || packed.PackedBytes() > 80_000 || plain.PackedBytes() != 0 {
		t.Errorf("10,000 samples take %d bytes packed, and %d", packed.PackedBytes(), plain.PackedBytes())
	}
	var m memoryLimit
	now := func(what string, want int64) {
		t.Helper()
		if got := debug.SetMemoryLimit(-1); got != want {
			t.Errorf("%s: %d, want %d", what, got, want)
		}
	}
	m.keep(plain)()
	now("a recording that is not packed", before)
	first := m.keep(packed)
	now("one", one)
	second := m.keep(packed)
	now("two, which would be more than the limit there was", before)
	first()
	now("one again", one)
	second()
	now("none", before)
	reading := m.read(1 << 20)
	now("an input that may take more than the limit there was", before)
	reading()
	debug.SetMemoryLimit(2 * besideLimit)
	reading = m.read(1 << 20)
	now("an input", 1<<20+besideLimit)
	kept := m.keep(packed)
	now("an input and a recording", 1<<20+besideLimit+one)
	reading()
	now("the recording alone", one)
	kept()
	now("none any more", 2*besideLimit)
}
