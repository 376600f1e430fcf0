package simulator

// Rows about approaches, go-arounds, touchdowns and the terrain below them.

// untilDownwind flies from the stand to the circuit.
func (p *pilot) untilDownwind() {
	p.stand(p.between(8, 20))
	p.taxi()
	p.takeOff()
	p.climb()
}

// circuitAndLand flies the rest of a flight from the circuit on.
func (p *pilot) circuitAndLand() {
	p.downwind()
	p.land()
}

// inTheAir begins the recording in the air, at a height and a speed, with the gear
// up.
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

// intoTheEnvelope descends over a hill at 215 to 240 kt, where the floor is at 708 to
// 917 ft. The radio altitude falls below 620 ft.
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

// gateMissed sets the landing flap late or not at all, and in every other variant the
// gear late. It gives the approach up.
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
		p.gear(-p.between(8.5, 11), LeverDown) // it takes 8.4 s, and the aircraft passed 500 ft less than 7.5 s ago
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

// firmTouchdown has its peak load before the strut switches change, and bounces.
func (p *pilot) firmTouchdown() {
	p.untilDownwind()
	p.downwind()
	p.descend(50, p.between(6, 12))
	load := p.between(0.6, 1)
	p.touch(p.between(4, 5), load, p.between(0.3, 0.9))
	highest := 1 + load
	// Eight samples a second may miss a third of a peak that falls by a factor e in 0.3 s.
	p.must(Due{What: saysLoad, Start: p.now - 1, End: p.now + 4, Value: &highest, Tolerance: 0.38 * load})
	p.soon(0.4, Speedbrake, 50)
	p.leg(1.4, 0, p.vref-6)
	off, hop := p.now, p.between(1.6, 1.9)
	p.leg(hop/2, 3.5, p.vref-7)
	p.leg(hop/2, 0, p.vref-9)
	p.Airborne = append(p.Airborne, Airborne{off, p.now})
	p.mayReport("bounced-landing") // the flicker of the switches may hide it
	p.Loads = append(p.Loads, Load{p.now, 0.25})
	p.fullStop()
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

// throughADetent sets landing flap late, through detent 20 in one movement.
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

func (p *pilot) reverseLevers() {
	p.reverse = true
	p.untilDownwind()
	p.circuitAndLand()
}
