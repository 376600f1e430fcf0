package detect

import (
	"math"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"pgregory.net/rapid"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/ingest"
	"downlock/schemas"
)

// anySource is a source with steps, jumps, gaps and an end of its own.
func anySource(t *rapid.T, p schemas.Parameter) *ingest.Series {
	s := &ingest.Series{Parameter: p, Interval: rapid.SampledFrom([]float64{0.5, 1, 4}).Draw(t, "interval")}
	s.Gap = 3 * s.Interval
	s.Accuracy = rapid.SampledFrom([]float64{0, 0.5}).Draw(t, "accuracy")
	times, values := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator)
	at := rapid.Float64Range(-10, 20).Draw(t, "start")
	level := 100.0
	for range rapid.IntRange(1, 40).Draw(t, "samples") {
		times.Append(at)
		level += rapid.SampledFrom([]float64{0, 0, 0, 0, 0, 0, 1, -1, 3, -30, 30}).Draw(t, "change")
		values.Append(level)
		at += s.Interval * rapid.SampledFrom([]float64{1, 1, 1, 1, 1, 2, 10}).Draw(t, "step")
	}
	s.Times, s.Values = times.NewFloat64Array(), values.NewFloat64Array()
	return s
}

// stated is what two sources may differ by with the accuracies of steps, which
// their bounds do not hold.
func stated(used, other *ingest.Series, allowed float64) float64 {
	if used.Parameter.Kind == schemas.Step {
		return allowed + used.Accuracy + other.Accuracy
	}
	return allowed
}

// sourceOf is a source alone, as the rules read it.
func sourceOf(s *ingest.Series) readings.Sampled {
	set := samples.New(&ingest.Recording{Series: []*ingest.Series{s}})
	set.EstimateAccuracies()
	return set.Sampled(s.Parameter.Name)
}

// exact is a line without what is estimated; steps stay as they are.
func exact(s readings.Sampled) readings.Sampled {
	if l, ok := s.(*readings.Line); ok {
		return &readings.Line{Sampling: l.Sampling, Values: l.Values, Accuracy: l.Accuracy}
	}
	return s
}

// NeverApart must not deny a difference that the curves find.
func TestNeverApart(t *testing.T) {
	t.Parallel()
	agreed, differed := 0, 0
	check := func(t *rapid.T) {
		p, _ := schemas.LookupParameter(rapid.SampledFrom([]string{"pitch_attitude", "flap_handle", "gross_weight"}).Draw(t, "parameter"))
		used, other := anySource(t, p), anySource(t, p)
		start := rapid.Float64Range(-20, 60).Draw(t, "from")
		within := stretch(start, start+rapid.Float64Range(1, 100).Draw(t, "length"))
		allowed := rapid.SampledFrom([]float64{0.2, 2.5, 29}).Draw(t, "allowed")
		a, b := sourceOf(used), sourceOf(other)
		if rapid.Bool().Draw(t, "taken for exact") {
			a, b = exact(a), exact(b)
		}
		found, _, _ := differences(a, b, p, within, stated(used, other, allowed))
		agree := readings.NeverApart(a, b, within, stated(used, other, allowed))
		if agree && len(found) > 0 {
			t.Fatalf("they differ in %v", found)
		}
		if agree {
			agreed++
		}
		if len(found) > 0 {
			differed++
		}
	}
	// Few of them differ for long enough to be found: go on until enough did.
	for rounds := 0; rounds < 5 || agreed < 10 || differed < 3; rounds++ {
		if rounds == 200 {
			t.Fatalf("%d agree and %d differ: too few to tell", agreed, differed)
		}
		rapid.Check(t, check)
	}
}

// By hand: the straight line of one source passes the other's level between two
// samples of its own, at a sample of the other.
func TestSurelyAgreeBetweenSamples(t *testing.T) {
	t.Parallel()
	p, _ := schemas.LookupParameter("pitch_attitude")
	source := func(interval float64, values ...float64) *ingest.Series {
		times, numbers := array.NewFloat64Builder(memory.DefaultAllocator), array.NewFloat64Builder(memory.DefaultAllocator)
		for i, v := range values {
			times.Append(float64(i) * interval)
			numbers.Append(v)
		}
		return &ingest.Series{Parameter: p, Times: times.NewFloat64Array(), Values: numbers.NewFloat64Array(), Interval: interval, Gap: 3 * interval}
	}
	slow, quick := source(10, 0, 10, 0), source(5, 0, 5, 10, 8, 0) // 3 apart at 15 s
	for allowed, want := range map[float64]bool{3.1: true, 2.9: false} {
		if got := readings.NeverApart(sourceOf(slow), sourceOf(quick), stretch(0, 20), allowed); got != want {
			t.Errorf("to within %g they agree: %v", allowed, got)
		}
		if got := readings.NeverApart(sourceOf(quick), sourceOf(slow), stretch(0, 20), allowed); got != want {
			t.Errorf("to within %g they agree, the other way round: %v", allowed, got)
		}
	}
	if !readings.NeverApart(sourceOf(slow), sourceOf(quick), stretch(0, 9), math.Nextafter(3, 0)) {
		t.Error("they agree until 9 s")
	}
}
