package simulator

import (
	"math"
	"math/rand/v2"
)

// pilot flies a recording leg after leg from now on, with figures that a seed
// chooses. It counts the facts that a report must contain.
type pilot struct {
	script
	random *rand.Rand
	now    float64
	truth  OperationsTruth
	// may lists rules that may report or not. The flight is on their limit, or they
	// are beside the point of the recording.
	may         map[string]bool
	pattern     float64 // ft, height of the circuit
	takeOffFlap float64
	vref        float64 // kt over the fence
	approach    float64 // start of the current approach; NaN: none
	thrust      float64 // time at which the thrust of the current roll was set
	arms        bool    // the speedbrake is armed on the next approach
	reverse     bool    // the levers go below idle after touchdown
	cuts        []float64
}

// aerodrome is the elevation at which these flights begin and end, ft.
const aerodrome = ostreyElevation

func newPilot(seed uint64) *pilot {
	p := &pilot{random: rand.New(rand.NewPCG(seed, 27)), arms: true, may: map[string]bool{}, approach: math.NaN()}
	p.Scenario = Scenario{Seed: seed, Epoch: day(4, 9, 7, 45), From: ostrey, To: fenmark, Return: true, AlertsByHeight: true, Loads: []Load{}}
	p.Terrain = []Knot{{0, aerodrome}}
	p.pattern, p.takeOffFlap, p.vref = p.between(1700, 2500), p.oneOf(5, 15), p.between(130, 140)
	return p
}

func (p *pilot) between(a, b float64) float64 { return a + (b-a)*p.random.Float64() }
func (p *pilot) oneOf(values ...float64) float64 {
	return values[p.random.IntN(len(values))]
}

// variant reports which of a row's two ways is flown; the seeds alternate.
func (p *pilot) variant() bool { return p.Seed%2 == 0 }

// leg flies some seconds, to a height and an airspeed.
func (p *pilot) leg(seconds, height, airspeed float64) {
	p.now += seconds
	p.fly([]Knot{{p.now, height}}, []Knot{{p.now, airspeed}})
}

// soon makes the crew move a control so many seconds from now.
func (p *pilot) soon(after float64, c Control, value float64) { p.do(p.now+after, c, value) }

func (p *pilot) gear(after float64, position float64) {
	p.soon(after, GearLever, position)
	if position == LeverUp {
		p.truth.Opportunities.GearRetractions++
	} else {
		p.truth.Opportunities.GearExtensions++
	}
}

// stand begins the recording at rest on the stand.
func (p *pilot) stand(seconds float64) {
	p.script.stand(0)
	p.Actions = p.Actions[:0]
	p.soon(0, GearLever, LeverDown)
	p.soon(0, FlapHandle, 0)
	p.soon(0, ParkingBrake, 1)
	p.soon(0, Trim, 4)
	p.throttles(0, 0)
	p.leg(seconds, 0, 0)
}

// taxi sets the take-off flap and taxies to the runway.
func (p *pilot) taxi() {
	p.soon(2, FlapHandle, p.takeOffFlap)
	p.soon(4, ParkingBrake, 0)
	p.throttles(p.now+5, 5)
	p.leg(8, 0, 0)
	p.leg(7, 0, 12)
	p.leg(p.between(15, 30), 0, 12)
	p.leg(6, 0, 0)
	p.leg(p.between(3, 8), 0, 0)
}

// setThrust begins a take-off roll.
func (p *pilot) setThrust(after float64) {
	p.thrust = p.now + after
	p.throttles(p.thrust, 42)
	p.truth.Opportunities.TakeOffRolls++
}

// liftOff lifts off now.
func (p *pilot) liftOff() {
	p.Airborne = append(p.Airborne, Airborne{LiftOff: p.now, Touchdown: math.Inf(1)})
	p.truth.Opportunities.LiftOffs++
	p.truth.Facts.LiftOffs = append(p.truth.Facts.LiftOffs, LiftOffFact{p.now})
	p.rollEnds("lift-off", p.Speed[len(p.Speed)-1].Value)
}

func (p *pilot) rollEnds(how string, highest float64) {
	p.truth.Facts.Rolls = append(p.truth.Facts.Rolls, RollFact{p.thrust, p.now, how, highest})
}

// takeOff rolls from rest and lifts off.
func (p *pilot) takeOff() {
	p.setThrust(0)
	p.leg(p.between(29, 33), 0, p.between(136, 146))
	p.liftOff()
}

// climb climbs from a lift-off to the circuit. The gear goes up at once, the flap to
// 5 on the way.
func (p *pilot) climb() {
	p.gear(p.between(4, 6), LeverUp)
	p.climbOut()
}

func (p *pilot) climbOut() {
	at := p.now
	p.do(at+33, FlapHandle, 5)
	p.leg(8, 130, 152)
	p.leg(12, 560, 162)
	p.upTo(p.pattern, 25, 185)
	p.throttles(p.now, 26)
}

// upTo and downTo change the height at a rate, ft/s.
func (p *pilot) upTo(height, rate, airspeed float64) {
	p.leg(math.Abs(height-p.Height[len(p.Height)-1].Value)/rate, height, airspeed)
}

// downwind flies level at the circuit's height, extends the gear and sets the flap to
// 15.
func (p *pilot) downwind() {
	p.leg(p.between(30, 60), p.pattern, 185)
	p.downwindLast()
}

func (p *pilot) downwindLast() {
	p.gear(5, LeverDown)
	if p.arms {
		p.soon(8, SpeedbrakeArmed, 1)
	}
	p.soon(15, FlapHandle, 15)
	p.leg(20, p.pattern, 168)
	p.leg(p.between(8, 15), p.pattern, 160)
}

