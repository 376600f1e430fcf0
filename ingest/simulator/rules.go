package simulator

import (
	"fmt"
	"slices"
)

// spanRule is a rule whose events are the stretches in which a condition holds.
type spanRule struct {
	id        string
	condition known
	atLeast   float64 // s
	gap       float64 // s, in place of the usual mergeGap
	undecided bool    // also report the stretches the samples leave undecided
}

// momentRule is a rule whose events are moments at which a condition holds.
type momentRule struct {
	id        string
	moments   []moment
	condition known
}

func (f *Flight) value(name string) float64 { return f.Profile.Values[name] }

// spanRules and momentRules state the meaning of the rules. They leave out rules
// about systems that the type does not have.
func (f *Flight) spanRules() []spanRule {
	return slices.Concat(f.gearSpans(), f.approachSpans(), f.limitSpans(), f.takeOffSpans(), f.healthSpans())
}

func (f *Flight) momentRules() []momentRule {
	return slices.Concat(f.selectionMoments(), f.approachMoments(), f.goAroundMoments())
}

func (f *Flight) gearSpans() []spanRule {
	up, airborne, released := f.lever(LeverUp), f.airborne(), f.leverLockDue()
	override := f.on("lever lock override", 1)
	return []spanRule{
		{id: "gear-up-before-strut-extension", condition: all(up, f.mainCompressed()), undecided: true},
		{id: "gear-locked-down-after-up", condition: all(airborne, f.stayedDown())},
		{id: "lever-lock-released-early", condition: all(f.on("lever lock released", 1), not(override), not(released)), atLeast: 2},
		{id: "lever-lock-overridden", condition: all(override, not(released))},
		{id: "go-around-gear-left-down", condition: lasting(all(airborne, f.lever(LeverDown), until(f.goArounds(), up)), f.value("go_around_gear_time"))},
	}
}

// stayedDown holds where a leg stays down and locked for longer than usual after UP
// was selected.
func (f *Flight) stayedDown() known {
	return lasting(all(f.lever(LeverUp), f.anyDown()), f.value("unlock_time"))
}

func (f *Flight) approachSpans() []spanRule {
	airborne, open := f.airborne(), not(f.allDown())
	speedbrake := f.above("speedbrake", f.value("speedbrake_extended_above"))
	low := f.lowerThan(f.value("gear_warning_height"))
	return []spanRule{
		{id: "landing-flap-gear-not-locked", condition: all(airborne, f.flapClass("landing"), open)},
		{id: "throttle-retarded-gear-not-locked", condition: all(airborne, f.flapClass("intermediate"), f.throttleRetarded(), open, not(f.climbingOut()), low)},
		{id: "warning-inhibited", condition: all(airborne, f.on("horn isolation switch", 1), open, low)},
		{id: "too-low-gear", condition: f.tooLowGear(), undecided: true},
		{id: "too-low-flaps", condition: f.tooLowFlaps(), undecided: true},
		{id: "speedbrake-with-landing-flap", condition: all(airborne, f.flapClass("landing"), speedbrake), atLeast: 2},
		{id: "speedbrake-low", condition: all(f.approaches(), airborne, speedbrake, f.lower(f.value("speedbrake_height"))), atLeast: 2},
	}
}

// mode4Armed holds where the alerts of mode 4 are armed: from the arming time after a
// lift-off. They are not armed from 245 ft in the landing configuration until 700 ft
// after it.
func (f *Flight) mode4Armed() known {
	high := some(f.above("radio height", 700), f.mainCompressed())
	ready := all(f.allDown(), f.flapClass("landing"), f.below("radio height", 245))
	return all(held(f.airborne(), f.value("too_low_gear_arming_time")), not(latched(ready, high)))
}

func (f *Flight) belowGearFloor() known {
	return all(f.belowFloor("too_low_gear_floor", "too_low_gear_cut_off"), not(f.allDown()))
}

func (f *Flight) belowFlapsFloor() known {
	return all(f.belowFloor("too_low_flaps_floor", "too_low_flaps_cut_off"), f.allDown(), not(f.flapClass("landing")))
}

func (f *Flight) tooLowGear() known  { return all(f.belowGearFloor(), f.mode4Armed()) }
func (f *Flight) tooLowFlaps() known { return all(f.belowFlapsFloor(), f.mode4Armed()) }

func (f *Flight) limitSpans() []spanRule {
	airborne, extended := f.airborne(), not(f.allUp())
	return []spanRule{
		{id: "gear-transit-speed", condition: all(airborne, extended, not(f.allDown()), some(f.tooFastFor(LeverUp, "gear_retraction_speed"), f.tooFastFor(LeverDown, "gear_extension_speed")))},
		{id: "gear-extended-speed", condition: all(airborne, f.above("airspeed", f.value("gear_extended_speed")), extended), undecided: true},
		{id: "flap-placard-speed", condition: all(airborne, f.abovePlacard()), undecided: true},
		{id: "gear-altitude", condition: all(airborne, f.above("pressure altitude", f.value("gear_altitude")), extended), undecided: true},
		{id: "flap-altitude", condition: all(airborne, f.above("pressure altitude", f.value("flap_altitude")), not(f.flapClass("up"))), undecided: true},
	}
}

// tooFastFor holds where the airspeed is above a limit shortly after the gear lever
// was moved to a position.
func (f *Flight) tooFastFor(position float64, limit string) known {
	return all(f.lever(position), after(begins(f.lever(position)), f.value("disagreement_time")), f.above("airspeed", f.value(limit)))
}

// lowerThan holds where the height above the aerodrome is below a level. The level
// may be above the ceiling of the radio altimeter. The reading of the aerodrome's own
// altitude adds a second error.
func (f *Flight) lowerThan(height float64) known {
	accuracy := 2 * f.accuracy("pressure altitude")
	return f.fact(fmt.Sprintf("height below %g", height), "pressure altitude", func(t, margin float64) bool { return f.Height(t) < height-margin*accuracy })
}

// takeOffRun holds at take-off thrust on the ground, except in a touch-and-go.
func (f *Flight) takeOffRun() known {
	var contacts []stretch
	for i, a := range f.Scenario.Airborne {
		if i == 0 {
			continue
		}
		if down := f.Scenario.Airborne[i-1].Touchdown; a.LiftOff-down < 60 {
			contacts = append(contacts, stretch{down - 1, a.LiftOff + 1})
		}
	}
	return all(f.mainCompressed(), f.thrust(), not(decided(joined(0, contacts...))))
}

// stationary holds where the aircraft stands still on the ground.
func (f *Flight) stationary() known { return all(f.mainCompressed(), f.below("ground speed", 5)) }

// Faults of the configuration for take-off.
func (f *Flight) wrongFlap() known { return not(f.flapClass("takeoff")) }

func (f *Flight) wrongTrim() known {
	return some(f.below("trim", f.value("takeoff_trim_lowest")), f.above("trim", f.value("takeoff_trim_highest")))
}

func (f *Flight) wrongSpeedbrake() known {
	return f.above("speedbrake", f.value("speedbrake_extended_above"))
}

func (f *Flight) takeOffSpans() []spanRule {
	run := f.takeOffRun()
	return []spanRule{
		{id: "takeoff-flap", condition: all(run, f.wrongFlap()), atLeast: 2},
		{id: "takeoff-speedbrake", condition: all(run, f.wrongSpeedbrake()), atLeast: 2},
		{id: "takeoff-parking-brake", condition: all(run, f.on("parking brake", 1)), atLeast: 2},
		{id: "takeoff-trim", condition: all(run, f.wrongTrim()), atLeast: 2},
	}
}
