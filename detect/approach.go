package detect

import (
	"math"
	"slices"

	"downlock/detect/readings"
)

// The figures approaches are found by: common practice, since a recording does
// not hold the initial approach fix the taxonomy starts an approach at.
const (
	approachHeight    = 3000.0 // ft; an approach begins when the height falls through it
	goAroundHeight    = 1500.0 // ft; an approach given up above it is a manoeuvre, not a go-around
	goAroundDeviation = 400.0  // ft; a descent and a climb smaller than it are part of the same approach
)

// ending is where an approach ends, and how.
type ending struct {
	at      Time
	outcome ApproachOutcome
}

// findApproaches finds go-arounds and the approaches that end in them, in a
// touch-and-go, a balked landing or the landing.
func (f *Flight) findApproaches(t *Tracks, air []stay) {
	acts := f.acts(t)
	falls := f.crossings(readings.Below, approachHeight)
	for i, a := range air {
		from := a.begins.Nominal
		shape := f.shape(a)
		add := func(e ending) bool {
			begins, ok := f.approachBegins(shape, falls, stretch(from, e.at.Nominal))
			if ok = ok && (e.outcome != EndsWithFlight || f.descends(begins.Nominal, e.at.Nominal)); ok {
				f.Approaches = append(f.Approaches, Approach{stretch(begins.Nominal, e.at.Nominal), begins, e.at, e.outcome})
			}
			return ok
		}
		for _, k := range turningPoints(shape.values, func(i int) bool { return f.below(goAroundHeight, shape.Times[i]) }) {
			g := f.goAround(acts, a, shape.Times[k], from)
			add(ending{g.Begins, EndsInGoAround})
			f.GoArounds = append(f.GoArounds, g)
			from = g.Lowest.Nominal
		}
		switch {
		case i < len(air)-1 || !f.EndsInAir:
			add(ending{a.ends, approachOutcomes[f.Touchdowns[i].Landed]})
		case f.below(approachHeight, a.ends.Nominal) || t.Condition("landing_flap").True.Contains(a.ends.Nominal-1):
			if add(ending{a.ends, EndsWithFlight}) {
				f.perhapsGoingAround = lastActs(acts, stretch(max(from, a.ends.Nominal-firstActs), a.ends.Nominal))
			}
		}
	}
	f.endGoArounds(t, air)
}

// lastActs is from the first act that may happen in a span to the end of the span;
// nothing where there is none.
func lastActs(acts []readings.Moment, in Span) readings.Spans {
	for _, m := range acts {
		if m.Latest >= in.Start && m.Earliest <= in.End {
			return readings.Spans{stretch(max(m.Earliest, in.Start), in.End)}
		}
	}
	return nil
}

var approachOutcomes = map[Landed]ApproachOutcome{FullStop: EndsInLanding, TouchAndGo: EndsInTouchAndGo, BalkedLanding: EndsInBalkedLanding, LandedOrNot: EndsInTouchdown}

// altitudes is the shape of a stay in the air: samples of an altitude that terrain
// does not bend.
type altitudes struct {
	readings.Sampling
	values []float64
}

// shape is the pressure altitude during a stay in the air, the height where there
// is none.
func (f *Flight) shape(a stay) altitudes {
	line := f.signals.Line("pressure_altitude")
	if line == nil {
		times, values := f.height.Samples(readings.Spans{a.span()})
		return altitudes{readings.Sampling{Times: times, Gap: math.Inf(1)}, values}
	}
	from, to := line.Within(a.span())
	at := line.Sampling
	at.Times = at.Times[from:to]
	return altitudes{at, line.Values[from:to]}
}

// below reports whether the height is known and below a level.
func (f *Flight) below(level, t float64) bool {
	h, ok := f.height.At(t)
	return ok && h < level
}

// A level segment: as long, and no further up or down.
const (
	levelFor    = 30.0  // s
	levelWithin = 100.0 // ft
	settles     = 20.0  // s before it is seen to be left, in which a slow descent may have begun
	levelAbove  = 600.0 // ft; what is level below it is level at a minimum, not before an approach
)

