package detect

import (
	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

// addFlightNames adds the names that come from the flight itself.
func addFlightNames(names map[string]derived) {
	condition := func(name, meaning string, c func(*environment) readings.Condition) {
		names[name] = derived{kind: language.Condition, meaning: meaning, needs: nothing, condition: c}
	}
	moments := func(name, meaning string, m func(*Flight) []readings.Moment) {
		names[name] = derived{kind: language.Moments, meaning: meaning, needs: nothing,
			moments: func(e *environment) []readings.Moment { return m(e.flight) }}
	}
	condition("airborne", "no main strut is compressed (or what stands in for the struts says so)",
		func(e *environment) readings.Condition { return e.flight.airborne.Clip(e.windows()) })
	condition("on_ground", "not airborne",
		func(e *environment) readings.Condition {
			return readings.Not(e.flight.airborne.Clip(e.windows()), e.windows())
		})
	for phase, name := range phaseNames {
		condition(name, "the phase of flight is "+string(phase), func(e *environment) readings.Condition {
			var in readings.Spans
			for _, p := range e.flight.Phases {
				if p.Phase == phase {
					in = append(in, p.Span)
				}
			}
			return readings.Decided(in, e.windows())
		})
	}
	moments("lift_off", "each lift-off", func(f *Flight) []readings.Moment { return f.liftOffs })
	moments("touchdown", "each touchdown, that of a touch-and-go included", func(f *Flight) []readings.Moment { return f.touchdowns })
	moments("go_around", "the lowest point of each approach given up in the air", func(f *Flight) []readings.Moment {
		var out []readings.Moment
		for _, t := range f.GoArounds {
			out = append(out, readings.Moment{Nominal: t.Nominal, Earliest: t.Earliest, Latest: t.Latest, Certain: true})
		}
		return out
	})
	withHeight := names["go_around"]
	withHeight.needs = heightNeeds // no go-around is found without one
	names["go_around"] = withHeight
	names["height"] = derived{
		kind: language.Number, unit: "ft", needs: heightNeeds,
		meaning: "height above the aerodrome: radio altitude within its range, beyond it pressure altitude less that of the aerodrome",
		number:  func(e *environment, within readings.Spans) readings.Number { return e.flight.height.Number(within) },
	}
	for _, c := range schemas.Criteria() {
		names[c.Name] = derived{kind: language.Condition, meaning: c.Meaning + ", as the profile gives them",
			needs: func(e *environment) (missing, fallbacks []string) {
				x := e.criteria[c.Name]
				if x == nil {
					return []string{c.Name + ": the profile gives no such criterion"}, nil
				}
				return e.needs(x.Names)
			},
			condition: func(e *environment) readings.Condition {
				if x := e.criteria[c.Name]; x != nil {
					return x.Condition(e)
				}
				return readings.Unknown(e.windows())
			},
		}
	}
}

// phaseNames are the phases as words of the rule language.
var phaseNames = map[Phase]string{
	Standing: "standing", Taxi: "taxi", TakeOff: "takeoff", InitialClimb: "initial_climb",
	EnRoute: "en_route", ApproachPhase: "approach", Landing: "landing",
}

func nothing(*environment) (missing, fallbacks []string) { return nil, nil }

func heightNeeds(e *environment) (missing, fallbacks []string) {
	radio, pressure := e.flight.signals.has("radio_altitude"), e.flight.signals.has("pressure_altitude")
	switch {
	case !radio && !pressure:
		return []string{e.absent("radio_altitude"), e.absent("pressure_altitude")}, nil
	case !radio:
		return nil, []string{"height from pressure altitude alone: " + e.absent("radio_altitude")}
	}
	return nil, nil
}
