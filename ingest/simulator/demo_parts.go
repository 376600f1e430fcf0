package simulator

import (
	"math"
	"time"
)

// The parts of flights below keep the files small: a departure that ends in the air,
// an arrival that begins there, a section of cruise.

const legNose, legLeft, legRight = 0, 1, 2

// leaving is a departure, recorded from a time until so many seconds after lift-off.
func leaving(date time.Time, from, until float64, change func(*departure)) *script {
	s := outward(date, func(d *departure, _ *arrival) {
		if change != nil {
			change(d)
		}
	})
	s.Start, s.End = from, usualLiftOff+until
	s.Airborne[0].Touchdown = math.Inf(1)
	return s
}

// arriving is an arrival, recorded from so many seconds before touchdown until twelve
// after it.
func arriving(date time.Time, before float64, change func(*arrival)) *script {
	s := outward(date, func(_ *departure, a *arrival) {
		if change != nil {
			change(a)
		}
	})
	s.Start, s.End = math.Floor(usualTouchdown-before), usualTouchdown+12
	s.Airborne[0].LiftOff = math.Inf(-1)
	return s
}

// circling is an approach given up 52 s before the intended touchdown, with nothing
// after it.
func circling(date time.Time, change func(*arrival, *climbAway)) *script {
	s := &script{Scenario{Epoch: date, Start: math.Floor(usualTouchdown - 150), End: usualTouchdown + 40, From: ostrey, To: fenmark}}
	a, c := usualArrival(usualTouchdown), usualClimbAway()
	change(&a, &c)
	s.Terrain = []Knot{{0, fenmarkElevation}}
	s.do(0, GearLever, LeverUp)
	s.do(0, Trim, 4)
	s.descend(a, 4500)
	s.goAround(a, c)
	s.Airborne = []Airborne{{math.Inf(-1), math.Inf(1)}}
	return s
}

func lockLetGo() Scenario {
	s := leaving(day(time.June, 3, 8, 10), 20, 45, nil)
	s.Faults.Forced = []Force{{"lever lock released", 80, 84, 1}, {"nose wheel angle", 98, 103, 9}}
	s.Faults.Slow = []SlowLeg{{legLeft, 6.9, 17}}
	return s.done()
}

// noTakeOffFlap takes off with the flap up. During the taxi the right strut switch is
// stuck for 9 s, and the left one chatters.
func noTakeOffFlap() Scenario {
	s := leaving(day(time.June, 3, 15, 30), 0, 25, nil)
	s.do(40, FlapHandle, 0)
	s.Faults.Forced = append(chatter("left strut", 44, 0.5, 8, 0), Force{"right strut", 25, 34, 0})
	return s.done()
}

// brakedTakeOff sets thrust at about 68 s with the parking brake set and the trim
// beyond the green band. The warning sounds 7 s later.
func brakedTakeOff() Scenario {
	s := leaving(day(time.June, 5, 11, 0), 20, 20, nil)
	s.do(30, Trim, 8.5)
	s.do(64, ParkingBrake, 1)
	s.do(75.45, ParkingBrake, 0)
	s.Faults.Forced = []Force{{"take-off warning", 60, 75, 0}}
	return s.done()
}

// silentTakeOff takes off with the speedbrake out and without the warning. During the
// taxi the warning sounded without cause.
func silentTakeOff() Scenario {
	s := leaving(day(time.June, 8, 7, 20), 20, 20, nil)
	s.do(50, Speedbrake, 15)
	s.do(usualLiftOff+12, Speedbrake, 0)
	s.Faults.Forced = []Force{{"take-off warning", 44, 50, 1}, {"take-off warning", 60, 100, 0}}
	return s.done()
}

// sinkingDeparture sinks again after lift-off while the gear is selected up. The flap
// follows below 400 ft, and the lever is cycled.
func sinkingDeparture() Scenario {
	const at = usualLiftOff
	s := leaving(day(time.June, 10, 18, 45), 60, 80, func(d *departure) { d.gearUp, d.flapUp, d.leverOff = 8, 17, 0 })
	s.Height = []Knot{{0, 0}, {at, 0}, {at + 6, 60}, {at + 10, 45}, {at + 14, 70}, {at + 24, 400}, {at + 45, 1500}, {at + 90, 3000}}
	s.do(at+36, GearLever, LeverDown)
	s.do(at+58, GearLever, LeverUp)
	return s.done()
}