// approachBegins is where an approach that ends with the span begins: at the later
// of the last fall through approachHeight and the end of the last level segment;
// at the highest point where there is neither.
func (f *Flight) approachBegins(shape altitudes, falls []readings.Moment, within Span) (Time, bool) {
	begins, ok := lastOf(falls, within)
	for _, level := range shape.Rests(shape.values, within, levelFor, levelWithin) {
		end := leaves(shape, level)
		if f.below(levelAbove, end) || ok && end < begins.Nominal || within.End-end < 1 {
			continue
		}
		begins, ok = Time{end, max(level.Span.Start, end-settles), level.Span.End}, true
	}
	if !ok {
		begins = highestTime(f.height, within)
	}
	return begins, begins.Nominal < within.End
}

// leaves is when a level segment is left: at its last sample no further from its
// usual altitude than an autopilot holds.
func leaves(shape altitudes, level readings.Rest) float64 {
	const holds = 30.0 // ft
	from, to := shape.Within(level.Span)
	usual := slices.Sorted(slices.Values(shape.values[from:to]))[(to-from)/2]
	last := to - 1
	for math.Abs(shape.values[last]-usual) > holds { // the usual one is among them
		last--
	}
	return shape.Times[last]
}

// goAround is the go-around about a lowest point of the shape. Its own lowest point
// is that of the height there.
func (f *Flight) goAround(acts []readings.Moment, a stay, turns, from float64) GoAround {
	around := stretch(max(a.begins.Nominal, from, turns-firstActs), min(a.ends.Nominal, turns+firstActs))
	g := GoAround{Lowest: exactly(turns)}
	if times, heights := f.height.Samples(readings.Spans{around}); len(times) > 0 {
		lowest := 0
		for i, h := range heights {
			if h < heights[lowest] {
				lowest = i
			}
		}
		g.Lowest = extremeTime(times, lowest, around, f.height.Accuracy(around), func(i int) float64 { return heights[i] })
		g.Height, g.Known = heights[lowest], true
	}
	g.Begins = g.Lowest
	for _, m := range acts {
		if m.InNominal() && m.Nominal >= around.Start && m.Earliest <= g.Lowest.Nominal {
			g.Begins = earlier(g.Lowest, Time{m.Nominal, m.Earliest, m.Latest})
			if !m.Certain { // in some history a later act is the first, or there is none
				g.Begins.Latest = max(m.Latest, g.Lowest.Latest)
			}
			break
		}
	}
	return g
}

// endGoArounds ends each go-around with the flap up, the next approach, or the end
// of the stay in the air.
func (f *Flight) endGoArounds(t *Tracks, air []stay) {
	up := readings.Begins(t.Condition("flap_up"))
	for i := range f.GoArounds {
		g := &f.GoArounds[i]
		for _, a := range air {
			if a.begins.Nominal <= g.Lowest.Nominal && g.Lowest.Nominal <= a.ends.Nominal {
				g.Ends = a.ends
			}
		}
		if u, ok := firstOf(up, stretch(g.Lowest.Nominal, g.Ends.Nominal)); ok {
			g.Ends = u
		}
		for _, next := range f.Approaches {
			if next.Begins.Nominal > g.Lowest.Nominal && next.Begins.Nominal < g.Ends.Nominal {
				g.Ends = next.Begins
			}
		}
	}
}

// descends reports whether the height is lower at the end than at the start, by more
// than turbulence in level flight makes it.
func (f *Flight) descends(start, end float64) bool {
	from, _ := f.height.At(start)
	to, known := f.height.At(end)
	return known && to < from-levelWithin
}

// turningPoints lists the lowest points between a descent and a climb that are both
// larger than goAroundDeviation, as places in the altitudes. low says of a place
// whether it is below goAroundHeight.
func turningPoints(altitudes []float64, low func(i int) bool) []int {
	var out []int
	if len(altitudes) == 0 {
		return nil
	}
	top := altitudes[0]
	bottom, descending := 0, false
	for i, h := range altitudes {
		switch {
		case !descending:
			top = max(top, h)
			descending, bottom = top-h > goAroundDeviation, i
		case h < altitudes[bottom]:
			bottom = i
		case h-altitudes[bottom] > goAroundDeviation:
			if low(bottom) {
				out = append(out, bottom)
			}
			descending, top = false, h
		}
	}
	return out
}