// descend begins an approach and descends to a height. It sets the landing flap so
// many seconds after it begins (0: never).
func (p *pilot) descend(to, landingFlap float64) {
	p.beginApproach()
	if landingFlap > 0 {
		p.soon(landingFlap, FlapHandle, 30)
	}
	p.throttles(p.now, 20)
	from := p.Height[len(p.Height)-1].Value
	seconds := (from - to) / p.between(11.5, 12.5)
	p.leg(min(40, seconds/2), from-(from-to)*min(40, seconds/2)/seconds, p.vref+12)
	p.leg(seconds-min(40, seconds/2), to, p.vref+5)
}

func (p *pilot) beginApproach() {
	p.approach = p.now
	p.truth.Opportunities.Approaches++
}

func (p *pilot) endApproach(outcome string) {
	p.truth.Facts.Approaches = append(p.truth.Facts.Approaches, ApproachFact{p.approach, p.now, outcome})
	p.approach = math.NaN()
}

// touch flares from 50 ft and touches down. load is the peak of the normal
// acceleration above one, so many seconds before the first strut is compressed.
func (p *pilot) touch(flare, load, before float64) {
	p.throttles(p.now+flare-2.5, 0)
	p.leg(flare, 0, p.vref-4)
	p.Airborne[len(p.Airborne)-1].Touchdown = p.now
	p.Loads = append(p.Loads, Load{p.now - before, load})
	p.truth.Opportunities.Touchdowns++
	highest := 1 + load
	p.truth.Facts.Touchdowns = append(p.truth.Facts.Touchdowns, TouchdownFact{p.now, "", &highest})
}

func (p *pilot) touched(as string) {
	p.truth.Facts.Touchdowns[len(p.truth.Facts.Touchdowns)-1].EndsAs = as
	at := p.now
	p.now = p.truth.Facts.Touchdowns[len(p.truth.Facts.Touchdowns)-1].At
	p.endApproach(as)
	p.now = at
}

// fullStop brakes, retracts flap and speedbrake, and stops.
func (p *pilot) fullStop() {
	p.truth.Opportunities.Landings++
	p.touched("landing")
	p.soon(1, Speedbrake, 50)
	p.soon(1, SpeedbrakeArmed, 0)
	if p.reverse {
		p.throttles(p.now+2, -p.between(10, 25))
		p.throttles(p.now+18, 0)
	}
	p.leg(3, 0, p.vref-12)
	p.leg(26, 0, 30)
	p.leg(7, 0, 14)
	p.soon(3, Speedbrake, 0)
	p.soon(6, FlapHandle, 0)
	p.throttles(p.now+1, 5)
	p.leg(18, 0, 14)
	p.leg(7, 0, 0)
	p.throttles(p.now, 0)
	p.soon(2, ParkingBrake, 1)
	p.leg(10, 0, 0)
}

// land flies an approach in the usual configuration, from its beginning to the stand.
func (p *pilot) land() {
	p.descend(50, p.between(6, 12))
	p.touch(p.between(5, 7), p.between(0.2, 0.5), 0)
	p.fullStop()
}

// goAround gives the approach up now: thrust, flap back at once, gear up at a
// positive rate of climb, back to the circuit. It returns the lowest height, ft.
func (p *pilot) goAround() (lowest float64) {
	start := p.now
	from := p.Height[len(p.Height)-1].Value
	lowest = from - min(24, 0.4*from)
	p.endApproach("go-around")
	p.throttles(start, 42)
	p.soon(p.between(0.5, 1.5), FlapHandle, 15)
	p.soon(20, SpeedbrakeArmed, 0)
	p.leg(4, lowest, p.vref+6)
	p.gear(p.between(5, 7), LeverUp)
	p.GoArounds = append(p.GoArounds, p.now)
	p.truth.Opportunities.GoArounds++
	p.truth.Facts.GoArounds = append(p.truth.Facts.GoArounds, GoAroundFact{start, p.now, lowest})
	value := lowest
	p.must(Due{What: "go-around with its lowest height", Start: start, End: p.now + 10, Value: &value, Tolerance: 25})
	p.leg(8, lowest+95, p.vref+12)
	p.leg(12, lowest+450, 160)
	p.soon(8, FlapHandle, 5)
	p.upTo(p.pattern, 25, 185)
	p.throttles(p.now, 26)
	return lowest
}

// rollAgain lifts off so many seconds after a touchdown. It sets the flap to the
// take-off setting (0: it stays in the landing setting until the climb).
func (p *pilot) rollAgain(as string, seconds, thrust, flap float64) {
	p.touched(as)
	p.soon(0.6, SpeedbrakeArmed, 0)
	if flap > 0 {
		p.soon(p.between(2, 10), FlapHandle, flap)
	} else {
		p.soon(seconds+1, FlapHandle, 15)
	}
	p.setThrust(thrust)
	p.leg(seconds/2, 0, p.vref-8)
	p.leg(seconds/2, 0, p.vref)
	p.liftOff()
}

// must adds a statement that a report must make.
func (p *pilot) must(d Due) { p.truth.Must = append(p.truth.Must, d) }

// report adds an event that a rule must report in a window.
func (p *pilot) report(rule, what string, start, end float64) {
	p.must(Due{What: what, Rule: &rule, Start: start, End: end})
}

func (p *pilot) mayReport(rules ...string) {
	for _, r := range rules {
		p.may[r] = true
	}
}
