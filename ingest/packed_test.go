package ingest

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"downlock/schemas"
)

const packedProfile = `schema: downlock profile 1
aircraft: B
title: packed
legs: [nose, left, right]
engines: 2
time: {column: t}
columns:
  pressure_altitude: [{column: alt, unit: m}, {column: alt2, unit: ft}]
  computed_airspeed: {column: cas, unit: kt}
  normal_acceleration: {column: g, unit: g, scale: 0.01, offset: 0.1}
  gear_lever: {column: lever, states: {UP: UP, DN: DOWN}}
  gear_horn: {column: horn, true_when: 1}
`

// roughExport is a wide export with much that a reading has to mend: spikes,
// values out of range, tokens, blank cells, rows out of order and repeated.
func roughExport(t *rapid.T) string {
	rows := 3*blockSamples + 100 - rapid.IntRange(0, 3*blockSamples+99).Draw(t, "rows fewer")
	every := rapid.IntRange(1, 3).Draw(t, "rows per airspeed")
	odd := map[int]int{} // row to what is odd in it
	for range rapid.IntRange(0, 12).Draw(t, "oddities") {
		odd[rapid.IntRange(0, rows-1).Draw(t, "odd row")] = rapid.IntRange(1, 6).Draw(t, "oddity")
	}
	var b strings.Builder
	b.WriteString("t,alt,alt2,cas,g,lever,horn\n")
	for i := range rows {
		at, alt, cas, lever := float64(i)/8, fmt.Sprintf("%.2f", 3000+100*math.Sin(float64(i)/500)), "", "DN"
		if i%every == 0 {
			cas = fmt.Sprintf("%.1f", 150+10*math.Sin(float64(i)/90))
		}
		switch odd[i] {
		case 1:
			cas = "399.9" // a spike
		case 2:
			alt = "99999" // out of range
		case 3:
			alt = "----"
		case 4:
			at -= 20 // out of order, and a time there has been
		case 5:
			lever = "UP"
		case 6:
			alt, cas = "-0.00", "" // a sign that must not be lost
		}
		fmt.Fprintf(&b, "%.3f,%s,%.0f,%s,%d,%s,%d\n", at, alt, 9842+300*math.Sin(float64(i)/500), cas, i%7, lever, i/200%2)
	}
	return b.String()
}

// sameSeries compares a packed series, unpacked in one way, with a plain one, to
// the bit.
func sameSeries(t interface{ Fatalf(string, ...any) }, want, got *Series) {
	same := cmpopts.IgnoreFields(Series{}, "Times", "Values")
	if diff := cmp.Diff(want, got, same, cmpopts.IgnoreUnexported(Series{})); diff != "" {
		t.Fatalf("%s: %s", want.Column, diff)
	}
	bits := func(values []float64) (out []uint64) {
		for _, v := range values {
			out = append(out, math.Float64bits(v))
		}
		return out
	}
	if want.Len() != got.Len() || !slices.Equal(bits(want.TimeValues()), bits(got.TimeValues())) || !slices.Equal(bits(want.Numbers()), bits(got.Numbers())) || !slices.Equal(want.Codes(), got.Codes()) {
		t.Fatalf("%s: samples differ", want.Column)
	}
}

func TestPackedIsTheSame(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes most of a minute with the race detector")
	}
	profile, err := schemas.ParseProfile("packed.yaml", []byte(packedProfile))
	if err != nil {
		t.Fatal(err)
	}
	read := func(t *rapid.T, text string, l Limits) *Recording {
		r, err := l.read("x.csv", strings.NewReader(text), int64(len(text)), profile, noHash{})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	packed, mended := 0, Dropped{}
	rapid.Check(t, func(t *rapid.T) {
		text := roughExport(t)
		want, got := read(t, text, Limits{}), read(t, text, Limits{PackAbove: rapid.SampledFrom([]int{1, 20_000}).Draw(t, "pack above")})
		if got.Packed() {
			packed++
		}
		if want.Packed() {
			t.Fatal("packed unasked")
		}
		if diff := cmp.Diff(want, got, cmpopts.IgnoreFields(Recording{}, "Series", "Alternatives")); diff != "" {
			t.Fatal(diff)
		}
		a, b := slices.Concat(want.Series, want.Alternatives), slices.Concat(got.Series, got.Alternatives)
		if len(a) != len(b) || len(a) != 6 {
			t.Fatalf("%d and %d series", len(a), len(b))
		}
		from := rapid.Float64Range(-10, 1600).Draw(t, "from")
		to := from + rapid.Float64Range(0, 800).Draw(t, "length")
		piece, err := got.Between(from, to)
		if err != nil || piece.Packed() {
			t.Fatal(err)
		}
		parts := slices.Concat(piece.Series, piece.Alternatives)
		for i := range a {
			sameSeries(t, a[i], b[i])
			if b[i].Packed() {
				mended.Range, mended.Spike, mended.Token = mended.Range+b[i].Dropped.Range, mended.Spike+b[i].Dropped.Spike, mended.Token+b[i].Dropped.Token
			}
			sameSeries(t, a[i].Shifted(-7), b[i].Shifted(-7))
			sameSeries(t, a[i].Shifted(0.1).Shifted(0.2), b[i].Shifted(0.1).Shifted(0.2))
			holdsAround(t, a[i], parts[i], from, to)
		}
	})
	if packed < 20 || mended.Range < 5 || mended.Spike < 5 || mended.Token < 5 {
		t.Errorf("only %d recordings were packed, with %+v", packed, mended)
	}
}

