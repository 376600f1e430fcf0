package detect_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"downlock/detect"
	"downlock/detect/readings"
	"downlock/ingest/simulator"
	"downlock/schemas"
	"downlock/testdata/effort"
)

// unneeded are columns no rule's condition looks at.
var unneeded = []string{"pitch", "roll", "latitude", "longitude", "gross weight", "normal acceleration"}

func neededColumns(f *simulator.Flight) map[string]bool {
	wanted := map[string]bool{}
	for _, c := range f.Channels() {
		wanted[c.Column] = !slices.ContainsFunc(unneeded, func(u string) bool { return strings.HasPrefix(c.Column, u) })
	}
	return wanted
}

// anyRate begins at any moment and samples at the usual, twice or four times the
// usual rate, a switch or lever also at half of it: the accuracies the profile
// states hold for a straight line over no more than the usual interval.
func anyRate(random *rand.Rand) func(simulator.Channel) simulator.Sampling {
	return func(c simulator.Channel) simulator.Sampling {
		times := []float64{1, 2, 4, 0.5}
		if p, _ := schemas.LookupParameter(c.Parameter); p.Kind == schemas.Continuous {
			times = times[:3]
		}
		rate := c.Sampling.PerSecond * times[random.IntN(len(times))]
		return simulator.Sampling{PerSecond: rate, Offset: random.Float64() / rate}
	}
}

// tally counts, for one rule, true events and those found.
type tally struct{ happened, found, certain, falsely int }

// A flight sampled at any offsets and rates: every certain event
// happened, and no true one lies outside earliest and latest.
func TestAnySampling(t *testing.T) {
	t.Parallel()
	samples := effort.Of(100, 400, 1000)
	random := rand.New(rand.NewPCG(20310302, 4))
	flights := append(demonstration(t), borderline(t, random)...)
	tallies := map[string]*tally{}
	for k := range samples {
		f := flights[k%len(flights)]
		r := sampled{flight: f.flight, wanted: f.columns, sampling: anyRate(random)}.recording()
		var found []detect.Event
		for _, result := range f.detector.Detect(r) {
			found = append(found, result.Events...)
		}
		compareSampled(t, k, f, found, tallies)
	}
	report(t, tallies)
}

// flown is a flight, its true events and the detector for it.
type flown struct {
	flight   *simulator.Flight
	happened []simulator.Event
	columns  map[string]bool
	detector *detect.Detector
}

func demonstration(t testing.TB) (out []flown) {
	for i, files := range []func() ([]simulator.DemoFile, error){simulator.Demo, simulator.DemoLarge} {
		demo, err := files()
		if err != nil {
			t.Fatal(err)
		}
		detector, _ := shippedDetectorOf(t, []string{"th120", "th440"}[i])
		for _, f := range demo {
			out = append(out, flown{f.Flight, f.Flight.Happened(), neededColumns(f.Flight), detector})
		}
	}
	return out
}

// borderline are flights that nearly meet or nearly miss a rule: one for every
// rule, its open figure anywhere between.
func borderline(t testing.TB, random *rand.Rand) (out []flown) {
	boundaries, err := simulator.Boundaries()
	if err != nil {
		t.Fatal(err)
	}
	small, _ := shippedDetectorOf(t, "th120")
	large, _ := shippedDetectorOf(t, "th440")
	for _, b := range boundaries {
		f, err := b.Between(random.Float64())
		if err != nil {
			t.Fatal(err)
		}
		detector := small
		if f.Profile.Aircraft == "TH-440" {
			detector = large
		}
		out = append(out, flown{f, f.Happened(), neededColumns(f), detector})
	}
	return out
}

// compareSampled holds the events found in one sampling against the true ones.
func compareSampled(t *testing.T, sample int, f flown, found []detect.Event, tallies map[string]*tally) {
	t.Helper()
	of := func(rule string) *tally {
		if tallies[rule] == nil {
			tallies[rule] = &tally{}
		}
		return tallies[rule]
	}
	name := f.flight.Scenario.Name
	explained := make([]bool, len(found))
	for _, w := range f.happened {
		n := of(w.Rule)
		n.happened++
		near, inside := false, false
		for i, e := range found {
			if e.Rule.ID != w.Rule || e.End.Latest < w.Start || e.Start.Earliest > w.End {
				continue
			}
			near, explained[i] = true, true
			if !inside && within(e.Start, w.Start) && within(e.End, w.End) {
				inside = true
				n.found++
				if e.Certainty == detect.Certain {
					n.certain++
				}
			}
		}
		if near && !inside {
			t.Errorf("%s, sample %d: %s truly from %.3f to %.3f; found %v", name, sample, w.Rule, w.Start, w.End, ofRules(found, []string{w.Rule}))
		}
	}
	for i, e := range found {
		if explained[i] || !slices.Contains(simulator.Rules(), e.Rule.ID) { // the truth does not speak of it
			continue
		}
		of(e.Rule.ID).falsely++
		if e.Certainty == detect.Certain {
			t.Errorf("%s, sample %d: %s at %v to %v is said to be certain and did not happen", name, sample, e.Rule.ID, e.Start, e.End)
		}
	}
}

