package simulator

import "slices"

// inOrder puts moments of several kinds in order of time.
func inOrder(kinds ...[]moment) []moment {
	ms := slices.Concat(kinds...)
	slices.SortStableFunc(ms, func(a, b moment) int { return compareTimes(a.at, b.at) })
	return ms
}

// selectionMoments are the rules about movements of the gear lever and their
// consequences.
func (f *Flight) selectionMoments() []momentRule {
	airborne, up, down := f.airborne(), f.lever(LeverUp), f.lever(LeverDown)
	toUp, toDown := begins(up), begins(down)
	cycle := f.value("lever_cycle_time")
	upInAir, downInAir := begins(all(airborne, up)), begins(all(airborne, down))
	rules := []momentRule{
		{"gear-extension-speed", toDown, all(airborne, f.above("airspeed", f.value("gear_extension_speed")))},
		{"gear-retraction-speed", toUp, all(airborne, f.above("airspeed", f.value("gear_retraction_speed")))},
		{"gear-up-before-positive-climb", toUp, all(airborne, f.climbs(), f.below("vertical speed", f.value("positive_climb_rate")))},
		{"nose-wheel-not-centred", begins(not(f.on("nose down-locked", 1))), all(airborne, some(
			f.above("nose wheel angle", f.value("nose_wheel_centred_within")), f.below("nose wheel angle", -f.value("nose_wheel_centred_within"))))},
		{"lever-cycled", toUp, all(airborne, after(downInAir, cycle), not(after(f.liftOffs(), cycle)))},
		{"lever-cycled", toDown, all(airborne, after(upInAir, cycle))},
		{"return-with-gear-down", f.touchdowns(), after(begins(all(airborne, f.stayedDown())), f.value("return_time"))},
	}
	if f.Profile.HasSystem("truck_tilt") {
		rules = append(rules, momentRule{"truck-not-tilted", toUp, all(airborne, not(all(f.on("left truck tilted", 1), f.on("right truck tilted", 1))))})
	}
	if f.Profile.HasSystem("body_gear_steering") {
		rules = append(rules, momentRule{"body-gear-not-aligned", toUp, all(airborne, not(f.on("body gear aligned", 1)))})
	}
	return rules
}

func (f *Flight) approachMoments() []momentRule {
	open, noFlap := not(f.allDown()), not(f.flapClass("landing"))
	instrument, visual := f.lastFalls(f.value("stabilisation_height")), f.lastFalls(f.value("visual_stabilisation_height"))
	return []momentRule{
		{"gear-late", instrument, open},
		{"gear-late-visual", visual, open},
		{"landing-flap-late", instrument, noFlap},
		{"landing-flap-late-visual", visual, noFlap},
		{"gear-not-locked-at-touchdown", f.touchdowns(), open},
		{"reduced-flap-landing", f.touchdowns(), noFlap},
		{"speedbrake-not-armed", f.lastFalls(f.value("speedbrake_height")), f.notArmed()},
		{"configuration-change-low", inOrder(f.flapSteps(anyStep), f.changes(GearLever, "gear lever", anyStep)),
			all(f.approaches(), f.lower(f.value("visual_stabilisation_height")))},
		{"flap-retracted-early", f.flapSteps(retraction), all(f.airborne(), f.climbs(), f.lower(f.value("flap_retraction_height")))},
	}
}

func (f *Flight) goAroundMoments() []momentRule {
	turns, climb := f.goArounds(), f.value("positive_climb_rate")
	return []momentRule{
		{"go-around-retraction-early", inOrder(begins(f.lever(LeverUp)), begins(f.flapClass("up"))),
			all(f.airborne(), some(before(turns, 30), after(turns, 60)), f.below("vertical speed", climb),
				not(latched(all(after(turns, 60), f.above("vertical speed", climb)), before(turns, 30))))},
		{"go-around-gear-never-extended", turns, all(not(f.allDown()), f.lower(f.value("stabilisation_height")), not(after(begins(f.lever(LeverUp)), 30)))},
	}
}

// notArmed is that the speedbrake is not armed. In a recording that holds the gear down
// alone, a column that never changes may as well be that of a speedbrake always armed,
// read the wrong way round: then nothing is sure.
func (f *Flight) notArmed() known {
	armed := f.on("speedbrake armed", 1)
	notArmed := not(armed)
	if len(f.within(armed.really)) == 0 && len(f.within(f.lever(LeverUp).really)) == 0 {
		notArmed.surely = nil
	}
	return notArmed
}
