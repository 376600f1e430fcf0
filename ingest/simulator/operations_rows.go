package simulator

import "math"

// What a Due asks for in words where no rule says it. Those of testdata/operations
// begin in the same way.
const (
	Partly       = "evaluated as far as it is recorded" // of the rule named
	saysTerrain  = "terrain below: radio altitude dips and comes back, pressure altitude does not"
	saysQuality  = "data quality: radio altitude against pressure altitude"
	saysBalked   = "balked landing"
	saysTest     = "warning tested on the stand"
	saysSounded  = "the take-off configuration warning sounded in time"
	saysRejected = "rejected take-off with its highest speed"
	saysTransit  = "gear speed limit exceeded in transit"
	saysCycle    = "gear cycle with its speeds"
	saysLoad     = "highest load about the touchdown"
	saysPinned   = "gear stayed down"
	saysJacks    = "maintenance on the ground"
	saysUTC      = "UTC"
	saysOverride = "reduced-flap landing with the flap override on"
)

// operations are the rows of the table of ordinary operations, in its order.
func operations() []operation {
	return []operation{
		{title: "go-around from 30 to 250 ft, flap back at once, gear at a positive rate", fly: (*pilot).lowGoAround},
		{title: "descent at speed, gear up, over rising ground into the gear envelope", fly: (*pilot).intoTheEnvelope},
		{title: "rejected take-off, the configuration warning sounding", fly: (*pilot).rejectedTakeOff},
		{title: "configuration warning that stops at rotation or by hand", fly: (*pilot).warningStops},
		{title: "recording that begins or ends in the air", fly: (*pilot).partRecorded},
		{title: "ridge below the circuit or the approach", fly: (*pilot).overARidge},
		{title: "gear extended for drag and raised again", fly: (*pilot).gearForDrag},
		{title: "retraction speed passed while the legs travel", fly: (*pilot).fastInTransit},
		{title: "warnings tested on the stand", fly: (*pilot).testsOnTheStand},
		{title: "five touch-and-goes and a full stop", fly: (*pilot).sixCircuits},
		{title: "balked landing", fly: (*pilot).balkedLanding},
		{title: "gate missed, then a go-around", fly: (*pilot).gateMissed},
		{title: "firm touchdown and a bounce with the ground spoilers out", fly: (*pilot).firmTouchdown},
		{title: "engine out after take-off", fly: (*pilot).engineOut},
		{title: "landing with intermediate flap, flap override on", fly: (*pilot).overriddenFlap},
		{title: "flap handle through two detents in one movement", fly: (*pilot).throughADetent},
		{title: "radio altimeter out and wrong for several samples", fly: (*pilot).radioFaults},
		{title: "soft flare, no strut switch recorded", fly: (*pilot).softFlare},
		{title: "up-lock of one leg not recorded", fly: (*pilot).oneLockMissing},
		{title: "up-lock lost in the cruise, or never reached", fly: (*pilot).lockLost},
		{title: "ferry flight with the gear pinned down", fly: (*pilot).ferry},
		{title: "alternate extension practised, or a door left open", fly: (*pilot).alternateInTraining},
		{title: "circling approach, landing flap at 700 ft", fly: (*pilot).circlingApproach},
		{title: "idle descent with intermediate flap above 3,000 ft", fly: (*pilot).idleDescent},
		{title: "gear swung on jacks", fly: (*pilot).onJacks},
		{title: "reverse levers as negative throttle angles", fly: (*pilot).reverseLevers},
		{title: "clock and date in different rows", fly: (*pilot).clockApart, apart: true},
		{title: "six sectors with clock resets", fly: (*pilot).sixSectors},
	}
}

// untilDownwind flies from the stand to the circuit.
func (p *pilot) untilDownwind() {
	p.stand(p.between(8, 20))
	p.taxi()
	p.takeOff()
	p.climb()
}

// circuit is the rest of a flight from the circuit on.
func (p *pilot) circuitAndLand() {
	p.downwind()
	p.land()
}

// inTheAir begins the recording there, at a height and a speed, gear up.
func (p *pilot) inTheAir(height, airspeed, flap float64) {
	p.fly([]Knot{{0, height}}, []Knot{{0, airspeed}})
	p.soon(0, GearLever, LeverUp)
	p.soon(0, FlapHandle, flap)
	p.soon(0, Trim, 4)
	p.throttles(0, 26)
	p.Airborne = append(p.Airborne, forever120)
}

