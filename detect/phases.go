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
)

// findPhases lists the phases of flight, in order and without holes.
func (f *Flight) findPhases(air readings.Spans) {
	var marks []phaseMark
	mark := func(at float64, p Phase) { marks = append(marks, phaseMark{at, p}) }
	speed := f.speedName()
	from := f.Span.Start
	for i, a := range air {
		if from < a.Start {
			f.markGround(mark, stretch(from, a.Start), speed, i > 0)
		}
		if a.Start > f.Span.Start || !f.BeginsInAir {
			f.markClimb(mark, a)
		} else {
			mark(a.Start, EnRoute)
		}
		from = a.End
	}
	for _, approach := range f.Approaches {
		f.markApproach(mark, approach)
	}
	if from < f.Span.End {
		f.markGround(mark, stretch(from, f.Span.End), speed, false)
	}
	sort.SliceStable(marks, func(i, j int) bool { return marks[i].at < marks[j].at })
	f.Phases = phaseSpans(marks, f.Span)
}

type phaseMark struct {
	at    float64
	phase Phase
}

// phaseSpans turns "from here on" marks into spans; where two marks share a
// time the later one stands.
func phaseSpans(marks []phaseMark, whole Span) []PhaseSpan {
	var out []PhaseSpan
	for i, m := range marks {
		end := whole.End
		if i+1 < len(marks) {
			end = marks[i+1].at
		}
		if end <= m.at {
			continue
		}
		if n := len(out); n > 0 && out[n-1].Phase == m.phase {
			out[n-1].Span.End = end
			continue
		}
		out = append(out, PhaseSpan{m.phase, stretch(m.at, end)})
	}
	return out
}

// speedName is the parameter that tells speed on the ground, "" for none.
func (f *Flight) speedName() string {
	for _, name := range []string{"ground_speed", "computed_airspeed"} {
		if f.signals.has(name) {
			return name
		}
	}
	return ""
}

// markGround marks a stay on the ground: the landing roll if it follows a
// flight, taxi and standing, and the take-off run if a flight follows.
func (f *Flight) markGround(mark func(float64, Phase), ground Span, speed string, touchAndGo bool) {
	within := readings.Spans{ground}
	landed := len(f.touchdowns) > 0 && f.touchdowns[0].Nominal <= ground.Start
	flies := ground.End < f.Span.End
	if touchAndGo {
		mark(ground.Start, Landing)
		return
	}
	rollEnds, runBegins := ground.Start, ground.End
	if speed != "" {
		fast := f.signals.compare(speed, readings.AtLeast, slowSpeed, within).True
		if n := len(fast); landed && n > 0 && fast[0].Start <= ground.Start {
			rollEnds = fast[0].End
		}
		if n := len(fast); flies && n > 0 && fast[n-1].End >= ground.End {
			runBegins = fast[n-1].Start
		}
	}
	if landed {
		mark(ground.Start, Landing)
	}
	if rollEnds < runBegins {
		mark(rollEnds, Taxi)
		if speed == "ground_speed" {
			slow := readings.Spans{{Start: rollEnds, End: runBegins}}
			for _, s := range f.signals.compare(speed, readings.Below, standingBelow, slow).True.AtLeast(5) {
				mark(s.Start, Standing)
				mark(s.End, Taxi)
			}
		}
	}
	if flies {
		mark(runBegins, TakeOff)
	}
}

// markClimb marks the take-off and initial climb at the start of a stay in the
// air.
func (f *Flight) markClimb(mark func(float64, Phase), a Span) {
	mark(a.Start, TakeOff)
	climbing := a.End
	if t, ok := firstIn(f.passes(readings.Above, takeOffEnds), a); ok {
		climbing = t
	}
	if lever := f.signals.code("gear_lever"); lever != nil {
		up := lever.Condition(func(v uint8) bool { return v == 0 }, readings.Spans{a})
		if len(up.True) > 0 && up.True[0].Start < climbing {
			climbing = up.True[0].Start
		}
	}
	if climbing >= a.End {
		return
	}
	mark(climbing, InitialClimb)
	if t, ok := firstIn(f.passes(readings.Above, initialClimbEnds), stretch(climbing, a.End)); ok {
		mark(t, EnRoute)
	}
}

// markApproach marks an approach, the flare that ends it, or the climb after a
// go-around.
func (f *Flight) markApproach(mark func(float64, Phase), a Approach) {
	mark(a.Span.Start, ApproachPhase)
	switch a.Outcome {
	case "landing", "touch-and-go":
		if t, ok := lastIn(f.passes(readings.Below, flareBegins), a.Span); ok {
			mark(t, Landing)
		}
	case "go-around":
		mark(a.Span.End, InitialClimb)
		end := stretch(a.Span.End, f.Span.End)
		if t, ok := firstIn(f.passes(readings.Above, initialClimbEnds), end); ok {
			mark(t, EnRoute)
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
