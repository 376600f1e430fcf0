package simulator

import "time"

// demoFlights lists the demonstration set. Numbers inside are seconds: after lift-off
// for a departure, before touchdown for an arrival.
func demoFlights() []entry {
	return []entry{
		{"tarnholm-01.csv.gz", "nothing to report", outward(day(time.March, 2, 10, 15), nil).done(), wide, false},
		{"tarnholm-02.csv.zst", "a go-around, nothing to report", goAroundFlight(), wideZstd, false},
		{"tarnholm-03.csv.zst", "a touch-and-go, nothing to report", touchAndGoFlight(), wideZstd, false},
		{"tarnholm-04.csv.gz", "landing flap before the gear was locked", lateGear(), wide, false},
		{"tarnholm-05.arrow.zst", "throttles retarded with intermediate flap and the gear up; the horn silenced", silencedHorn(), arrow, false},
		{"tarnholm-06.csv.gz", "gear selected up before the struts had extended, the lever lock overridden", leverBeforeStrut(), wide, false},
		{"tarnholm-07.csv.gz", "lever and strut so close in time that the samples leave their order undecided", leverAtStrut(), wide, false},
		{"tarnholm-08.csv.gz", "gear and landing flap late, in the mode 4A envelope", tooLowGear(), wide, false},
		{"tarnholm-09.csv.zst", "the right leg stops short; alternate extension; touchdown with the leg not locked", jammedLeg(), wideZstd, false},
		{"tarnholm-10.csv.gz", "gear and flap extended above their limit speeds", fastApproach(), wide, false},
		{"tarnholm-11.csv.zst", "gear selected up above its limit speed", lateRetraction(), wideZstd, false},
		{"tarnholm-12.csv.zst", "ground-lock pins left in: the gear stays down, the flight returns", pinnedDown(), wideZstd, false},
		{"tarnholm-13.csv.gz", "two flights in one recording; late landing flap on the second", thereAndBack(), wide, false},
		{"tarnholm-14.parquet", "begins in the air; landing flap before the gear was locked, and the horn did not sound", beginsInAir(), parquet, false},
		{"tarnholm-15.csv.zst", "long export; ends in the air; flap extended above its placard speed", endsInAir(), longZstd, false},
		{"tarnholm-16.csv.zst", "no strut switches; one throttle retarded with intermediate flap and the gear up", oneThrottle(), wideZstd, false},
		{"tarnholm-17.csv.zst", "lost samples, a spike, a value out of range; landing flap late", badDownload(), wideZstd, false},
		{"tarnholm-18.csv.gz", "semicolons, decimal commas, preamble, units row, clock times over midnight; throttles retarded, gear up", overMidnight(), wide, true},
		{"tarnholm-19.csv.gz", "the lever lock releases on the ground; the nose wheel is not centred as its leg unlocks; one leg slow to retract", lockLetGo(), wide, false},
		{"tarnholm-20.csv.gz", "take-off with the flap up, the warning sounding; a stuck and a chattering strut switch", noTakeOffFlap(), wide, false},
		{"tarnholm-21.csv.zst", "thrust set with the parking brake set and the trim out of range, the warning late", brakedTakeOff(), wideZstd, false},
		{"tarnholm-22.csv.zst", "take-off with the speedbrake extended and no warning; a warning without cause", silentTakeOff(), wideZstd, false},
		{"tarnholm-23.csv.zst", "gear selected up in a descent, flap retracted early, the lever cycled", sinkingDeparture(), wideZstd, false},
		{"tarnholm-24.csv.zst", "gear and flap extended above their altitude limits, doors left open, an up-lock lost", highCruise(), wideZstd, false},
		{"tarnholm-25.arrow.zst", "one leg slow to extend", slowNoseLeg(), arrow, false},
		{"tarnholm-26.arrow.zst", "alternate extension, shown by the doors: its handle is not recorded", freeFall(day(time.June, 16, 11, 10), false), arrow, false},
		{"tarnholm-27.csv.zst", "alternate extension, its handle recorded", freeFall(day(time.June, 17, 19, 0), true), wideZstd, false},
		{"tarnholm-28.csv.gz", "landing with less than landing flap, the alert sounding", flap15Landing(), wide, false},
		{"tarnholm-29.csv.zst", "landing with less than landing flap and the speedbrake not armed; the alert does not sound when required, and sounds without cause", silentFlapAlert(), wideZstd, false},
		{"tarnholm-30.csv.zst", "landing flap at the last moment, the alert late", lastMomentFlap(), wideZstd, false},
		{"tarnholm-31.csv.zst", "gear late; the too-low-gear alert does not sound when required, and sounds without cause", silentGearAlert(), wideZstd, false},
		{"tarnholm-32.csv.zst", "gear late, the too-low-gear alert and the horn late; the horn without cause", lateWarnings(), wideZstd, false},
		{"tarnholm-33.arrow.zst", "the horn silenced where not permitted", silencedLandingFlap(), arrow, false},
		{"tarnholm-34.csv.zst", "speedbrake with landing flap and low, and not armed", speedbrakeOut(), wideZstd, false},
		{"tarnholm-35.csv.zst", "go-around: flap all the way in before it climbs, gear left down", earlyRetraction(), wideZstd, false},
		{"tarnholm-36.csv.zst", "go-around with the gear never extended", neverExtended(), wideZstd, false},
	}
}