func (p *pilot) lowGoAround() {
	p.untilDownwind()
	p.downwind()
	p.descend(p.between(30, 250), p.between(6, 12))
	p.goAround()
	p.circuitAndLand()
}

// intoTheEnvelope descends over a hill at 215 to 240 kt, where the floor is at 708
// to 917 ft: the radio altitude falls to less than 620 ft.
func (p *pilot) intoTheEnvelope() {
	p.inTheAir(4500, p.between(215, 240), 0)
	speed := p.Speed[0].Value
	p.leg(20, 4500, speed)
	p.leg(60, 3000, speed)
	start := p.now
	p.leg(80, p.pattern, speed)
	p.leg(30, p.pattern, speed)
	p.Ridges = append(p.Ridges, Ridge{start + 20, start + 100, p.pattern - p.between(470, 600)})
	p.report("too-low-gear", "the envelope was entered", start+20, start+100)
	p.slowDown()
	p.circuitAndLand()
}

// slowDown sets flap for the circuit.
func (p *pilot) slowDown() {
	p.soon(24, FlapHandle, 5)
	p.leg(30, p.pattern, 190)
	p.leg(20, p.pattern, 185)
}

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
	p.soon(8, Speedbrake, 0)
	p.climb()
	p.circuitAndLand()
}

// Rules that look at a part of the flight that is not in the recording.
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

func (p *pilot) overARidge() {
	p.untilDownwind()
	start := p.now
	if p.variant() {
		p.leg(45, p.pattern, 185)
		p.ridge(start+5, 35, p.between(500, 850))
		p.circuitAndLand()
		return
	}
	p.downwind()
	p.ridge(p.now+5, 26, p.between(620, 700))
	p.land()
}

