package report

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"encoding/binary"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"downlock/detect"
	"downlock/ingest"
	"downlock/schemas"
)

// noisyResult is a flight of two hours with 60 parameters, of which 25 are numbers: at 1,
// 2 and 4 Hz, one at 8 Hz, each a slow movement with noise of one step either way, in the
// steps recorders have (a 4096th of a range). Discretes are sampled every second and change
// now and then. A real recorder has less noise in most: a flap angle stands still.
func noisyResult(t testing.TB) *detect.Result {
	r := fixtureResult(t)
	const end = 7200.0
	rec, random := r.Flight.Recording, rand.New(rand.NewPCG(1, 2))
	rec.Series, rec.End = nil, end
	numbers, discretes := 0, 0
	for _, p := range schemas.Parameters() {
		if p.Numeric() && numbers < 25 {
			interval := []float64{0.25, 0.5, 1, 1}[numbers%4]
			if p.Name == "normal_acceleration" {
				interval = 0.125
			}
			step := (p.Range[1] - p.Range[0]) / 4096
			power := math.Pow10(int(math.Ceil(-math.Log10(step))))
			step = max(math.Round(step*power), 1) / power // of one digit
			middle, phase := (p.Range[0]+p.Range[1])/2, float64(numbers)
			rec.Series = append(rec.Series, sampled(t, p.Name, float64(numbers)/64, interval, end, func(at float64) float64 {
				steps := math.Round(400*math.Sin(at/500+phase)) + float64(random.IntN(3)-1)
				return math.Round((middle+steps*step)*1e6) / 1e6
			}))
			numbers++
		}
		if !p.Numeric() && discretes < 35 {
			state := 0
			rec.Series = append(rec.Series, sampled(t, p.Name, float64(discretes)/64, 1, end, func(float64) float64 {
				if random.IntN(600) == 0 {
					state = 1 - state
				}
				return float64(state)
			}))
			discretes++
		}
	}
	if numbers != 25 || discretes != 35 {
		t.Fatalf("%d numbers and %d discretes", numbers, discretes)
	}
	r.Flight.Span = detect.Span{Start: 0, End: end}
	return r
}

// TestAllSamplesOfALongFlight: the samples of two hours of 60 parameters take at most 1 MB
// of the page.
func TestAllSamplesOfALongFlight(t *testing.T) {
	t.Parallel()
	r := noisyResult(t)
	parts, packed := packSamples(r, sampleWindows(r, AllSamples))
	samples := 0
	for _, p := range parts {
		samples += p.Count
	}
	t.Logf("%d samples of %d parameters in %d bytes", samples, len(parts), len(packed))
	if len(parts) != 60 || len(packed) > 1_000_000 {
		t.Errorf("%d parameters take %d bytes, want 60 in 1 MB", len(parts), len(packed))
	}
	if _, again := packSamples(r, sampleWindows(r, AllSamples)); again != packed {
		t.Error("the same samples give other bytes")
	}
}

