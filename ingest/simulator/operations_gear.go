package simulator

import "math"

// Rows about the ground, take-offs, the gear and the recording itself.

// reject gives a take-off up at a speed and stops.
func (p *pilot) reject(speed float64) {
	start := p.now
	p.setThrust(0)
	p.leg(max(speed/4.5, 9.5), 0, speed)
	p.throttles(p.now, 0)
	p.rollEnds("rejected", speed)
	p.truth.Opportunities.RejectedTakeOffs++
	p.must(Due{What: saysRejected, Start: start, End: p.now + 10, Value: &speed, Tolerance: 6})
	p.report("rejected-takeoff", "rejected take-off", start, p.now+10)
	p.leg(speed/6, 0, 12)
	p.leg(12, 0, 12)
	p.leg(6, 0, 0)
	p.leg(20, 0, 0)
}

func (p *pilot) rejectedTakeOff() {
	p.stand(p.between(8, 20))
	p.taxi()
	p.soon(-1, FlapHandle, 0)
	start := p.now
	p.reject(p.between(42, 120))
	stopped := p.truth.Facts.Rolls[0].End
	p.report("takeoff-flap", "take-off thrust with the wrong configuration", start, stopped)
	p.must(Due{What: saysSounded, Start: start, End: stopped})
	if p.variant() {
		p.OnGround = true
		return
	}
	p.taxi()
	p.takeOff()
	p.climb()
	p.circuitAndLand()
}

// warningStops takes off with the speedbrake lever out of its detent.
func (p *pilot) warningStops() {
	p.stand(p.between(8, 20))
	p.taxi()
	p.soon(-2, Speedbrake, p.between(11, 15))
	start := p.now
	if p.variant() {
		p.soon(p.between(10, 16), WarningSilenced, 1)
		p.soon(60, WarningSilenced, 0)
	}
	p.takeOff()
	p.report("takeoff-speedbrake", "take-off thrust with the wrong configuration", start, p.now)
	p.report("speedbrake-with-thrust", "the speedbrake still out in the climb", p.now, p.now+8)
	p.soon(8, Speedbrake, 0)
	p.climb()
	p.circuitAndLand()
}

// Rules about a part of the flight that is not recorded.
var (
	aboutTakeOffs = []string{"gear-up-before-strut-extension", "flap-retracted-early", "takeoff-flap", "takeoff-speedbrake", "takeoff-parking-brake",
		"takeoff-trim", "takeoff-warning-missed", "takeoff-warning-late", "takeoff-warning-nuisance"}
	aboutLandings = []string{"gear-not-locked-at-touchdown", "reduced-flap-landing"}
)

func (p *pilot) partRecorded() {
	if p.variant() {
		p.inTheAir(p.pattern, 185, 5)
		p.circuitAndLand()
		p.truth.NoOpportunity = aboutTakeOffs
		return
	}
	p.untilDownwind()
	p.leg(p.between(30, 90), p.pattern, 185)
	p.truth.NoOpportunity = aboutLandings
}

func (p *pilot) gearForDrag() {
	high := p.between(11300, 12000)
	p.inTheAir(high, 235, 0)
	p.leg(30, high, 232)
	start := p.now
	p.gear(3, LeverDown)
	low := p.between(8200, 9300)
	p.upTo(low, 30, 222)
	p.leg(15, low, 212)
	if p.variant() { // raised in the descent
		p.gear(8, LeverUp)
	} else {
		p.gear(-2, LeverUp)
		p.leg(12, low, 212)
	}
	p.must(Due{What: saysCycle, Start: start, End: p.now + 20})
	p.upTo(p.pattern, 42, 215)
	p.slowDown()
	p.circuitAndLand()
}

func (p *pilot) fastInTransit() {
	p.stand(p.between(8, 20))
	p.taxi()
	p.takeOff()
	level := p.pattern
	p.pattern -= 900
	p.climbOut()
	p.soon(8, FlapHandle, 0)
	p.leg(25, p.pattern+250, 212)
	p.leg(6, p.pattern+350, p.between(219, 222))
	p.gear(0, LeverUp)
	p.report("gear-transit-speed", "gear speed limit exceeded in transit", p.now, p.now+10)
	p.leg(9, p.pattern+520, p.between(238, 243))
	p.pattern = level
	p.leg(20, level, 243)
	p.slowDown()
	p.circuitAndLand()
}

func (p *pilot) testsOnTheStand() {
	p.stand(75)
	at := p.between(8, 12)
	for _, column := range []string{"gear horn", "take-off warning", "too low gear", "too low flaps", "too low terrain"} {
		seconds := p.between(2, 5)
		p.force(column, at, at+seconds, 1)
		at += seconds + p.between(3, 7)
	}
	p.must(Due{What: saysTest, Start: 8, End: 75})
	p.taxi()
	p.takeOff()
	p.climb()
	p.circuitAndLand()
}

// engineOut loses the first engine just after a take-off at flap 15.
func (p *pilot) engineOut() {
	p.takeOffFlap = 15
	p.stand(p.between(8, 20))
	p.taxi()
	p.takeOff()
	fails := p.now + p.between(1, 3)
	p.climb()
	p.circuitAndLand()
	kept := p.Actions[:0]
	for _, a := range p.Actions {
		if a.Control != Throttle1 || a.At < fails {
			kept = append(kept, a)
		}
	}
	p.Actions = append(kept, Action{fails, Throttle1, 0})
}

