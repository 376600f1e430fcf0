package trend

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"downlock/report/trend/statistics"
	"downlock/report/trend/tally"
)

// spread sums up values of a measurement.
type spread struct {
	N                             int
	P5, Lower, Median, Upper, P95 float64 // quantiles 0.05, 0.25, 0.5, 0.75, 0.95
}

// newSpread sums up sorted values.
func newSpread(sorted []float64) spread {
	q := func(p float64) float64 { return statistics.Quantile(sorted, p) }
	return spread{len(sorted), q(0.05), q(0.25), q(0.5), q(0.75), q(0.95)}
}

// shift is one measurement held against itself: two periods of all flights or of
// a group, or a group against the rest in the recent period. Second is then what
// all of its kind measured, the group among them.
type shift struct {
	Measurement   int
	Group         *group // nil for all flights
	Periods       bool   // the recent period against the one before
	First, Second spread
	Beyond        float64 // share of the first above the 95th percentile of the second
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
// medians says what is far out.
const fewestForFences = 8

// compareMeasurements makes all comparisons of measurements, several at a time.
func (t *Trend) compareMeasurements() {
	groups := t.groups()
	found := make([][]shift, len(t.Measured))
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for n := range next {
				found[n] = t.shiftsOf(n, groups)
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

// shiftsOf makes the comparisons of one measurement.
func (t *Trend) shiftsOf(n int, groups []group) []shift {
	recent, before := t.valuesOf(n, t.Recent), t.valuesOf(n, t.Before)
	everyone := make([]int, len(t.Strata))
	for s := range everyone {
		everyone[s] = s
	}
	out := []shift{between(n, nil, pool(recent, everyone), pool(before, everyone))}
	ranked := map[string]*statistics.Ranked{} // by what a group and its rest are together
	for i := range groups {
		g := &groups[i]
		part := pool(recent, g.strata)
		key := g.kind()
		if ranked[key] == nil {
			ranked[key] = statistics.NewRanked(slices.Concat(part, pool(recent, g.rest)))
		}
		s := shift{Measurement: n, Group: g, Result: ranked[key].Against(part), Corrected: 1}
		s.sum(part, ranked[key].Sorted())
		earlier := pool(before, g.strata)
		slices.Sort(earlier)
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
func between(n int, g *group, recent, before []float64) shift {
	s := shift{Measurement: n, Group: g, Periods: true, Corrected: 1}
	slices.Sort(before)
	s.sum(recent, before)
	s.Result = statistics.NewRanked(slices.Concat(recent, before)).Against(recent)
	return s
}

// sum sorts the first and sums up both; second is sorted.
func (s *shift) sum(first, second []float64) {
	slices.Sort(first)
	s.First, s.Second = newSpread(first), newSpread(second)
	if s.Beyond = statistics.ShareBeyond(first, s.Second.P95); math.IsNaN(s.Beyond) {
		s.Beyond = 0
	}
}

// tested says whether the comparison is one of the family.
func (s *shift) tested() bool { return s.First.N >= 10 && s.Second.N >= 10 }

// valuesOf gathers a measurement in a period, by stratum.
func (t *Trend) valuesOf(n int, p Period) [][]float64 {
	out := make([][]float64, len(t.Strata))
	for m := p.First; m <= p.Last; m++ {
		for s, values := range t.Tally.Months[m].Values[n] {
			out[s] = append(out[s], values...)
		}
	}
	return out
}

func pool(byStratum [][]float64, strata []int) (out []float64) {
	for _, s := range strata {
		out = append(out, byStratum[s]...)
	}
	return out
}

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

// noteworthy says whether the difference is large enough to matter.
func (s *shift) noteworthy() bool {
	if s.Group == nil {
		return s.effect() >= smallEffect
	}
	return s.effect() >= mediumEffect && (s.Periods || s.Outside)
}

// monthlySpread sums up a measurement of all flights, by month.
func (t *Trend) monthlySpread(n int) []spread {
	out := make([]spread, len(t.Tally.Months))
	for m := range out {
		values := slices.Concat(t.Tally.Months[m].Values[n]...)
		slices.Sort(values)
		out[m] = newSpread(values)
	}
	return out
}
