package simulator

import "math"

// spanEvents are the events of a rule in one flight.
func (f *Flight) spanEvents(r spanRule, w window) []Event {
	var events []Event
	real := stretches(r.condition.holds, w.start, w.end)
	for _, s := range real {
		events = append(events, Event{Rule: r.id, Start: s.start, End: s.end, Certainty: f.certainty(r.condition, s)})
	}
	if !r.undecided {
		return events
	}
	for _, s := range stretches(func(t float64) bool { return f.open(r.condition, t) }, w.start, w.end) {
		kept := events[:0]
		decided := false
		for _, e := range events {
			inside := e.Start >= s.start && e.End <= s.end
			decided = decided || inside && e.Certainty == Certain
			if !inside || e.Certainty == Certain {
				kept = append(kept, e)
			}
		}
		events = kept
		if !decided {
			events = append(events, Event{Rule: r.id, Start: s.start, End: s.end, Certainty: Possible})
		}
	}
	return events
}

// lockedAfterUp are the times a leg stays locked down longer than it should
// after UP was selected.
func (f *Flight) lockedAfterUp(w window) []Event {
	var anyDown part
	for leg, name := range f.Profile.Legs {
		anyDown = append(anyDown, steady(name+" down-locked", func(t float64) bool { return f.Down(leg, t) }))
	}
	c := condition{f.leverUp(), anyDown}
	longest := f.Profile.Values["unlock_time"]
	var events []Event
	for _, s := range stretches(c.holds, w.start, w.end) {
		if s.end-s.start > longest {
			certainty := Possible
			if s.end-s.start > longest+2.5 { // two intervals of 1 s between samples and something to spare
				certainty = f.certainty(c, s)
			}
			events = append(events, Event{Rule: "gear-locked-down-after-up", Start: s.start, End: s.end, Certainty: certainty})
		}
	}
	return events
}

// selectionEvents are the gear selections above the speed for them.
func (f *Flight) selectionEvents(w window) []Event {
	var events []Event
	settings := f.settings[GearLever]
	for i := 1; i < len(settings); i++ {
		at, to, from := settings[i].At, settings[i].Value, settings[i-1].Value
		rule, limit := "gear-extension-speed", f.Profile.Values["gear_extension_speed"]
		if to == LeverUp {
			rule, limit = "gear-retraction-speed", f.Profile.Values["gear_retraction_speed"]
		}
		if to == from || to == LeverOff || at < w.start || at > w.end || f.Airspeed(at) <= limit {
			continue
		}
		events = append(events, f.moment(rule, at, condition{f.fasterThan(limit)}))
	}
	return events
}

// touchdownEvents are touchdowns with a leg not locked.
func (f *Flight) touchdownEvents(w window) []Event {
	var events []Event
	for _, a := range w.airborne {
		if c := (condition{f.notLocked()}); a.Touchdown <= w.end && c.holds(a.Touchdown) {
			events = append(events, f.moment("gear-not-locked-at-touchdown", a.Touchdown, c))
		}
	}
	return events
}

// approachEvents are what is not set when falling through the stabilisation
// heights for the last time before the last touchdown.
func (f *Flight) approachEvents(w window) []Event {
	var events []Event
	last := w.airborne[len(w.airborne)-1]
	if last.Touchdown > w.end {
		return nil
	}
	for _, at := range []struct{ value, suffix string }{{"stabilisation_height", ""}, {"visual_stabilisation_height", "-visual"}} {
		height := f.Profile.Values[at.value]
		above := stretches(func(t float64) bool { return f.Height(t) > height }, math.Max(w.start, last.LiftOff), last.Touchdown)
		if len(above) == 0 {
			continue
		}
		falls := above[len(above)-1].end
		if c := (condition{f.notLocked()}); c.holds(falls) {
			events = append(events, f.moment("gear-late"+at.suffix, falls, c))
		}
		if c := (condition{f.notFlapClass("landing")}); c.holds(falls) {
			events = append(events, f.moment("landing-flap-late"+at.suffix, falls, c))
		}
	}
	return events
}

// moment is an event of a moment; it is certain when a second either way, more
// than the samples can mistake its time by, would change nothing.
func (f *Flight) moment(rule string, at float64, c condition) Event {
	certainty := Certain
	for _, t := range []float64{at - 1, at, at + 1} {
		if !f.decided(c, t) {
			certainty = Possible
		}
	}
	return Event{Rule: rule, Start: at, End: at, Moment: true, Certainty: certainty}
}