// TestPackedSamples unpacks what packSamples writes, by its description, and finds every
// sample of the recording again.
func TestPackedSamples(t *testing.T) {
	t.Parallel()
	r := noisyResult(t)
	windows := []detect.Span{{Start: 100, End: 160.3}, {Start: 7000, End: 7200}}
	parts, packed := packSamples(r, windows)
	raw, err := base64.StdEncoding.DecodeString(packed)
	if err != nil {
		t.Fatal(err)
	}
	zip, err := gzip.NewReader(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	stream, err := io.ReadAll(zip)
	if err != nil {
		t.Fatal(err)
	}
	in := bytes.NewReader(stream)
	for i, part := range parts {
		s := r.Flight.Recording.Series[i]
		times, values := unpackSeries(t, in, part)
		var wantTimes, wantValues []float64
		all := s.TimeValues()
		for k, at := range all {
			near := func(w detect.Span) bool {
				inside := func(k int) bool { return k >= 0 && k < len(all) && all[k] >= w.Start && all[k] <= w.End }
				return inside(k) || inside(k-1) || inside(k+1)
			}
			if slices.ContainsFunc(windows, near) {
				wantTimes, wantValues = append(wantTimes, at), append(wantValues, valueOf(s, k))
			}
		}
		if !slices.Equal(times, wantTimes) || !slices.Equal(values, wantValues) {
			t.Errorf("%s: %d samples %v ... differ from %d %v ...", part.Name, len(times), values[:3], len(wantTimes), wantValues[:3])
		}
	}
	if in.Len() != 0 {
		t.Errorf("%d bytes are left", in.Len())
	}
}

func valueOf(s *ingest.Series, k int) float64 {
	if s.Parameter.Numeric() {
		return s.Numbers()[k]
	}
	return float64(s.Codes()[k])
}

func unpackSeries(t *testing.T, in *bytes.Reader, part sampledPart) (times, values []float64) {
	t.Helper()
	signed := func() int64 {
		v, err := binary.ReadVarint(in)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	unsigned := func() uint64 {
		v, err := binary.ReadUvarint(in)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	at := int64(0)
	for len(times) < part.Count {
		step := signed()
		for range unsigned() {
			at += step
			times = append(times, float64(at)/1e6)
		}
	}
	v := int64(0)
	for len(values) < part.Count {
		if part.Kind == string(schemas.Continuous) || part.Kind == string(schemas.Step) {
			v += signed()
			values = append(values, float64(v)/math.Pow10(part.Decimals))
			continue
		}
		code := unsigned()
		for range unsigned() {
			values = append(values, float64(code))
		}
	}
	return times, values
}

// TestSampleWindows by hand: the events of the fixture's traces are 39.5 to 88.25 s, 59 to
// 200 s and 129.5 to 170 s, and a minute more.
func TestSampleWindows(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	r.Flight.Span.End = 1000
	for i := range r.Events {
		r.Events[i].End.Latest = r.Events[i].End.Nominal
	}
	r.Events = []detect.Event{r.Events[0], r.Events[2]}
	r.Events[1].Start, r.Events[1].End = exactly(500), exactly(500)
	// 59.5 to 68.25 s less and more than 20 and 60 s; 500 s likewise.
	want := []detect.Span{{Start: 0, End: 148.25}, {Start: 420, End: 580}}
	if got := sampleWindows(r, EventSamples); !slices.Equal(got, want) {
		t.Errorf("the windows are %v, want %v", got, want)
	}
	if got := sampleWindows(r, AllSamples); !slices.Equal(got, []detect.Span{{Start: 0, End: 1000}}) {
		t.Errorf("all: %v", got)
	}
	if got := sampleWindows(r, NoSamples); got != nil {
		t.Errorf("none: %v", got)
	}
}

// TestTooManySamples: of a flight with more samples than a page may hold those around the
// events are kept; without events none.
func TestTooManySamples(t *testing.T) {
	t.Parallel()
	r := fixtureResult(t)
	full := r.Flight.Recording.Series
	one := sampled(t, "radio_altitude", 0, 0.5, 200, func(at float64) float64 { return at })
	r.Flight.Span.End, r.Flight.Recording.End = 100000, 100000
	for i := range r.Events {
		r.Events[i].End.Latest = r.Events[i].End.Nominal
	}
	if got := affordable(r, AllSamples); len(got) != 1 || got[0].End != 100000 {
		t.Errorf("few samples: %v", got)
	}
	for range mostSamples/one.Len() + 1 {
		r.Flight.Recording.Series = append(r.Flight.Recording.Series, one)
	}
	if got := affordable(r, AllSamples); !slices.Equal(got, sampleWindows(r, EventSamples)) {
		t.Errorf("too many: %v", got)
	}
	r.Flight.Span.End, r.Flight.Recording.End = 200, 200
	if got := affordable(r, AllSamples); got != nil {
		t.Errorf("too many around the events: %v", got)
	}
	r.Flight.Recording.Series = full
}

// BenchmarkPackSamples packs the samples of two hours of 60 parameters.
func BenchmarkPackSamples(b *testing.B) {
	r := noisyResult(b)
	size := 0
	for b.Loop() {
		_, packed := packSamples(r, sampleWindows(r, AllSamples))
		size = len(packed)
	}
	b.ReportMetric(float64(size), "page_bytes")
}
