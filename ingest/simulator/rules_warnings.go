package simulator

// warning is one of the warnings that are audited: where it is due if nobody
// silences it, where the isolation switch may silence it and is operated, and
// where it sounds.
type warning struct {
	prefix                 string // of its rules
	due, allowed, isolated known
	sounds                 known
	silenceable            bool
}

func (f *Flight) warnings() []warning {
	open, cutout := not(f.allDown()), f.on("horn isolation switch", 1)
	landing := all(f.flapClass("landing"), open)
	intermediate := all(f.flapClass("intermediate"), f.throttleRetarded(), open)
	wrong := some(f.wrongFlap(), f.wrongSpeedbrake(), f.on("parking brake", 1), f.wrongTrim())
	return []warning{
		{"gear-horn", some(landing, intermediate), all(intermediate, not(landing), cutout), cutout, f.on("gear horn", 1), true},
		{"too-low-gear-alert", f.tooLowGear(), nothing, nothing, f.on("too low gear", 1), false},
		{"too-low-flaps-alert", f.tooLowFlaps(), nothing, nothing, f.on("too low flaps", 1), false},
		{"takeoff-warning", all(f.takeOffRun(), wrong), nothing, nothing, f.on("take-off warning", 1), false},
	}
}

// auditEvents are what is wrong with the warnings: due and quiet for longer than
// the delay (missed; late where it sounds in the end and was quiet from the
// start; wrongly silenced where the isolation switch made it quiet and must
// not), silenced as it may be, or sounding with no cause near.
func (f *Flight) auditEvents() []Event {
	delay := f.value("warning_delay")
	var events []Event
	for _, w := range f.warnings() {
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
		nuisance := all(w.sounds, not(known{expected.really.wider(delay), expected.surely.wider(delay), expected.never.outside().wider(delay).outside()}))
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
