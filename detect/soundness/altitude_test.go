package soundness

import (
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// series is a parameter sampled each second from 0.
func series(name string, value func(second float64) float64, seconds int) *ingest.Series {
	p, _ := schemas.LookupParameter(name)
	at, n := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator)
	for i := range seconds {
		at.Append(float64(i))
		n.Append(value(float64(i)))
	}
	return &ingest.Series{Parameter: p, Interval: 1, Longest: 1, Gap: 3, Times: at.NewFloat64Array(), Values: n.NewFloat64Array()}
}

// The radio altitude climbs by 40 ft a second to its end and stays there, while the
// pressure altitude goes on: sixty seconds and 2000 ft of it show that the end of the
// range is below the ceiling of the profile, by default 2400 ft.
func TestRadioCeilingCheck(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		top, ceiling float64
		stays, climb float64 // s at the top, ft/s of the pressure altitude
		want         Outcome
	}{
		{"below the usual ceiling", 2000, 0, 100, 40, Failed},
		{"above the usual ceiling", 2500, 0, 100, 40, Passed},
		{"at the ceiling of the profile", 2000, 2000, 100, 40, Passed},
		{"just below it", 2000, 2001, 100, 40, Failed},
		{"no climb meanwhile", 2000, 0, 100, 10, NotPossible},
		{"not for long", 2000, 0, 55, 40, NotPossible},
		{"just long enough, 60 s", 2000, 0, 60, 40, Failed},
		{"just enough of a climb, 2000 ft", 2000, 0, 101, 20, Failed},
		{"a little less of a climb", 2000, 0, 99, 20, NotPossible},
	} {
		profile := &schemas.Profile{Values: map[string]float64{}}
		if c.ceiling > 0 {
			profile.Values["radio_altitude_ceiling"] = c.ceiling
		}
		up := c.top / 40
		n := int(up+c.stays) + 1
		radio := series("radio_altitude", func(s float64) float64 { return min(40*s, c.top) }, n)
		pressure := series("pressure_altitude", func(s float64) float64 { return c.climb * s }, n)
		s := samples.New(&ingest.Recording{Series: []*ingest.Series{radio, pressure}, End: float64(n - 1)})
		got := radioCeiling(s, profile)
		if got.Outcome != c.want || (got.Hint != "") != (c.want == Failed) {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	alone := samples.New(&ingest.Recording{Series: []*ingest.Series{series("radio_altitude", func(float64) float64 { return 0 }, 9)}})
	if got := radioCeiling(alone, &schemas.Profile{}); got.Outcome != NotPossible || len(got.Parameters) != 0 {
		t.Errorf("no pressure altitude: %+v", got)
	}
}

// Flaps at rest for ten seconds within half a degree, beyond the first detent.
func TestFlapRests(t *testing.T) {
	t.Parallel()
	of := func(values func(float64) float64) int {
		s := samples.New(&ingest.Recording{Series: []*ingest.Series{series("flap_angle", values, 40)}, End: 39})
		return len(flapRests(s, "flap_angle", 0, 1))
	}
	during := func(from, to, value float64) func(float64) float64 {
		return func(s float64) float64 {
			if s >= from && s <= to {
				return value
			}
			return 10 * s // moves on
		}
	}
	for name, c := range map[string]struct {
		values func(float64) float64
		want   int
	}{
		"ten seconds":     {during(10, 20, 5), 1},
		"nine seconds":    {during(10, 19, 5), 0},
		"by no more":      {during(10, 20, 1), 0},
		"by a little":     {during(10, 20, 1.1), 1},
		"wavers a little": {func(s float64) float64 { return 5 + 0.5*float64(int(s)%2) }, 1},
		"wavers more":     {func(s float64) float64 { return 5 + 0.6*float64(int(s)%2) }, 0},
	} {
		if got := of(c.values); got != c.want {
			t.Errorf("%s: %d rests, want %d", name, got, c.want)
		}
	}
}