// holdsAround wants a part of a series to be a part of the whole that lacks
// nothing of a stretch of time, of the margins, and of the samples around both.
func holdsAround(t *rapid.T, whole, part *Series, from, to float64) {
	times := whole.TimeValues()
	first, _ := slices.BinarySearch(times, from-margin)
	last, _ := slices.BinarySearch(times, to+margin)
	first, last = max(first-1, 0), min(last+1, len(times))
	got := part.TimeValues()
	at := slices.Index(times, append(slices.Clone(got), math.Inf(1))[0])
	if first >= last {
		return
	}
	if at < 0 || at > first || at+len(got) < last {
		t.Fatalf("%s: %d samples from sample %d on, want %d to %d", whole.Column, len(got), at, first, last)
	}
	cut := *whole
	c := &channel{numeric: whole.Parameter.Numeric(), times: times[at : at+len(got)]}
	if c.numeric {
		c.numbers = whole.Numbers()[at : at+len(got)]
	} else {
		c.codes = whole.Codes()[at : at+len(got)]
	}
	cut.setSamples(c)
	sameSeries(t, &cut, part)
}

// Parameters that are sampled together share the times of a part, unless they are
// shifted apart.
func TestPartsShareTimes(t *testing.T) {
	t.Parallel()
	profile, err := schemas.ParseProfile("packed.yaml", []byte(packedProfile))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString("t,alt,alt2,cas,lever,horn\n")
	for i := range 2 * blockSamples {
		fmt.Fprintf(&b, "%d,3000,9842,150,DN,0\n", i)
	}
	r, err := Limits{PackAbove: 1}.read("x.csv", strings.NewReader(b.String()), int64(b.Len()), profile, noHash{})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.Index(r.Series, r.Lookup("computed_airspeed"))
	r.Series[i] = r.Series[i].Shifted(-0.5)
	part, err := r.Between(300, 400)
	if err != nil {
		t.Fatal(err)
	}
	first := func(name string) *float64 { return &part.Lookup(name).TimeValues()[0] }
	if first("pressure_altitude") != first("gear_lever") || first("pressure_altitude") != &part.Alternatives[0].TimeValues()[0] {
		t.Error("times that are the same are unpacked twice")
	}
	if *first("pressure_altitude") != 0 || *first("computed_airspeed") != -0.5 {
		t.Errorf("times begin at %g and %g, want 0 and -0.5", *first("pressure_altitude"), *first("computed_airspeed"))
	}
}

// A sample in use takes 44 bytes. Beside the packed samples there is room for the limit and
// 960 MiB: (64 + 960) MiB / 44 = 24,403,223, with 500 MiB packed 524 MiB / 44 = 12,487,586,
// and within 2 GiB more than 70 million.
func TestTooManySamples(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		limit             int64
		packing           bool
		total, most, size int
		want              string
	}{
		{0, false, 70_000_000, 10, 0, ""},
		{0, false, 70_000_001, 10, 0, "70000000 samples of the mapped parameters"},
		{0, true, 210_000_000, 70_000_000, 10, ""},
		{0, true, 210_000_000, 70_000_001, 10, "70000000 samples of one parameter"},
		{0, true, 210_000_000, 10, maxPackedBytes, ""},
		{0, true, 210_000_000, 10, maxPackedBytes + 1, "more than 1024 MiB, packed"},
		{64 << 20, true, 70_000_000, 24_403_223, 0, ""},
		{64 << 20, true, 70_000_000, 24_403_224, 0, "24403223 samples of one parameter"},
		{64 << 20, true, 70_000_000, 12_487_586, 500 << 20, ""},
		{64 << 20, true, 70_000_000, 12_487_587, 500 << 20, "12487586 samples of one parameter"},
	} {
		if got := (&reading{limit: c.limit, packing: c.packing}).excess(c.total, c.most, c.size); !strings.Contains(got, c.want) || (got == "") != (c.want == "") {
			t.Errorf("%+v: %q", c, got)
		}
	}
	of := func(samples int) *Recording { // of two parameters, which nothing unpacks
		p, _ := schemas.LookupParameter("gear_horn")
		s := &Series{Parameter: p, packed: &packed{times: &packedTimes{starts: []float64{0}, before: []int{0}, count: samples}}}
		return &Recording{Name: "x.csv", Series: []*Series{s}, Alternatives: []*Series{s}}
	}
	var problem *schemas.Problem
	small := of(12_201_612) // twice that is one more than fits, beside 16 bytes that are packed
	(&reading{limit: 64 << 20}).boundUse(small)
	if _, err := small.Between(100, 200); !errors.As(err, &problem) || !strings.Contains(problem.Cause, "more than 24403222 samples") {
		t.Errorf("within 64 MiB: %v", err)
	}
	if _, err := of(maxSamples/2+1).Between(100, 200); !errors.As(err, &problem) || problem.File != "x.csv" || problem.Hint != excessHint ||
		!strings.Contains(problem.Cause, "between 100 and 200 s, in one flight") {
		t.Errorf("got %v", err)
	}
}
