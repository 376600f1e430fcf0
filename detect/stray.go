package detect

import (
	"fmt"

	"downlock/detect/readings"
)

// A stray is a parameter that is true where nothing in the flight shows the cause or the
// effect its meaning implies. It may be so; or another stands in its column.
type stray struct {
	parameter string
	where     readings.Spans
	why       string
}

// The usual figures are common practice.
const (
	usualTravel = 15.0 // s; more than the legs take after the lever
	freeFall    = 30.0 // s; more than they take after the alternate means
	brakedStay  = 5.0  // s; a parked aircraft stands for longer
	leastAskew  = 5.0  // s
)

// silencers are the switches that end a warning, each beside the warning.
var silencers = [][2]string{{"gear_horn_cutout", "gear_horn"}, {"takeoff_warning_silenced", "takeoff_configuration_warning"}}

// strays lists those of the flight.
func strays(audits []Audit, env *Tracks) (out []stray) {
	add := func(name string, where readings.Spans, why string) {
		if len(where) > 0 {
			out = append(out, stray{name, where, why + ": look whether another stands in its column"})
		}
	}
	for _, a := range audits {
		if a.Coverage == NotEvaluable || begunIn(a.sounded, a.due.Widen(-followsWithin, 0)) {
			continue
		}
		for _, name := range env.criteria.names(a.Warning.sounded.Names) {
			add(name, a.sounded, "it comes on, and never with its criteria")
		}
	}
	for _, s := range silencers {
		if uses := env.whereTrue(s[0]); env.Has(s[1]) && !silences(uses, env.whereTrue(s[1])) {
			add(s[0], uses, "it comes on, and never ends "+s[1])
		}
	}
	if selected := env.whereTrue("alternate_extension_selected"); !env.legsFollow(selected) {
		add("alternate_extension_selected", selected, "it comes on, and no leg locks after it that the lever had left behind")
	}
	for _, name := range []string{"hydraulic_pressure_low_a", "hydraulic_pressure_low_b", "hydraulic_pressure_low_c"} {
		if low := env.whereTrue(name); env.Has("alternate_extension_selected") && len(env.whereTrue("alternate_extension_selected")) == 0 {
			add(name, env.leftBehind(low), "it comes on as the alternate means would, with a leg that has not followed the lever")
		}
	}
	if set := env.whereTrue("parking_brake"); len(readings.Intersect(set, env.Condition("stationary").True).AtLeast(brakedStay)) == 0 {
		add("parking_brake", set, fmt.Sprintf("it is set, and never for %.0f s where the aircraft stands", brakedStay))
	}
	if armed := env.whereTrue("speedbrake_armed"); len(readings.Intersect(armed, env.Condition("airborne").True)) == 0 {
		add("speedbrake_armed", armed, "it is armed on the ground alone")
	}
	if env.Has("body_gear_aligned") {
		askew := readings.Intersect(env.Condition("body_gear_aligned").False, env.Condition("gear_up_locked").True)
		add("body_gear_aligned", askew.AtLeast(leastAskew), "it is false with the gear locked up")
	}
	return out
}

// whereTrue is where a discrete is true; nil where it is not recorded.
func (t *Tracks) whereTrue(name string) readings.Spans {
	if !t.Has(name) {
		return nil
	}
	return t.Condition(name).True
}

// begunIn says whether one of the spans begins in one of the places, or there are none.
func begunIn(spans, places readings.Spans) bool {
	for _, s := range spans {
		if places.Contains(s.Start) {
			return true
		}
	}
	return len(spans) == 0
}

// silences says whether one of the uses of a switch begins while the warning sounds and
// ends it.
func silences(uses, sounded readings.Spans) bool {
	for _, use := range uses {
		for _, s := range sounded {
			if s.Start < use.Start && s.End >= use.Start && s.End <= use.Start+followsWithin {
				return true
			}
		}
	}
	return false
}

// legsFollow says whether the legs lock down soon after the alternate means were
// selected, and not because the lever was moved to DOWN.
func (t *Tracks) legsFollow(selected readings.Spans) bool {
	down := t.whereTrue("gear_down_locked")
	for _, s := range selected {
		soon := readings.Spans{stretch(s.Start, s.Start+freeFall)}
		lever := readings.Spans{stretch(s.Start-usualTravel, s.Start+freeFall)}
		moved := t.Has("gear_lever") && len(t.State("gear_lever", "DOWN").True) > 0 && begunIn(t.State("gear_lever", "DOWN").True, lever)
		if len(down) > 0 && begunIn(down, soon) && !moved {
			return true
		}
	}
	return false
}

// leftBehind are those of the spans that begin where the lever has been at DOWN for
// longer than the legs take, and a leg is not locked.
func (t *Tracks) leftBehind(spans readings.Spans) (out readings.Spans) {
	if !t.Has("gear_lever") {
		return nil
	}
	late := readings.Intersect(t.State("gear_lever", "DOWN").True.Widen(usualTravel, 0), t.Condition("gear_down_locked").False)
	for _, s := range spans {
		if late.Contains(s.Start) {
			out = append(out, s)
		}
	}
	return out
}
