package simulator

// healthSpans are the rules about the state of the gear and its switches.
func (f *Flight) healthSpans() []spanRule {
	airborne, up, down := f.airborne(), f.lever(LeverUp), f.lever(LeverDown)
	opening, closing := all(down, not(f.allDown())), all(up, not(f.allUp()))
	doors := not(f.on("gear doors", 1))
	left, right := f.on("left strut", 1), f.on("right strut", 1)
	rules := []spanRule{
		{id: "extension-slow", condition: all(airborne, lasting(opening, f.value("extension_time")))},
		{id: "retraction-slow", condition: all(airborne, lasting(all(up, latched(after(begins(up), 1), f.allUp())), f.value("retraction_time")), not(f.stayedDown())), atLeast: 3},
		{id: "slow-leg", condition: all(airborne, lasting(all(opening, f.anyDown()), f.value("leg_spread_time")))},
		{id: "slow-leg-up", condition: all(airborne, lasting(all(closing, f.anyUp()), f.value("leg_spread_time")), after(begins(up), f.value("disagreement_time")))},
		{id: "lever-position-disagree", condition: all(airborne, lasting(some(opening, closing), f.value("disagreement_time")))},
		{id: "up-lock-lost", condition: f.upLockLost(), atLeast: 2},
		{id: "doors-left-open", condition: all(airborne, lasting(all(f.allUp(), doors), f.value("door_time")))},
		{id: "strut-switches-disagree", condition: lasting(some(all(left, not(right)), all(right, not(left))), f.value("strut_disagreement_time"))},
		{id: "strut-switch-chatter", condition: all(some(often(f.flicks("left strut"), 6, 5), often(f.flicks("right strut"), 6, 5)), f.strutsAtRest()), gap: 10},
	}
	if f.Profile.HasSystem("alternate_extension") {
		open, evidence := all(airborne, lasting(all(f.allDown(), doors), f.value("door_time"))), f.freeFall()
		rules = append(rules, spanRule{id: "alternate-extension", condition: all(open, evidence)}, spanRule{id: "doors-open-gear-down", condition: all(open, not(evidence))})
		if f.recorded("alternate extension") {
			rules = append(rules, spanRule{id: "alternate-extension-selected", condition: all(airborne, f.on("alternate extension", 1))})
		}
	}
	if f.Profile.HasSystem("emergency_pressure") {
		rules = append(rules, spanRule{id: "emergency-pressure", condition: all(airborne, f.on("emergency gear pressure", 1))})
	}
	return rules
}

// freeFall holds where a signal other than the doors indicates an alternate
// extension.
func (f *Flight) freeFall() known {
	k := nothing
	for _, column := range []string{"alternate extension", "hydraulic A low", "hydraulic B low"} {
		if f.recorded(column) {
			k = some(k, f.on(column, 1))
		}
	}
	return k
}

// upLockLost holds where a leg has left its up-lock without a command.
func (f *Flight) upLockLost() known {
	lost := all(f.airborne(), not(f.allUp()), not(f.lever(LeverDown)), not(f.anyDown()),
		not(after(begins(f.lever(LeverUp)), f.value("disagreement_time"))))
	if f.Profile.HasSystem("alternate_extension") {
		lost = all(lost, not(f.on("alternate extension", 1)))
	}
	return lost
}

// strutsAtRest holds away from the lift-offs and touchdowns, at which the struts
// move.
func (f *Flight) strutsAtRest() known {
	up, down := f.liftOffs(), f.touchdowns()
	return not(some(before(up, 5), after(up, 10), before(down, 5), after(down, 10)))
}

// flicks are the changes of a switch, both ways.
func (f *Flight) flicks(column string) []moment {
	on := f.on(column, 1)
	return inOrder(begins(on), begins(not(on)))
}
