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
	slowTurn          = 60.0   // s; a descent or a climb of a go-around is larger after so long
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
		add := func(e ending) {
			if begins, ok := f.approachBegins(shape, falls, stretch(from, e.at.Nominal)); ok && (e.outcome != EndsWithFlight || shape.descends(stretch(begins.Nominal, e.at.Nominal))) {
				f.Approaches = append(f.Approaches, Approach{stretch(begins.Nominal, e.at.Nominal), begins, e.at, e.outcome})
			}
		}
		low := func(k int) bool { return f.below(goAroundHeight, shape.Times[k]) }
		turns := turningPoints(shape.values, low)
		for _, k := range turns {
			g := f.goAround(acts, a, shape.Times[k], from)
			add(ending{g.Begins, EndsInGoAround})
			f.GoArounds = append(f.GoArounds, g)
			from = g.Lowest.Nominal
		}
		switch {
		case i < len(air)-1 || !f.EndsInAir:
			add(ending{a.ends, approachOutcomes[f.Touchdowns[i].Landed]})
		case f.below(approachHeight, a.ends.Nominal) || t.Condition("landing_flap").True.Contains(a.ends.Nominal-1):
			add(ending{a.ends, EndsWithFlight})
		}
		perhapsLow := func(k int) bool { return f.perhapsBelow(goAroundHeight, shape.Times[k]) }
		for _, k := range perhapsTurns(shape, i == 0 && f.BeginsInAir, i == len(air)-1 && f.EndsInAir, perhapsLow) {
			if slices.Contains(turns, k) {
				continue
			}
			g := f.goAround(acts, a, shape.Times[k], a.begins.Nominal)
			if f.BeginsInAir && g.Lowest.Nominal-firstActs < f.Span.Start {
				g.Begins.Earliest = f.Span.Start // the first act may come before the recording
			}
			f.perhapsGoArounds = append(f.perhapsGoArounds, g)
		}
	}
	f.endGoArounds(t, air)
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
	h, ok := f.heightNear(t)
	return ok && h < level
}

// perhapsBelow reports whether the height may be below a level.
func (f *Flight) perhapsBelow(level, t float64) bool {
	if h, ok := f.heightNear(t); ok {
		return h < level
	}
	radio := f.signals.Line("radio_altitude")
	if radio == nil {
		return true
	}
	h, ok := radio.At(t) // above its range it is no height, but tells that the aircraft is high
	return !ok || h < level
}

// heightNear is the height at a time; where it is not known there, the largest one nearby: beside an
// outage the altitude may have its last sample after the height.
func (f *Flight) heightNear(t float64) (height float64, known bool) {
	if height, known = f.height.At(t); known {
		return height, true
	}
	if _, near := f.height.Samples(readings.Spans{stretch(t-nearby, t+nearby)}); len(near) > 0 {
		return slices.Max(near), true
	}
	return 0, false
}

const nearby = 5.0 // s

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
	end := func(g *GoAround) {
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
	for i := range f.GoArounds {
		end(&f.GoArounds[i])
	}
	for i := range f.perhapsGoArounds {
		end(&f.perhapsGoArounds[i])
	}
}

// descends reports whether the altitude is lower at the end of a span than at its start, by more
// than turbulence in level flight makes it.
func (a altitudes) descends(in Span) bool {
	from, to := a.Within(in)
	return from < to && a.values[to-1] < a.values[from]-levelWithin
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

// perhapsTurns lists the turning points, and those near the first altitude or the last that there are
// if the aircraft came down to the first, or climbs from the last, outside the recording.
func perhapsTurns(shape altitudes, cameDown, climbs bool, low func(i int) bool) []int {
	values, added := shape.values, 0
	if len(values) == 0 {
		return nil
	}
	out := turningPoints(values, low)
	if cameDown {
		values, added = slices.Concat([]float64{math.Inf(1)}, values), 1
	}
	if climbs {
		values = slices.Concat(values, []float64{math.Inf(1)})
	}
	for _, k := range turningPoints(values, func(i int) bool { return low(i - added) }) {
		k -= added
		sinceFirst, toLast := shape.Times[k]-shape.Times[0], shape.Times[len(shape.Times)-1]-shape.Times[k]
		if (cameDown && sinceFirst < slowTurn || climbs && toLast < slowTurn) && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}
