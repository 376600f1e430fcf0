package detect

import (
	"math"
	"slices"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// addFlightNames adds the names that come from the flight itself.
func addFlightNames(names map[string]derived) {
	condition := func(name, meaning string, c func(*Tracks) readings.Condition) {
		names[name] = derived{kind: language.Condition, meaning: meaning, needs: nothing, condition: c}
	}
	moments := func(name, meaning string, m func(*Flight) []readings.Moment) {
		names[name] = derived{kind: language.Moments, meaning: meaning, needs: nothing,
			moments: func(t *Tracks) []readings.Moment { return m(t.flight) }}
	}
	condition("airborne", "no main strut is compressed (or the substitute for the struts says so)",
		func(t *Tracks) readings.Condition { return t.flight.airborne.Clip(t.windows()) })
	condition("on_ground", "not airborne",
		func(t *Tracks) readings.Condition {
			return readings.Not(t.flight.airborne.Clip(t.windows()), t.windows())
		})
	for phase, name := range phaseNames {
		condition(name, "the phase of flight is "+string(phase), func(t *Tracks) readings.Condition { return t.flight.inPhase(phase) })
	}
	moments("lift_off", "each lift-off", func(f *Flight) []readings.Moment { return f.liftOffs })
	moments("touchdown", "each touchdown, including that of a touch-and-go", func(f *Flight) []readings.Moment { return f.touchdowns })
	moments("go_around", "the lowest point of each approach given up in the air", func(f *Flight) []readings.Moment {
		return happened(timesOf(f.GoArounds, func(g GoAround) (Time, bool) { return g.Lowest, true }))
	})
	moments("go_around_begun", "the crew's first action of each go-around: go-around thrust, or gear or flap retraction", func(f *Flight) []readings.Moment {
		return happened(timesOf(f.GoArounds, func(g GoAround) (Time, bool) { return g.Begins, true }))
	})
	condition("going_around", "from the crew's first action of a go-around until the flap is up, the next approach begins or the aircraft touches down",
		func(t *Tracks) readings.Condition {
			ends := func(g GoAround) (begins, ends Time, ok bool) { return g.Begins, g.Ends, true }
			c := between(t.windows(), t.flight.GoArounds, ends)
			c.Possible = readings.Union(c.Possible, between(t.windows(), t.flight.perhapsGoArounds, ends).Possible)
			return c
		})
	condition("takeoff_roll", "from take-off thrust on the ground to the lift-off, or until thrust is reduced; not after a touch-and-go",
		func(t *Tracks) readings.Condition {
			c := between(t.windows(), t.flight.Rolls, func(r TakeOffRoll) (begins, ends Time, ok bool) { return r.Begins, r.Ends, !r.FromTouchdown })
			if t.flight.perhapsTouchedDown() {
				first := readings.Spans{stretch(t.flight.Span.Start, t.flight.Rolls[0].Ends.Latest)}
				c.Certain = readings.Intersect(c.Certain, first.Complement(t.windows()))
			}
			return c
		})
	condition("stationary", "on the ground and not moving: ground speed below 5 kt; if that is not recorded, airspeed below 30 kt; if neither is, not in a take-off roll",
		func(t *Tracks) readings.Condition {
			slow := readings.Not(t.Condition("takeoff_roll"), t.windows())
			switch t.flight.speedName() {
			case "ground_speed":
				slow = t.Compare("ground_speed", readings.Below, 5)
			case "computed_airspeed":
				slow = t.Compare("computed_airspeed", readings.Below, 30)
			}
			return readings.And(t.Condition("on_ground"), slow)
		})
	condition("departing", "from a lift-off up to 1000 ft above the aerodrome",
		func(t *Tracks) readings.Condition {
			var climbs []stay
			for i, a := range t.flight.air {
				if i > 0 || !t.flight.BeginsInAir {
					climbs = append(climbs, stay{a.begins, t.flight.climbed(a.begins)})
				}
			}
			return between(t.windows(), climbs, func(c stay) (begins, ends Time, ok bool) { return c.begins, c.ends, true })
		})
	condition("climbing_out", "from a lift-off or a go-around until the climb ends in level flight or a descent",
		func(t *Tracks) readings.Condition {
			return between(t.windows(), t.flight.climbs(), func(c stay) (begins, ends Time, ok bool) { return c.begins, c.ends, true })
		})
	condition("approach_given_up", "an approach that ends in a go-around, up to its lowest point",
		func(t *Tracks) readings.Condition {
			k := 0
			return between(t.windows(), t.flight.Approaches, func(a Approach) (begins, ends Time, ok bool) {
				if a.Outcome != EndsInGoAround {
					return a.Begins, a.Ends, false
				}
				k++
				return a.Begins, t.flight.GoArounds[k-1].Lowest, true
			})
		})
	moments("rejected_takeoff", "the moment of reduced thrust in each rejected take-off", func(f *Flight) []readings.Moment {
		return happened(timesOf(f.Rolls, func(r TakeOffRoll) (Time, bool) { return r.Ends, r.Ended == Rejected }))
	})
	for name, landed := range map[string]Landed{"full_stop": FullStop, "touch_and_go": TouchAndGo, "balked_landing": BalkedLanding} {
		moments(name, "the touchdown of each "+string(landed), func(f *Flight) []readings.Moment {
			out := happened(f.TouchedDown(landed))
			if n := len(f.Touchdowns); n > 0 && f.Touchdowns[n-1].Perhaps && landed == FullStop {
				out[len(out)-1].Certain = false
			}
			if landed != FullStop && f.perhapsTouchedDown() && f.Rolls[0].Ended == InLiftOff {
				out = slices.Insert(out, 0, readings.Moment{Nominal: math.NaN(), Earliest: f.Span.Start, Latest: f.Span.Start})
			}
			return out
		})
	}
	for _, name := range []string{"go_around", "go_around_begun", "going_around"} {
		withHeight := names[name]
		withHeight.needs = heightNeeds // no go-around is found without one
		names[name] = withHeight
	}
	names[heightName] = derived{
		kind: language.Number, unit: "ft", needs: heightNeeds,
		meaning: "height above the aerodrome: radio altitude within its range; beyond it, pressure altitude less that of the aerodrome",
		number:  func(t *Tracks, within readings.Spans) readings.Number { return t.flight.height.Number(within) },
	}
	for _, c := range schemas.Criteria() {
		names[c.Name] = derived{kind: language.Condition, meaning: c.Meaning + ", as the profile defines them",
			needs: func(t *Tracks) (missing, fallbacks []string) {
				x := t.criteria[c.Name]
				if x == nil {
					return []string{c.Name + noCriterion}, nil
				}
				missing, fallbacks = t.needs(x.Names)
				if !c.Lenient {
					if t.flight.Profile.Criteria[c.Name] == "" {
						fallbacks = append(fallbacks, c.Name+": the usual criteria, because the profile gives none")
					}
					return missing, fallbacks
				}
				for i, m := range missing {
					missing[i] = c.Name + " as far as it can be told: " + m
				}
				return nil, append(missing, fallbacks...)
			},
			condition: func(t *Tracks) readings.Condition {
				if x := t.criteria[c.Name]; x != nil {
					return x.Condition(t)
				}
				return readings.Unknown(t.windows())
			},
		}
	}
}

// timesOf lists a time of each thing that has one.
func timesOf[T any](things []T, at func(T) (Time, bool)) (out []Time) {
	for _, x := range things {
		if t, ok := at(x); ok {
			out = append(out, t)
		}
	}
	return out
}

// between is where one of the things goes on. Between the bounds of its ends that
// is possible.
func between[T any](windows readings.Spans, things []T, ends func(T) (begins, ends Time, ok bool)) readings.Condition {
	var nominal, certain, possible []Span
	for _, x := range things {
		b, e, ok := ends(x)
		if !ok {
			continue
		}
		add := func(to *[]Span, start, end float64) {
			if start < end {
				*to = append(*to, stretch(start, end))
			}
		}
		add(&nominal, b.Nominal, e.Nominal)
		add(&certain, b.Latest, e.Earliest)
		add(&possible, b.Earliest, e.Latest)
	}
	c := readings.Condition{True: readings.UnionOf(nominal), Certain: readings.UnionOf(certain), Possible: readings.UnionOf(possible)}
	c = c.Clip(windows)
	c.False = c.True.Complement(windows)
	return c
}

// heightName is the number the flight's height goes by.
const heightName = "height"

// phaseNames are the phases as words of the rule language.
var phaseNames = map[Phase]string{
	Standing: "standing", Taxi: "taxi", TakeOff: "takeoff", InitialClimb: "initial_climb",
	EnRoute: "en_route", ApproachPhase: "approach", Landing: "landing",
}

func nothing(*Tracks) (missing, fallbacks []string) { return nil, nil }

func heightNeeds(t *Tracks) (missing, fallbacks []string) {
	radio, pressure := t.flight.signals.Has("radio_altitude"), t.flight.signals.Has("pressure_altitude")
	switch {
	case !radio && !pressure:
		return []string{t.absent("radio_altitude"), t.absent("pressure_altitude")}, nil
	case !radio:
		return nil, []string{"height from pressure altitude alone: " + t.absent("radio_altitude")}
	}
	return nil, nil
}
