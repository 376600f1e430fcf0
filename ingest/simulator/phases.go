package simulator

import "math"

// The heights at which the phases change, ft. The end of the initial climb at 1000 ft
// is that of the CAST/ICAO phase definitions. The others are common practice and the
// same as in the project's own phases.
const (
	approachFrom     = 3000
	flareFrom        = 50
	initialClimbEnds = 1000
)

// decided is a condition without any doubt.
func decided(s stretches) known { return known{s, s, s.outside()} }

// approaches last from the last fall through 3000 ft to the lowest point of a
// go-around, the flare of a landing or the end of the recording.
func (f *Flight) approaches() known {
	high := follow(func(t float64) bool { return f.Height(t) > approachFrom }, f.Scenario.Start, f.Scenario.End)
	var found []stretch
	for _, a := range f.Scenario.Airborne {
		from := max(a.LiftOff, f.Scenario.Start)
		var ends []float64
		for _, g := range f.Scenario.GoArounds {
			if g > a.LiftOff && g < a.Touchdown {
				ends = append(ends, g)
			}
		}
		if a.Touchdown <= f.Scenario.End {
			ends = append(ends, f.lastFall(flareFrom, a))
		}
		for _, end := range ends {
			start := from
			for _, h := range high {
				if h.end > from && h.end < end {
					start = h.end
				}
			}
			found = append(found, stretch{start, end})
			from = end
		}
	}
	return decided(joined(0, found...))
}

// lastFall returns the time of the last fall of the height through a level before the
// touchdown, or minus infinity if there is none.
func (f *Flight) lastFall(level float64, a Airborne) float64 {
	from, to := max(a.LiftOff, f.Scenario.Start), min(a.Touchdown, f.Scenario.End)
	above := follow(func(t float64) bool { return f.Height(t) > level }, from, to)
	if len(above) == 0 || above[len(above)-1].end >= to {
		return math.Inf(-1)
	}
	return above[len(above)-1].end
}

// climbingOut lasts from each lift-off and go-around to the highest point before the
// height falls by 150 ft, or until it is level for a minute and a half.
func (f *Flight) climbingOut() known {
	var found []stretch
	climb := func(start, from, to float64) {
		top, level, levelHeight := from, from, f.Height(from)
		for t := from; t <= to; t += 0.1 {
			h := f.Height(t)
			if h > f.Height(top) {
				top = t
			}
			if math.Abs(h-levelHeight) > 100 {
				level, levelHeight = t, h
			}
			if f.Height(top)-h > 150 {
				to = top
			} else if t-level >= 90 {
				to = level
			}
		}
		found = append(found, stretch{start, to})
	}
	for _, a := range f.Scenario.Airborne {
		end := min(a.Touchdown, f.Scenario.End)
		if a.LiftOff >= f.Scenario.Start {
			climb(a.LiftOff, a.LiftOff, end)
		}
		for _, g := range f.Scenario.GoArounds {
			if g > a.LiftOff && g < end {
				climb(g-30, g, end) // no throttle is retarded in the half minute before
			}
		}
	}
	return decided(joined(0, found...))
}

// lastFalls are the last falls through a level before each touchdown. They include
// those before the lowest point of each go-around below that level.
func (f *Flight) lastFalls(level float64) (out []moment) {
	falls := begins(f.lower(level))
	last := func(from, to float64) {
		for i := len(falls) - 1; i >= 0; i-- {
			if falls[i].at > from && falls[i].at <= to {
				out = append(out, falls[i])
				return
			}
		}
	}
	for _, a := range f.Scenario.Airborne {
		from := a.LiftOff
		for _, g := range f.Scenario.GoArounds {
			if g > a.LiftOff && g < a.Touchdown {
				last(from, g)
				from = g
			}
		}
		if a.Touchdown <= f.Scenario.End {
			last(from, a.Touchdown)
		}
	}
	return out
}

// climbs last from a lift-off to 1000 ft.
func (f *Flight) climbs() known {
	var found []stretch
	for _, a := range f.Scenario.Airborne {
		if a.LiftOff < f.Scenario.Start {
			continue
		}
		end := min(a.Touchdown, f.Scenario.End)
		for _, s := range follow(func(t float64) bool { return f.Height(t) > initialClimbEnds }, a.LiftOff, end) {
			end = s.start
			break
		}
		found = append(found, stretch{a.LiftOff, end})
	}
	return decided(joined(0, found...))
}

// Approaches lists the start and end of every approach, in seconds.
func (f *Flight) Approaches() (out [][2]float64) {
	for _, s := range f.approaches().really {
		out = append(out, [2]float64{s.start, s.end})
	}
	return out
}
