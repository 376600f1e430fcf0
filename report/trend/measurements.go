package trend

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// sample holds values of a measurement, sorted, and one value for each flight,
// sorted: the median of its own. The test takes what it compares for independent,
// which the six touchdowns of one flight are not; what is shown are all values. Where
// every flight has one value both are the same list.
type sample struct{ values, flights []float64 }

// newSample sorts the values of a month and stratum.
func newSample(s tally.Sample) sample {
	sorted := slices.Sorted(slices.Values(s.Values))
	if s.Flights == nil {
		return sample{sorted, sorted}
	}
	var flights []float64
	for from := 0; from < len(s.Values); {
		to := from
		for to < len(s.Values) && s.Flights[to] == s.Flights[from] {
			to++
		}
		flights = append(flights, statistics.Quantile(slices.Sorted(slices.Values(s.Values[from:to])), 0.5))
		from = to
	}
	slices.Sort(flights)
	return sample{sorted, flights}
}

// merge merges samples of different flights.
func merge(samples ...sample) sample {
	values, flights := make([][]float64, len(samples)), make([][]float64, len(samples))
	several := false
	for i, s := range samples {
		values[i], flights[i] = s.values, s.flights
		several = several || len(s.values) > len(s.flights)
	}
	merged := statistics.Merge(values...)
	if !several {
		return sample{merged, merged}
	}
	return sample{merged, statistics.Merge(flights...)}
}

// spread sums up values of a measurement.
type spread struct {
	N, Flights                    int
	P5, Lower, Median, Upper, P95 float64 // quantiles 0.05, 0.25, 0.5, 0.75, 0.95
}

func newSpread(s sample) spread {
	q := func(p float64) float64 { return statistics.Quantile(s.values, p) }
	return spread{len(s.values), len(s.flights), q(0.05), q(0.25), q(0.5), q(0.75), q(0.95)}
}

// Several says that flights have more than one value.
func (s spread) Several() bool { return s.N > s.Flights }

// shift is one measurement held against itself: two periods of all flights or of
// a group, or a group against the rest in the recent period. Second is then what
// all of its kind measured, the group among them.
type shift struct {
	Measurement   int
	Group         *group // nil for all flights
	Periods       bool   // the recent period against the one before
	First, Second spread
	Beyond        float64 // share of the first's values above the 95th percentile of the second
	Earlier       spread  // of a group against the rest: the group before
	Result        statistics.Shift
	Outside       bool // beyond the outer fences of the medians of its kind
	Corrected     float64
}

// An effect is worth a line from here on: the chance that a value of one sample
// is above one of the other, 0.5 when nothing differs. 0.56, 0.64 and 0.71 are
// small, medium and large (A. Vargha and H. Delaney, Journal of Educational and
// Behavioral Statistics 25, 2000, from memory). Among hundreds of thousands of
// flights less than that is significant and says nothing.
const (
	smallEffect  = 0.56 // for all flights
	mediumEffect = 0.64 // for one aircraft, which differ among themselves
)

// effect is the chance, whichever side is above.
func (s *shift) effect() float64 { return max(s.Result.Above, 1-s.Result.Above) }

// fewestForFences is the number of aircraft from which the spread of their
// medians says which are far out.
const fewestForFences = 8

// compareMeasurements makes all comparisons of measurements, several at a time.
func (t *Trend) compareMeasurements() {
	groups := t.groups()
	found := make([][]shift, len(t.Measured))
	t.spreads = make([][]spread, len(t.Measured))
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for n := range next {
				sorted := t.sortedValues(n)
				t.spreads[n] = monthlySpread(sorted)
				found[n] = t.shiftsOf(n, groups, sorted)
			}
		})
	}
	for n := range t.Measured {
		next <- n
	}
	close(next)
	wait.Wait()
	t.shifts = slices.Concat(found...)
}

// sortedValues returns a measurement by month and stratum, sorted: small samples,
// which are then merged every way they are needed.
func (t *Trend) sortedValues(n int) [][]sample {
	out := make([][]sample, len(t.Tally.Months))
	for m := range out {
		for _, values := range t.Tally.Months[m].Values[n] {
			out[m] = append(out[m], newSample(values))
		}
	}
	return out
}

