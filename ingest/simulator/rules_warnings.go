package simulator

// warning is one of the audited warnings: where it is required unless silenced, where
// the horn cut-out may silence it and is operated, and where it sounds.
type warning struct {
	prefix                 string // of its rules
	column                 string // one that is not recorded has no findings
	due, allowed, isolated known
	sounds, tolerated      known // tolerated: it may sound there although it is not required
	silenceable            bool
}

func (f *Flight) warnings() []warning {
	open, cutout := not(f.allDown()), f.on("horn isolation switch", 1)
	landing := all(f.flapClass("landing"), open)
	intermediate := all(f.flapClass("intermediate"), f.throttleRetarded(), open)
	wrong := some(f.wrongFlap(), f.wrongSpeedbrake(), f.on("parking brake", 1), f.wrongTrim())
	slow := func(kt float64) known { return f.below("airspeed", kt) } // from that speed up the voice is too low terrain
	thrust := all(f.mainCompressed(), f.thrust(), wrong)
	return []warning{
		{"gear-horn", "gear horn", some(landing, intermediate), all(intermediate, not(landing), cutout), cutout, f.on("gear horn", 1), f.stationary(), true},
		{"too-low-gear-alert", "too low gear", all(f.tooLowGear(), slow(190)), nothing, nothing, f.on("too low gear", 1), some(f.belowGearFloor(), f.stationary()), false},
		{"too-low-flaps-alert", "too low flaps", all(f.tooLowFlaps(), slow(159)), nothing, nothing, f.on("too low flaps", 1), some(f.belowFlapsFloor(), f.stationary()), false},
		{"takeoff-warning", "take-off warning", all(f.takeOffRun(), wrong, not(before(f.liftOffs(), 6))), nothing, nothing, f.on("take-off warning", 1), some(thrust, f.stationary()), false},
	}
}

// auditEvents returns the findings about the warnings. A required warning that is
// quiet for longer than the delay is missed. It is late if it was quiet from the
// start and sounds in the end. It is wrongly silenced if the cut-out made it quiet
// and must not. A warning may also be silenced as allowed, or sound with no cause
// near (nuisance).
func (f *Flight) auditEvents() []Event {
	delay := f.value("warning_delay")
	var events []Event
	for _, w := range f.warnings() {
		if !f.recorded(w.column) {
			continue
		}
		expected := all(w.due, not(w.allowed))
		quiet := all(expected, not(w.sounds))
		for _, s := range f.within(quiet.really).atLeast(delay) {
			finding := "missed"
			whole, _ := f.within(expected.really).at(s.start)
			switch {
			case w.silenceable && total(intersection(w.isolated.really, stretches{s})) > s.seconds()/2:
				finding = "wrongly-silenced"
			case s.start-whole.start < delay && total(intersection(w.sounds.really, stretches{{s.end, whole.end}})) > 0:
				finding = "late"
			}
			events = append(events, f.spanEvent(w.prefix+"-"+finding, quiet, s, delay))
		}
		cause := some(expected, w.tolerated)
		nuisance := all(w.sounds, not(known{cause.really.wider(delay), cause.surely.wider(delay), cause.never.outside().wider(delay).outside()}))
		for _, s := range f.within(nuisance.really) {
			events = append(events, f.spanEvent(w.prefix+"-nuisance", nuisance, s, 0))
		}
		if w.silenceable {
			silenced := all(w.due, w.allowed, not(w.sounds))
			for _, s := range f.within(silenced.really).atLeast(delay) {
				events = append(events, f.spanEvent(w.prefix+"-silenced", silenced, s, delay))
			}
		}
	}
	return events
}

func total(s stretches) (seconds float64) {
	for _, x := range s {
		seconds += x.seconds()
	}
	return seconds
}
