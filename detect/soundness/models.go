package soundness

import (
	"slices"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
)

// ending covers the parameters whose names end so, named those of these names.
func ending(suffixes ...string) func(string) bool {
	return func(name string) bool {
		return slices.ContainsFunc(suffixes, func(suffix string) bool { return strings.HasSuffix(name, suffix) })
	}
}

func named(names ...string) func(string) bool {
	return func(name string) bool { return slices.Contains(names, name) }
}

var (
	isStrut    = ending("_strut_compressed", "weight_on_wheels")
	isDownLock = ending("gear_down_locked")
	isUpLock   = ending("gear_up_locked")
	isReverser = func(name string) bool { return strings.HasPrefix(name, "thrust_reverser_") }
)

// The places of a model or claim, as functions of the evidence.

func inAir(e evidence) readings.Spans         { return e.air }
func onGround(e evidence) readings.Spans      { return e.ground }
func wheelsDown(e evidence) readings.Spans    { return e.wheels }
func beforeAir(e evidence) readings.Spans     { return e.before }
func approaching(e evidence) readings.Spans   { return e.last }
func landed(e evidence) readings.Spans        { return e.after }
func isRolling(e evidence) readings.Spans     { return e.rolling }
func gearUp(e evidence) readings.Spans        { return e.up }
func gearDown(e evidence) readings.Spans      { return e.down }
func gearDownInAir(e evidence) readings.Spans { return readings.Intersect(e.down, e.air) }
func allLocked(e evidence) readings.Spans     { return e.allLocked }
func farAbove(e evidence) readings.Spans      { return e.high }
func anywhere(e evidence) readings.Spans      { return readings.Union(e.air, e.ground) }

// throughout is the whole recording, where it is surely in the air or on the ground at
// some time.
func throughout(e evidence) readings.Spans {
	if len(e.air)+len(e.ground) == 0 {
		return nil
	}
	return e.whole
}

// airWithGround is the air, in a recording with the ground before or after.
func airWithGround(e evidence) readings.Spans {
	if e.wheels.Seconds() < leastSide {
		return nil
	}
	return e.air
}

// gearUpOnly is where the gear is up, in a recording without the ground before.
func gearUpOnly(e evidence) readings.Spans {
	if e.before.Seconds() >= leastSide {
		return nil
	}
	return e.up
}

// gearDownOnly is where the gear is down, in a recording without the ground before.
func gearDownOnly(e evidence) readings.Spans {
	if e.before.Seconds() >= leastSide {
		return nil
	}
	return e.down
}

// setAndReleased says that a parameter behaves like a brake before the flight: true for
// a while, and false on the whole of the take-off roll. One that is turned round does not.
func setAndReleased(is readings.Condition, e evidence) bool {
	roll := readings.Intersect(e.rolling, e.before)
	return readings.Intersect(is.True, e.before).Seconds() >= leastSide &&
		roll.Seconds() >= leastSide && readings.Intersect(is.False, roll).Seconds() == roll.Seconds()
}

// closedAtRest says that doors are closed where the legs are up, or where they are down.
// An alternate extension leaves them open with the gear down alone.
func closedAtRest(is readings.Condition, e evidence) bool {
	up, _ := shareOf(is, e.up)
	down, _ := shareOf(is, e.down)
	return max(up, down) >= 1-reversed
}

// disarmedAfter says that a speedbrake is armed at some time, and not after a touchdown,
// when it is out.
func disarmedAfter(is readings.Condition, e evidence) bool {
	share, _ := shareOf(is, e.after)
	return share <= reversedToo && len(is.True) > 0
}

// wrongWay is what most hints begin with.
const wrongWay = "reverse true_when: some exports write the state of the circuit"