func (p *pilot) ridge(start, seconds, rise float64) {
	p.Ridges = append(p.Ridges, Ridge{start, start + seconds, rise})
	p.must(Due{What: saysTerrain, Start: start, End: start + seconds})
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
	if p.variant() { // raised in descent
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
	p.must(Due{What: saysTransit, Start: p.now, End: p.now + 10})
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

func (p *pilot) sixCircuits() {
	p.untilDownwind()
	for range 5 {
		p.arms = false
		p.downwind()
		p.descend(50, p.between(6, 12))
		p.touch(p.between(5, 7), p.between(0.2, 0.5), 0)
		p.truth.Opportunities.TouchAndGoes++
		p.rollAgain("touch-and-go", p.between(12, 15), p.between(1, 5), p.takeOffFlap)
		p.climb()
	}
	p.arms = true
	p.circuitAndLand()
	p.must(Due{What: "6 approaches", End: p.now, Count: 6})
	p.must(Due{What: "5 touch-and-goes", End: p.now, Count: 5})
	p.must(Due{What: "1 landing", End: p.now, Count: 1})
}

func (p *pilot) balkedLanding() {
	p.untilDownwind()
	p.downwind()
	p.descend(50, p.between(6, 12))
	p.touch(p.between(5, 7), p.between(0.2, 0.5), 0)
	start := p.now
	p.truth.Opportunities.BalkedLandings++
	if p.variant() {
		p.soon(0.8, Speedbrake, 50)
		p.soon(1.8, Speedbrake, 0)
	}
	p.rollAgain(saysBalked, p.between(4, 8), p.between(0.5, 1.5), 0)
	p.must(Due{What: saysBalked, Start: start, End: p.now})
	p.climb()
	p.circuitAndLand()
}

// gateMissed has the landing flap late or out, and every other time the gear late,
// and gives the approach up.
func (p *pilot) gateMissed() {
	p.untilDownwind()
	p.mayReport("landing-flap-late", "configuration-change-low", "too-low-gear", "gear-late", "lever-cycled")
	late := []string{"landing-flap-late-visual"}
	if p.variant() {
		p.downwind()
		p.descend(p.between(410, 450), 0)
	} else {
		late = append(late, "gear-late-visual")
		p.leg(p.between(30, 60), p.pattern, 185)
		p.soon(8, SpeedbrakeArmed, 1)
		p.soon(15, FlapHandle, 15)
		p.leg(30, p.pattern, 160)
		p.descend(p.between(410, 450), 0)
		p.gear(-p.between(8.5, 11), LeverDown) // it takes 8.4 s, and 500 ft are less than 7.5 s ago
	}
	start := p.now - 15
	if p.oneOf(0, 1) == 1 {
		p.soon(1, FlapHandle, 30)
	}
	p.leg(4, p.Height[len(p.Height)-1].Value-p.between(35, 50), p.vref+4)
	for _, rule := range late {
		below := map[string]string{"landing-flap-late-visual": "medium", "gear-late-visual": "high"}[rule]
		p.must(Due{What: "not configured at 500 ft, and the approach was given up", Rule: &rule, Start: start, End: p.now, SeverityBelow: below})
	}
	p.goAround()
	p.circuitAndLand()
}

// firmTouchdown has its peak load before the strut switches, and bounces.
func (p *pilot) firmTouchdown() {
	p.untilDownwind()
	p.downwind()
	p.descend(50, p.between(6, 12))
	load := p.between(0.6, 1)
	p.touch(p.between(4, 5), load, p.between(0.3, 0.9))
	highest := 1 + load
	// Eight samples a second may miss a peak that falls by a factor e in 0.3 s by a third.
	p.must(Due{What: saysLoad, Start: p.now - 1, End: p.now + 4, Value: &highest, Tolerance: 0.38 * load})
	p.soon(0.4, Speedbrake, 50)
	p.leg(1.4, 0, p.vref-6)
	off, hop := p.now, p.between(1.6, 1.9)
	p.leg(hop/2, 3.5, p.vref-7)
	p.leg(hop/2, 0, p.vref-9)
	p.Airborne = append(p.Airborne, Airborne{off, p.now})
	p.Loads = append(p.Loads, Load{p.now, 0.25})
	p.fullStop()
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

func (p *pilot) overriddenFlap() {
	p.untilDownwind()
	p.downwind()
	p.soon(-5, FlapOverride, 1)
	start := p.now
	p.descend(50, 0)
	p.touch(p.between(5, 7), p.between(0.2, 0.5), 0)
	p.report("reduced-flap-landing", saysOverride, start, p.now+1)
	p.mayReport("landing-flap-late", "landing-flap-late-visual")
	p.fullStop()
	p.soon(0, FlapOverride, 0)
}

// throughADetent sets landing flap late, through 20 in one movement.
func (p *pilot) throughADetent() {
	p.untilDownwind()
	p.downwind()
	p.descend(p.between(350, 430), 0)
	p.soon(0, FlapHandle, 20)
	p.soon(p.between(0.7, 1.5), FlapHandle, 30)
	rule := "configuration-change-low"
	p.must(Due{What: "one movement of the flap handle", Rule: &rule, Start: p.now - 2, End: p.now + 4, Count: 1})
	p.mayReport("landing-flap-late", "landing-flap-late-visual")
	seconds := p.Height[len(p.Height)-1].Value / 12
	p.leg(seconds-4, 50, p.vref+3)
	p.touch(p.between(5, 7), p.between(0.2, 0.5), 0)
	p.fullStop()
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

func (p *pilot) softFlare() {
	p.untilDownwind()
	p.downwind()
	p.descend(50, p.between(6, 12))
	p.leg(4, 10, p.vref+1)
	p.touch(p.between(6, 10), p.between(0.02, 0.08), 0)
	p.must(Due{What: "touchdown with honest bounds", Start: p.now - 1, End: p.now + 1})
	p.fullStop()
	p.Faults.NotRecorded = []string{"nose strut", "left strut", "right strut"}
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

// selected is when the gear lever was last moved to a position.
func (p *pilot) selected(position float64) (at float64) {
	for _, a := range p.Actions {
		if a.Control == GearLever && a.Value == position {
			at = a.At
		}
	}
	return at
}

// ferry leaves the lever down, the pins being in.
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
	}
	p.downwindLast()
	p.land()
	p.soon(0, AlternateExtension, 0)
}

// circlingApproach is level at 1100 to 1300 ft while it circles.
func (p *pilot) circlingApproach() {
	p.untilDownwind()
	p.downwind()
	level := p.between(1100, 1300)
	p.upTo(level, 12, 155)
	p.leg(p.between(45, 70), level, 150)
	p.beginApproach()
	p.leg((level-700)/11, 700, p.vref+6)
	p.soon(0, FlapHandle, 30)
	p.report("landing-flap-late", "landing flap late by the straight-in gate", p.now-40, p.now)
	p.leg(650/11.5, 50, p.vref+3)
	p.touch(p.between(5, 7), p.between(0.2, 0.5), 0)
	p.fullStop()
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

// onJacks lifts the aircraft at rest; the gear swings and comes back.
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

func (p *pilot) reverseLevers() {
	p.reverse = true
	p.untilDownwind()
	p.circuitAndLand()
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