// monthlySpread sums up a measurement of all flights, by month.
func monthlySpread(sorted [][]sample) []spread {
	out := make([]spread, len(sorted))
	for m := range out {
		out[m] = newSpread(merge(sorted[m]...))
	}
	return out
}

// within merges the months of a period, by stratum.
func (p Period) within(sorted [][]sample, strata int) []sample {
	out := make([]sample, strata)
	for s := range out {
		var parts []sample
		for m := p.First; m <= p.Last; m++ {
			parts = append(parts, sorted[m][s])
		}
		out[s] = merge(parts...)
	}
	return out
}

// pool merges strata.
func pool(byStratum []sample, strata []int) sample {
	parts := make([]sample, len(strata))
	for i, s := range strata {
		parts[i] = byStratum[s]
	}
	return merge(parts...)
}

// kind is a group and its rest together.
type kind struct {
	all    sample
	ranked *statistics.Ranked // by flight
}

// shiftsOf makes the comparisons of one measurement.
func (t *Trend) shiftsOf(n int, groups []group, sorted [][]sample) []shift {
	recent, before := t.Recent.within(sorted, len(t.Strata)), t.Before.within(sorted, len(t.Strata))
	out := []shift{between(n, nil, merge(recent...), merge(before...))}
	kinds := map[string]*kind{}
	for i := range groups {
		g := &groups[i]
		part, earlier := pool(recent, g.strata), pool(before, g.strata)
		k := kinds[g.kind()]
		if k == nil {
			all := merge(part, pool(recent, g.rest))
			k = &kind{all, statistics.NewRanked(all.flights)}
			kinds[g.kind()] = k
		}
		s := shift{Measurement: n, Group: g, Result: k.ranked.Against(part.flights), Corrected: 1}
		s.sum(part, k.all)
		s.Earlier = newSpread(earlier)
		out = append(out, s)
		if g.Column == tally.RegistrationColumn {
			out = append(out, between(n, g, part, earlier))
		}
	}
	markOutside(out)
	return out
}

// between compares two periods; both are sorted.
func between(n int, g *group, recent, before sample) shift {
	s := shift{Measurement: n, Group: g, Periods: true, Corrected: 1}
	s.sum(recent, before)
	s.Result = statistics.NewRanked(statistics.Merge(recent.flights, before.flights)).Against(recent.flights)
	return s
}

// sum sums up both.
func (s *shift) sum(first, second sample) {
	s.First, s.Second = newSpread(first), newSpread(second)
	if s.Beyond = statistics.ShareBeyond(first.values, s.Second.P95); math.IsNaN(s.Beyond) {
		s.Beyond = 0
	}
}

// tested says whether the comparison is one of the family.
func (s *shift) tested() bool { return s.First.Flights >= 10 && s.Second.Flights >= 10 }

// markOutside marks the aircraft whose median is far out among those of its
// kind. With few aircraft it leaves that to the test.
func markOutside(shifts []shift) {
	medians := map[string][]float64{}
	for i := range shifts {
		if s := &shifts[i]; s.Group != nil && !s.Periods && s.First.N > 0 {
			medians[s.Group.kind()] = append(medians[s.Group.kind()], s.First.Median)
		}
	}
	for i := range shifts {
		s := &shifts[i]
		if s.Group == nil || s.Periods {
			continue
		}
		among := medians[s.Group.kind()]
		fences := statistics.OuterFences(among)
		s.Outside = len(among) < fewestForFences || s.First.Median < fences.Low || s.First.Median > fences.High
	}
}

// noteworthy says whether the difference is large enough to matter, and what was
// tested by flight goes the way in which all values lie.
func (s *shift) noteworthy() bool {
	if (s.Result.Above-0.5)*(s.First.Median-s.Second.Median) < 0 {
		return false
	}
	if s.Group == nil {
		return s.effect() >= smallEffect
	}
	return s.effect() >= mediumEffect && (s.Periods || s.Outside)
}