// models lists those of every discrete, the gear lever and the speedbrake handle. Their
// figures are common practice: each leaves room for a switch that sticks, a leg that
// jams and a test on the stand, which the rules report.
var models = []model{
	{id: "strut-polarity", title: "struts and air/ground against speed and height", covers: isStrut, means: "compressed",
		on: onGround, off: inAir, family: onGround,
		claims: []claim{{true, inAir, 0.9, 10, "in the air"}},
		hint:   wrongWay + ", 1 in the air"},
	{id: "down-lock-polarity", title: "down-locks against speed and height, the lever and the other locks", covers: isDownLock, means: "down and locked",
		on: gearDown, off: gearUp, family: wheelsDown,
		claims: []claim{
			{false, beforeAir, 0.9, 10, "on the ground before the flight"},
			{false, gearDownOnly, 0.97, 60, "by the lever and the other locks, which is the whole recording; or the leg was never locked"},
			{true, gearUpOnly, 0.97, 60, "with the gear up by the lever and the other locks, that is for the whole recording"},
		},
		hint: wrongWay + ", 0 when locked; or check the column"},
	{id: "up-lock-polarity", title: "up-locks against speed and height, the lever and the other locks", covers: isUpLock, means: "up and locked",
		on: gearUp, off: gearDown, family: gearUp,
		claims: []claim{
			{true, wheelsDown, 0.9, 10, "on the ground"},
			{true, gearDown, 0.97, 30, "with the gear down by the lever and the other locks"},
			{false, gearUpOnly, 0.97, 60, "with the gear up by the lever and the other locks, that is for the whole recording"},
		},
		hint: wrongWay + ", 0 when locked; or check the column"},
	{id: "lever-polarity", title: "gear lever against speed and height, and the locks", covers: named("gear_lever"), means: "not at UP",
		on: gearDown, off: gearUp,
		claims: []claim{
			{false, beforeAir, 0.9, 10, "on the ground before the flight"},
			{false, gearDownOnly, 0.97, 60, "with the gear down by the locks, that is for the whole recording"},
		},
		hint: "exchange UP and DOWN in the states of gear_lever"},
	{id: "door-polarity", title: "gear doors with the legs at rest", covers: ending("gear_door_closed"), means: "closed",
		claims: []claim{
			{false, beforeAir, 0.9, 10, "on the ground before the flight"},
			{false, gearUpOnly, 0.9, 5, "with the gear up"},
			{false, throughout, 0.99, 60, "of the recording"},
		},
		shown: closedAtRest,
		hint:  wrongWay + ", 1 when open; or check the column"},
	{id: "tilt-polarity", title: "trucks against speed and height", covers: ending("_truck_tilted"), means: "tilted",
		on: gearDownInAir, off: wheelsDown, claims: []claim{{true, onGround, 0.9, 10, "on the ground"}},
		hint: wrongWay + ", 1 when level"},
	{id: "alignment-polarity", title: "body-gear steering in the air", covers: named("body_gear_aligned"), means: "aligned",
		claims: []claim{{false, anywhere, 0.8, 20, "on the ground and in the air"}},
		hint:   wrongWay + ", 1 when turned"},
	{id: "warning-polarity", title: "warnings that are usually off", covers: named("gear_horn", "gear_horn_cutout", "master_warning", "takeoff_configuration_warning", "takeoff_warning_silenced",
		"gpws_too_low_gear", "gpws_too_low_flaps", "gpws_too_low_terrain"), means: "on",
		claims: []claim{
			{true, anywhere, 0.8, 20, "on the ground and in the air"},
			{true, wheelsDown, 0.5, 8, "on the ground"},
			{true, throughout, 0.97, 60, "of the recording"},
			{true, gearUp, 0.9, 60, "with the gear up"},
		},
		hint: wrongWay + ", 0 when on; or check the column"},
	{id: "ground-proximity-on-ground", title: "voices of the ground-proximity system on the roll", covers: named("gpws_too_low_gear", "gpws_too_low_flaps", "gpws_too_low_terrain"), means: "on",
		claims: []claim{
			{true, isRolling, 0, 3, "on the take-off or landing roll"},
			{true, farAbove, 0, 3, "far above the ground by radio altitude"},
		},
		hint: "check the column: the voices sound in the last thousand feet above the ground, and are inhibited below 30 ft"},
	{id: "takeoff-warning-in-air", title: "take-off configuration warning in the air", covers: named("takeoff_configuration_warning"), means: "on",
		claims: []claim{{true, inAir, 0, 10, "in the air"}},
		hint:   "check the column: the warning stops at lift-off"},
	{id: "extension-too-late", title: "alternate means of extension with the gear already down", covers: named("alternate_extension_selected", "emergency_gear_pressure"), means: "on",
		begins: allLocked, beginsWords: "after every leg was down and locked",
		hint: "check the columns of alternate_extension_selected and emergency_gear_pressure"},
	{id: "switch-polarity", title: "switches that are usually off", covers: named("alternate_extension_selected", "emergency_gear_pressure", "gear_lever_lock_override"), means: "on",
		claims: []claim{
			{true, beforeAir, 0.5, 10, "on the ground before the flight"},
			{true, gearUp, 0.5, 8, "with the gear up"},
			{true, throughout, 0.97, 60, "of the recording"},
		},
		hint: wrongWay + ", 0 when on; or check the column"},
	{id: "lever-lock-override", title: "override of the lever lock with the gear down", covers: named("gear_lever_lock_override"), means: "on",
		claims: []claim{{true, gearDown, 0.9, 10, "with the gear down"}},
		hint:   "check the column: the override is held only for the selection"},
	{id: "flap-override-polarity", title: "flap override of the ground-proximity system before the flight", covers: named("gpws_flap_override"), means: "on",
		claims: []claim{{true, beforeAir, 0.5, 30, "on the ground before the flight"}},
		hint:   wrongWay + ", 0 when on; or check the column"},
	{id: "lever-lock-polarity", title: "lever lock on the ground and in the air", covers: named("gear_lever_lock_released"), means: "released",
		on: inAir, off: wheelsDown, hint: wrongWay + ", 1 when locked"},
	{id: "speedbrake-arming-polarity", title: "arming of the speedbrake with the gear up", covers: named("speedbrake_armed"), means: "armed",
		on: gearDownInAir, off: gearUp,
		claims: []claim{{true, gearUp, 0.97, 300, "with the gear up"}},
		hint:   wrongWay + ", 0 when armed; or check the column"},
	{id: "speedbrake-arming-landing", title: "arming of the speedbrake before and after a touchdown", covers: named("speedbrake_armed"), means: "armed",
		on: approaching, off: landed, shown: disarmedAfter, hint: wrongWay + ", 0 when armed; or check the column"},
	{id: "parking-brake-polarity", title: "parking brake in the air", covers: named("parking_brake"), means: "set",
		claims: []claim{
			{true, inAir, 0, 60, "in the air"},
			{true, inAir, 0.9, 10, "in the air"},
		},
		believed: setAndReleased,
		hint:     wrongWay + ", 0 when set; or check the column"},
	{id: "hydraulic-polarity", title: "low hydraulic pressure on the roll", covers: named("hydraulic_pressure_low_a", "hydraulic_pressure_low_b", "hydraulic_pressure_low_c"), means: "low",
		claims: []claim{{true, isRolling, 0.9, 5, "on the take-off or landing roll"}},
		hint:   wrongWay + ", 0 when low; or check the column"},
	{id: "reverser-polarity", title: "thrust reversers before the flight and in the air", covers: isReverser, means: "out of its stowed position or selected",
		claims: []claim{
			{true, beforeAir, 0.9, 10, "on the ground before the flight"},
			{true, inAir, 0.9, 10, "in the air"},
			{true, throughout, 0.97, 60, "of the recording"},
		},
		hint: wrongWay + ", 1 when stowed; or check the column"},
	{id: "speedbrake-handle", title: "speedbrake handle in the air", covers: named("speedbrake_handle"), means: "out",
		claims: []claim{
			{true, airWithGround, 0.6, 10, "in the air"},
			{true, inAir, 0.9, 120, "in the air"},
		},
		hint: "check the column and the scale of speedbrake_handle"},
}

// polarityChecks hold every discrete and the gear lever against its model.
func polarityChecks(s *samples.Set, e evidence) (checks []Check) {
	for _, m := range models {
		checks = append(checks, m.check(s, e))
	}
	return checks
}