func lateGear() Scenario {
	return outward(day(time.March, 8, 6, 40), func(_ *departure, a *arrival) { a.gearDown = 118 }).done()
}

func silencedHorn() Scenario {
	s := outward(day(time.March, 11, 17, 25), earlyFlap)
	s.do(usualTouchdown-224, HornCutout, 1)
	s.do(usualTouchdown-206, HornCutout, 0)
	return s.done()
}

// earlyFlap sets intermediate flap while the throttles are closed, long before
// the gear.
func earlyFlap(_ *departure, a *arrival) { a.flap5, a.flap15 = 248, 232 }

// leverBeforeStrut moves the lever 0.9 s before the last strut extends at 95.45 s.
// The sample at 94.625 s shows UP, and the one at 95.25 s still shows a compressed
// strut.
func leverBeforeStrut() Scenario {
	s := outward(day(time.March, 15, 13, 55), func(d *departure, _ *arrival) { d.gearUp = -0.9 })
	s.do(usualLiftOff-2, LeverLockOverride, 1)
	s.do(usualLiftOff+3, LeverLockOverride, 0)
	return s.done()
}

// leverAtStrut moves the lever correctly, 0.15 s after the last strut has extended.
// The lever's samples at 94.625 and 95.625 s and the strut's at 95.25 and 95.5 s
// would look the same in the reverse order.
func leverAtStrut() Scenario {
	return outward(day(time.March, 20, 10, 35), func(d *departure, _ *arrival) { d.gearUp = 0.15 }).done()
}

func tooLowGear() Scenario {
	return outward(day(time.March, 24, 19, 15), func(_ *departure, a *arrival) { a.gearDown, a.flap30 = 34, 25.2 }).done()
}

func jammedLeg() Scenario {
	s := outward(day(time.March, 27, 7, 50), nil)
	s.Faults.Jam = &Jam{Leg: 2, At: 0.9, FreedAt: usualTouchdown + 2}
	s.do(usualTouchdown-30, AlternateExtension, 1)
	return s.done()
}

func fastApproach() Scenario {
	return outward(day(time.April, 1, 15, 0), func(_ *departure, a *arrival) {
		a.gearDown, a.flap1, a.flap5 = 318, 239, 237
		a.speed = []Knot{{-330, 262}, {-310, 266}, {-285, 291}, {-270, 286}, {-240, 236}, {-215, 218}}
	}).done()
}

func lateRetraction() Scenario {
	return outward(day(time.April, 1, 18, 20), func(d *departure, _ *arrival) {
		d.gearUp, d.leverOff, d.climbSpeed = 118, 140, []Knot{{100, 228}, {120, 241}, {150, 248}}
	}).done()
}

func oneThrottle() Scenario {
	s := outward(day(time.May, 8, 9, 30), func(_ *departure, a *arrival) {
		earlyFlap(nil, a)
		a.idle = 0
	})
	s.Faults.NotRecorded = []string{"nose strut", "left strut", "right strut"}
	s.do(usualTouchdown-236, Throttle2, 4)
	return s.done()
}

func badDownload() Scenario {
	s := outward(day(time.May, 12, 20, 45), func(_ *departure, a *arrival) { a.flap30 = 62 })
	s.Faults.LostSamples = true
	s.Faults.RadioOutages = [][2]float64{{250, 290}}
	return s.done()
}

// overMidnight begins at 23:55:00, which is 86100 s after the first midnight.
func overMidnight() Scenario { return outwardFrom(86100, time.Time{}, earlyFlap).done() }