// within reports whether a true time lies between earliest and latest; the truth
// is worked out to a hundredth of a millisecond.
func within(t detect.Time, true float64) bool {
	const exact = 2e-5
	return t.Earliest-exact <= true && true <= t.Latest+exact
}

func report(t testing.TB, tallies map[string]*tally) {
	var rules []string
	for rule := range tallies {
		rules = append(rules, rule)
	}
	slices.Sort(rules)
	for _, rule := range rules {
		n := tallies[rule]
		if n.happened > 0 {
			t.Logf("%-34s happened %4d, found %5.1f %%, certain %5.1f %%, possible and not true %d", rule, n.happened,
				100*float64(n.found)/float64(n.happened), 100*float64(n.certain)/float64(n.happened), n.falsely)
		} else {
			t.Logf("%-34s happened never, possible %d times", rule, n.falsely)
		}
	}
}

// TestPhasesAtAnySampling: an approach that is certain to go on truly does, at any
// offsets and rates, and none truly goes on where it is not possible. What ends
// with the phase has its bounds then.
func TestPhasesAtAnySampling(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(20310302, 5))
	flights := append(demonstration(t), borderline(t, random)...)
	const slack = 0.05 // s; the aerodrome's pressure altitude is taken from one sample
	certain := 0
	for k := range effort.Of(2, 2, 3) * len(flights) {
		f := flights[k%len(flights)]
		for _, r := range f.detector.Detect(sampled{flight: f.flight, wanted: f.columns, sampling: anyRate(random)}.recording()) {
			if r.Flight.EndsInAir {
				continue // what the recording cuts short has no truth
			}
			all := readings.Spans{r.Flight.Span}
			found := readings.And(r.Tracks.Condition("approach"), readings.Not(r.Tracks.Condition("going_around"), all))
			for _, a := range f.flight.Approaches() {
				start, end := max(a[0], r.Flight.Span.Start), min(a[1], r.Flight.Span.End)
				if start+2*slack < end && !found.Possible.Covers(detect.Span{Start: start + slack, End: end - slack}) {
					t.Errorf("%s, sample %d: an approach truly from %.3f to %.3f is possible on %v", f.flight.Scenario.Name, k, start, end, found.Possible)
				}
			}
			for _, s := range found.Certain {
				certain++
				if !slices.ContainsFunc(f.flight.Approaches(), func(a [2]float64) bool { return a[0]-slack <= s.Start && s.End <= a[1]+slack }) {
					t.Errorf("%s, sample %d: an approach is said to be certain on %v; truly they are on %v", f.flight.Scenario.Name, k, s, f.flight.Approaches())
				}
			}
		}
	}
	if certain < len(flights) {
		t.Errorf("%d approaches are certain: too few to tell", certain)
	}
}

// TestTimesKnownToWithinASecond: samples whose times are wrong by up to a second, each
// parameter's its own way, as of a clock without parts of a second. Events said to
// be certain still happened, and no bounds leave the truth out.
func TestTimesKnownToWithinASecond(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(20310302, 6))
	const within = 1.0 // s
	tallies := map[string]*tally{}
	for k, f := range append(demonstration(t), borderline(t, random)...) {
		s := sampled{flight: f.flight, wanted: f.columns, sampling: anyRate(random)}
		s.change = func(_ simulator.Channel, times, values []float64) ([]float64, []float64) {
			by := within * (2*random.Float64() - 1)
			for i := range times {
				times[i] += by
			}
			return times, values
		}
		r := s.recording()
		for _, series := range r.Series {
			series.TimeAccuracy = within
		}
		var found []detect.Event
		for _, result := range f.detector.Detect(r) {
			found = append(found, result.Events...)
		}
		compareSampled(t, k, f, found, tallies)
	}
}
