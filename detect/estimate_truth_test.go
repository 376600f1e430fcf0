package detect_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"downlock/ingest/accuracy"
	"downlock/ingest/simulator"
	"downlock/schemas"
)

// The simulator's functions of continuous time are the truth the line through the
// samples is held against: off by more than the estimate it is so rarely as this. It
// jerks levers and changes speeds without any inertia, as no aircraft does; its normal
// acceleration is noise of a step or two, far faster than the samples.
const (
	mostOutside      = 0.004
	mostOutsideNoise = 0.04
)

func TestEstimatesHoldTheTruth(t *testing.T) {
	t.Parallel()
	files, err := simulator.Demo()
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(11, 4))
	outside, asked := map[string]int{}, map[string]int{}
	for _, file := range files[:12] {
		f := file.Flight
		for _, c := range f.Channels() {
			p, known := schemas.LookupParameter(c.Parameter)
			if !known || p.Kind != schemas.Continuous {
				continue
			}
			hold(f, c, random, func(inside bool) {
				asked[c.Parameter]++
				if !inside {
					outside[c.Parameter]++
				}
			})
		}
	}
	for name, n := range asked {
		allowed := mostOutside
		if name == "normal_acceleration" {
			allowed = mostOutsideNoise
		}
		if share := float64(outside[name]) / float64(n); share > allowed {
			t.Errorf("%s: the truth is further from the line than estimated in %.2f %% of %d moments", name, 100*share, n)
		}
	}
}

// hold asks at moments between the samples whether the truth is where the estimate
// says.
func hold(f *simulator.Flight, c simulator.Channel, random *rand.Rand, asked func(inside bool)) {
	interval := 1 / c.Sampling.PerSecond
	var times, values []float64
	for at := f.Scenario.Start + random.Float64()*interval; at < f.Scenario.End; at += interval {
		times, values = append(times, at), append(values, c.Value(at))
	}
	e, margins := accuracy.Of(times, values, 3*interval), accuracy.Margins(times, values, 3*interval)
	for range 4000 {
		i := 1 + random.IntN(len(times)-1)
		part := random.Float64()
		between := func(v []float64) float64 { return v[i-1] + part*(v[i]-v[i-1]) }
		off := math.Abs(c.Value(times[i-1]+part*interval) - between(values))
		asked(off <= between(margins)+e.Resolution/2) // what the truth is rounded by here
	}
}
