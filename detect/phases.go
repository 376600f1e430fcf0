package detect

import (
	"sort"

	"downlock/detect/readings"
)

// The figures the phases change at. 35 ft and 1000 ft are those of the CAST/ICAO
// phase definitions (the first for the end of the take-off, or gear-up selection
// before it; the second for the end of the initial climb); the others are common
// practice.
const (
	takeOffEnds      = 35.0   // ft
	initialClimbEnds = 1000.0 // ft
	flareBegins      = 50.0   // ft
	standingBelow    = 1.0    // kt over the ground
	standsFor        = 5.0    // s
)

// findPhases lists the phases of flight, in order and without holes.
func (f *Flight) findPhases(air []stay) {
	var marks []phaseMark
	mark := func(at Time, p Phase) { marks = append(marks, phaseMark{at, p}) }
	from := exactly(f.Span.Start)
	for i, a := range air {
		f.markGround(mark, from, a.begins, i > 0) // of no length, and so left out, where it begins in the air
		if a.begins.Nominal > f.Span.Start || !f.BeginsInAir {
			f.markClimb(mark, a)
		} else {
			mark(a.begins, EnRoute)
		}
		from = a.ends
	}
	for _, g := range f.GoArounds {
		if g.Ends.Nominal < f.Span.End {
			mark(g.Ends, EnRoute) // unless it is the next approach that ends it
		}
	}
	for _, approach := range f.Approaches {
		f.markApproach(mark, approach)
	}
	if from.Nominal < f.Span.End {
		f.markGround(mark, from, exactly(f.Span.End), false)
	}
	f.markRolls(mark)
	sort.SliceStable(marks, func(i, j int) bool { return marks[i].at.Nominal < marks[j].at.Nominal })
	f.Phases = phaseSpans(marks, f.Span)
}

type phaseMark struct {
	at    Time
	phase Phase
}

// phaseSpans turns "from here on" marks into spans; where two marks share a
// time the later one stands.
func phaseSpans(marks []phaseMark, whole Span) []PhaseSpan {
	var out []PhaseSpan
	for i, m := range marks {
		ends := exactly(whole.End)
		if i+1 < len(marks) {
			ends = marks[i+1].at
		}
		if ends.Nominal <= m.at.Nominal {
			continue
		}
		if n := len(out); n > 0 && out[n-1].Phase == m.phase {
			out[n-1].Span.End, out[n-1].Ends = ends.Nominal, ends
			continue
		}
		out = append(out, PhaseSpan{m.phase, stretch(m.at.Nominal, ends.Nominal), m.at, ends})
	}
	return out
}

// inPhase is where the flight is in a phase. Between the bounds of the time at
// which one phase passes into the next either may hold.
func (f *Flight) inPhase(phase Phase) readings.Condition {
	windows := readings.Spans{f.Span}
	c := between(windows, f.Phases, func(p PhaseSpan) (begins, ends Time, ok bool) { return p.Begins, p.Ends, p.Phase == phase })
	switch phase {
	case Standing:
		c.Possible = readings.Union(c.Possible, f.perhapsStanding)
	case Taxi:
		c.Certain = readings.Intersect(c.Certain, f.perhapsStanding.Complement(windows))
	}
	return c
}

// speedName is the parameter that tells speed on the ground, "" for none.
func (f *Flight) speedName() string {
	for _, name := range []string{"ground_speed", "computed_airspeed"} {
		if f.signals.Has(name) {
			return name
		}
	}
	return ""
}

// markGround marks a stay on the ground: the landing roll if it follows a
// flight, taxi and standing, and the take-off run if a flight follows.
func (f *Flight) markGround(mark func(Time, Phase), begins, ends Time, touchAndGo bool) {
	ground := stretch(begins.Nominal, ends.Nominal)
	landed := len(f.touchdowns) > 0 && f.touchdowns[0].Nominal <= ground.Start
	if touchAndGo {
		mark(begins, Landing)
		return
	}
	rollEnds, runBegins := begins, ends
	if speed := f.speedName(); speed != "" {
		fast := f.signals.Compare(speed, readings.AtLeast, slowSpeed, readings.Spans{ground})
		if n := len(fast.True); landed && n > 0 && fast.True[0].Start <= ground.Start {
			rollEnds = endOf(fast, fast.True[0])
		}
		if n := len(fast.True); n > 0 && fast.True[n-1].End >= ground.End {
			runBegins = startOf(fast, fast.True[n-1])
		}
	}
	if landed {
		mark(begins, Landing)
	}
	if rollEnds.Nominal < runBegins.Nominal {
		mark(rollEnds, Taxi)
		f.markStanding(mark, stretch(rollEnds.Nominal, runBegins.Nominal))
	}
	if ends.Nominal < f.Span.End {
		mark(runBegins, TakeOff)
	}
}

// markRolls marks the take-off rolls whose beginning is known, and the taxi after those
// that were rejected.
func (f *Flight) markRolls(mark func(Time, Phase)) {
	for _, r := range f.Rolls {
		if r.Begins.Nominal == r.Ends.Nominal {
			continue
		}
		mark(r.Begins, TakeOff)
		if r.Ended == Rejected {
			mark(r.Ends, Taxi)
		}
	}
}

// markStanding marks where the aircraft stands for some seconds during a taxi.
func (f *Flight) markStanding(mark func(Time, Phase), taxi Span) {
	if !f.signals.Has("ground_speed") {
		return
	}
	still := f.signals.Compare("ground_speed", readings.Below, standingBelow, readings.Spans{taxi})
	f.perhapsStanding = readings.Union(f.perhapsStanding, still.Possible.AtLeast(standsFor))
	for _, s := range still.True.AtLeast(standsFor) {
		mark(startOf(still, s), Standing)
		mark(endOf(still, s), Taxi)
	}
}

// markClimb marks the take-off and initial climb at the start of a stay in the
// air.
func (f *Flight) markClimb(mark func(Time, Phase), a stay) {
	mark(a.begins, TakeOff)
	span := a.span()
	climbing := a.ends
	if t, ok := f.passes(takeOffEnds, span); ok {
		climbing = t
	}
	if up := f.signals.State("gear_lever", "UP", readings.Spans{span}); len(up.True) > 0 {
		climbing = earlier(climbing, startOf(up, up.True[0]))
	}
	if climbing.Nominal >= span.End {
		return
	}
	mark(climbing, InitialClimb)
	if t, ok := f.passes(initialClimbEnds, stretch(climbing.Nominal, span.End)); ok {
		mark(t, EnRoute)
	}
}

// markApproach marks an approach and the flare that ends it. A go-around belongs to
// the approach until it ends, as the CAST/ICAO phase definitions have it.
func (f *Flight) markApproach(mark func(Time, Phase), a Approach) {
	mark(a.Begins, ApproachPhase)
	switch a.Outcome {
	case EndsInLanding, EndsInTouchAndGo, EndsInBalkedLanding, EndsInTouchdown:
		if t, ok := lastOf(f.crossings(readings.Below, flareBegins), a.Span); ok {
			mark(t, Landing)
		}
	}
}

// phaseAt is the phase at a time.
func (f *Flight) phaseAt(t float64) Phase {
	for _, p := range f.Phases {
		if p.Span.Start <= t && t < p.Span.End {
			return p.Phase
		}
	}
	return UnknownPhase
}