func (p *pilot) radioFaults() {
	p.untilDownwind()
	start := p.now + 8
	p.leg(40, p.pattern, 185)
	wrong := p.between(2, 5)
	p.force("radio height", start, start+wrong, p.oneOf(0, 15, 25, 40))
	p.must(Due{What: saysQuality, Start: start, End: start + wrong})
	p.Faults.Lost = append(p.Faults.Lost, Loss{"radio height", start + 18, start + 18 + p.between(3, 6)})
	p.circuitAndLand()
}

func (p *pilot) oneLockMissing() {
	p.untilDownwind()
	p.circuitAndLand()
	p.Faults.NotRecorded = []string{[]string{"nose", "left", "right"}[p.random.IntN(3)] + " up-locked"}
	for _, rule := range []string{"gear-extended-speed", "gear-altitude", "retraction-slow", "slow-leg-up", "lever-position-disagree", "up-lock-lost"} {
		p.report(rule, Partly, 0, p.now)
	}
}

func (p *pilot) lockLost() {
	p.untilDownwind()
	leg := p.random.IntN(3)
	p.Faults.NotRecorded = []string{"alternate extension"}
	if p.variant() {
		start := p.now + p.between(10, 15)
		p.Faults.Sag = &Sag{leg, start, start + p.between(6, 12)}
		p.report("up-lock-lost", "up-lock lost", start, p.Faults.Sag.To+3)
		p.leg(40, p.pattern, 185)
	} else { // it never locks up
		p.Faults.Sag = &Sag{leg, p.selected(LeverUp) + 6.5, math.Inf(1)}
		p.mayReport("retraction-slow", "slow-leg-up", "lever-position-disagree")
	}
	p.circuitAndLand()
}

// selected returns the time at which the gear lever was last moved to a position.
func (p *pilot) selected(position float64) (at float64) {
	for _, a := range p.Actions {
		if a.Control == GearLever && a.Value == position {
			at = a.At
		}
	}
	return at
}

// ferry leaves the lever down because the pins are in.
func (p *pilot) ferry() {
	p.Faults.PinsIn = true
	p.stand(p.between(8, 20))
	p.taxi()
	p.takeOff()
	start := p.now
	p.climbOut()
	p.leg(p.between(60, 120), p.pattern, 200)
	p.leg(20, p.pattern, 185)
	p.soon(0, SpeedbrakeArmed, 1)
	p.soon(12, FlapHandle, 15)
	p.leg(30, p.pattern, 160)
	p.land()
	p.must(Due{What: saysPinned, Start: start, End: p.now})
	p.report("gear-left-down", "gear stayed down", start, p.now)
}

func (p *pilot) alternateInTraining() {
	p.untilDownwind()
	p.leg(30, p.pattern, 185)
	start := p.now
	if p.variant() {
		p.soon(4, AlternateExtension, 1)
		p.report("alternate-extension-selected", "alternate extension used", start, start+20)
		p.mayReport("alternate-extension")
	} else {
		p.force("gear doors", start+12, start+12+p.between(25, 60), 0)
		p.report("doors-open-gear-down", "a door left open, and no cause", start+12, start+72)
	}
	p.downwindLast()
	p.land()
	p.soon(0, AlternateExtension, 0)
}

func (p *pilot) idleDescent() {
	high := p.between(6500, 7500)
	p.inTheAir(high, 190, 5)
	p.leg(20, high, 186)
	p.soon(0, FlapHandle, 15)
	p.throttles(p.now+5, 4)
	start := p.now
	if p.variant() {
		p.soon(10, HornCutout, 1)
		p.report("gear-horn-silenced", "the horn and its cut-out", start+10, start+40)
	}
	p.upTo(4000, 25, 184)
	p.throttles(p.now-8, 20)
	p.soon(0, FlapHandle, 5)
	p.soon(2, HornCutout, 0)
	p.upTo(p.pattern, 15, 185)
	p.circuitAndLand()
}

// onJacks lifts the aircraft at rest; the gear retracts and extends.
func (p *pilot) onJacks() {
	p.stand(40)
	start := p.now
	p.soon(20, GearLever, LeverUp)
	p.soon(20+p.between(25, 40), GearLever, LeverDown)
	p.leg(10, 3, 0)
	p.leg(p.between(80, 120), 3, 0)
	p.leg(10, 0, 0)
	p.Airborne = append(p.Airborne, Airborne{start + 2, p.now - 2})
	p.must(Due{What: saysJacks, Start: start, End: p.now})
	p.leg(30, 0, 0)
	none := 0
	p.truth.Facts.Flights = &none
}

func (p *pilot) clockApart() {
	p.untilDownwind()
	p.circuitAndLand()
	p.must(Due{What: saysUTC, End: p.now})
}

func (p *pilot) sixSectors() {
	p.untilDownwind()
	p.circuitAndLand()
	for range 5 {
		p.leg(20, 0, 0)
		p.cuts = append(p.cuts, p.now)
		p.leg(20, 0, 0)
		p.taxi()
		p.takeOff()
		p.climb()
		p.circuitAndLand()
	}
	flights := 6
	p.truth.Facts.Flights = &flights
}
