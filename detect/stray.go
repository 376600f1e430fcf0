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
			out = append(out, stray{name, where, why + ": check whether its column holds another parameter"})
		}
	}
	for _, a := range audits {
		if a.Coverage == NotEvaluable || begunIn(a.sounded, a.due.Widen(-followsWithin, 0)) {
			continue
		}
		for _, name := range env.criteria.names(a.Warning.sounded.Names) {
			add(name, a.withoutReason(), "it comes on, but never with its criteria")
		}
	}
	for _, s := range silencers {
		if uses := env.whereTrue(s[0]); env.Has(s[1]) && !silences(uses, env.whereTrue(s[1])) {
			add(s[0], uses, "it comes on, but never ends "+s[1])
		}
	}
	if selected := env.whereTrue("alternate_extension_selected"); !env.legsFollow(selected) {
		add("alternate_extension_selected", selected, "it comes on, but no leg that had not followed the lever locks after it")
	}
	for _, name := range []string{"hydraulic_pressure_low_a", "hydraulic_pressure_low_b", "hydraulic_pressure_low_c"} {
		if low := env.whereTrue(name); env.Has("alternate_extension_selected") && len(env.whereTrue("alternate_extension_selected")) == 0 {
			add(name, env.leftBehind(low), "it comes on as the alternate extension would, with a leg that has not followed the lever")
		}
	}
	if set := env.whereTrue("parking_brake"); len(readings.Intersect(set, env.Condition("stationary").True).AtLeast(brakedStay)) == 0 {
		add("parking_brake", set, fmt.Sprintf("it is set, but never for %.0f s while the aircraft is standing", brakedStay))
	}
	air := env.Condition("airborne").True
	if armed := env.whereTrue("speedbrake_armed"); len(air) > 0 && len(readings.Intersect(armed, air)) == 0 {
		add("speedbrake_armed", armed, "it is armed only on the ground")
	}
	if env.Has("body_gear_aligned") {
		askew := readings.Intersect(env.Condition("body_gear_aligned").False, env.Condition("gear_up_locked").True)
		add("body_gear_aligned", askew.AtLeast(leastAskew), "it is false with the gear up and locked")
	}
	return out
}

// withoutReason is where the warning sounds and is not being tested on the stand.
func (a Audit) withoutReason() (out readings.Spans) {
	for _, s := range a.Soundings {
		if s.Cause != TestOnStand {
			out = append(out, stretch(s.Start.Nominal, s.End.Nominal))
		}
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

// anyBegins says whether one of the spans begins in a place.
func anyBegins(spans readings.Spans, place Span) bool {
	for _, s := range spans {
		if s.Start >= place.Start && s.Start <= place.End {
			return true
		}
	}
	return false
}

// begunIn says whether one of the spans begins in one of the places.
func begunIn(spans, places readings.Spans) bool {
	for _, p := range places {
		if anyBegins(spans, p) {
			return true
		}
	}
	return false
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
// selected, and not because the lever was moved to DOWN; also where no lock is recorded.
func (t *Tracks) legsFollow(selected readings.Spans) bool {
	if missing, _ := t.needsOf("gear_down_locked"); len(missing) > 0 {
		return true
	}
	locked, lever := t.Condition("gear_down_locked").True, t.selectedDown()
	for _, s := range selected {
		moved := anyBegins(lever, stretch(s.Start-usualTravel, s.Start+freeFall))
		if anyBegins(locked, stretch(s.Start, s.Start+freeFall)) && !moved {
			return true
		}
	}
	return false
}

// selectedDown is where the lever is at DOWN; nil where it is not recorded.
func (t *Tracks) selectedDown() readings.Spans {
	if !t.Has("gear_lever") {
		return nil
	}
	return t.State("gear_lever", "DOWN").True
}

// leftBehind are those of the spans that begin where the lever has been at DOWN for
// longer than the legs take, and a leg is not locked.
func (t *Tracks) leftBehind(spans readings.Spans) (out readings.Spans) {
	late := readings.Intersect(t.selectedDown().Widen(usualTravel, 0), t.Condition("gear_down_locked").False)
	for _, s := range spans {
		if late.Contains(s.Start) {
			out = append(out, s)
		}
	}
	return out
}