// highCruise climbs through 20,000 ft with gear and flap still out. The doors stay
// open, and one leg falls out of its up-lock.
func highCruise() Scenario {
	s := &script{Scenario{Epoch: day(time.June, 12, 10, 5), End: 110, From: ostrey, To: fenmark}}
	s.Terrain = []Knot{{0, ostreyElevation}}
	s.Height, s.Speed = []Knot{{0, 19480}, {110, 21680}}, []Knot{{0, 205}}
	s.Airborne = []Airborne{{math.Inf(-1), math.Inf(1)}}
	s.do(0, GearLever, LeverDown)
	s.do(0, FlapHandle, 1)
	s.do(0, Trim, 4)
	s.throttles(0, 36)
	s.do(30, GearLever, LeverUp)
	s.do(50, FlapHandle, 0)
	s.do(70, GearLever, LeverOff)
	s.Faults.Forced = []Force{{"gear doors", 39, 60, 0}}
	s.Faults.Sag = &Sag{legRight, 80, 88}
	return s.done()
}

func slowNoseLeg() Scenario {
	s := arriving(day(time.June, 15, 9, 40), 200, nil)
	s.End = usualTouchdown - 100
	s.Airborne[0].Touchdown = math.Inf(1)
	s.Faults.Slow = []SlowLeg{{legNose, 17, 7.1}}
	return s.done()
}

// freeFall lets the gear fall out by its weight. The doors stay open after it.
func freeFall(date time.Time, recorded bool) Scenario {
	s := arriving(date, 200, nil)
	s.do(usualTouchdown-189, AlternateExtension, 1)
	s.Faults.Forced = []Force{{"hydraulic A low", 0, s.End, 1}}
	if !recorded {
		s.Faults.NotRecorded = []string{"alternate extension"}
		s.End = usualTouchdown - 100
		s.Airborne[0].Touchdown = math.Inf(1)
	}
	return s.done()
}

func flap15Landing() Scenario {
	return arriving(day(time.June, 18, 12, 30), 130, func(a *arrival) { a.flap30 = 0 }).done()
}

// silentFlapAlert lands with flap 15 and the speedbrake not armed. The alert sounded
// too high and is silent while required.
func silentFlapAlert() Scenario {
	s := arriving(day(time.June, 19, 16, 55), 130, func(a *arrival) { a.flap30, a.armed = 0, 0 })
	s.Faults.Forced = []Force{{"too low flaps", usualTouchdown - 115, usualTouchdown - 109, 1}, {"too low flaps", usualTouchdown - 40, s.End, 0}}
	return s.done()
}

// lastMomentFlap sets landing flap 9 s before touchdown; the alert is late.
func lastMomentFlap() Scenario {
	s := arriving(day(time.June, 22, 8, 35), 130, func(a *arrival) { a.flap30 = 9 })
	s.Faults.Forced = []Force{{"too low flaps", usualTouchdown - 40, usualTouchdown - 15, 0}}
	return s.done()
}

// silentGearAlert extends the gear below the floor without an alert. The alert had
// sounded above the floor.
func silentGearAlert() Scenario {
	s := arriving(day(time.June, 24, 14, 15), 130, func(a *arrival) { a.gearDown, a.flap30 = 34, 38 })
	s.Faults.Forced = []Force{{"too low gear", usualTouchdown - 70, usualTouchdown - 64, 1}, {"too low gear", usualTouchdown - 60, s.End, 0}}
	return s.done()
}

// lateWarnings has the alert and the horn sound late. The horn also sounds without
// cause before.
func lateWarnings() Scenario {
	const d = usualTouchdown
	s := arriving(day(time.June, 26, 19, 25), 140, func(a *arrival) { a.gearDown, a.flap30 = 36, 50 })
	s.Faults.Forced = []Force{{"too low gear", d - 60, d - 34, 0}, {"gear horn", d - 120, d - 112, 1}, {"gear horn", d - 60, d - 45, 0}}
	return s.done()
}

// silencedLandingFlap has the horn cut-out silence a horn that it must not silence.
func silencedLandingFlap() Scenario {
	const d = usualTouchdown
	s := arriving(day(time.June, 29, 6, 50), 175, func(a *arrival) { a.gearDown = 118 })
	s.End = d - 95
	s.Airborne[0].Touchdown = math.Inf(1)
	s.do(d-150, HornCutout, 1)
	s.do(d-100, HornCutout, 0)
	s.Faults.Forced = []Force{{"gear horn", d - 150, d - 100, 0}}
	return s.done()
}

func speedbrakeOut() Scenario {
	s := arriving(day(time.July, 1, 13, 5), 130, func(a *arrival) { a.armed = 0 })
	s.do(usualTouchdown-100, Speedbrake, 20)
	s.do(usualTouchdown-35, Speedbrake, 0)
	return s.done()
}

// earlyRetraction retracts the flap fully while the aircraft still sinks, and leaves
// the gear down.
func earlyRetraction() Scenario {
	return circling(day(time.July, 3, 17, 40), func(_ *arrival, c *climbAway) { c.flapBack, c.flap, c.gearUp = -5, 0, 45 }).done()
}

func neverExtended() Scenario {
	return circling(day(time.July, 6, 9, 15), func(a *arrival, _ *climbAway) { a.gearDown, a.flap30 = 0, 0 }).done()
}
