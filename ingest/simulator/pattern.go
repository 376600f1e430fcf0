package simulator

import (
	"math"
	"slices"
)

// script collects what happens in a recording, one manoeuvre after the other.
type script struct{ Scenario }

// Elevations (ft) and positions of the two invented aerodromes.
const (
	ostreyElevation  = 340
	fenmarkElevation = 1210
)

var (
	ostrey  = Place{46.1000, -27.9000}
	fenmark = Place{46.4900, -27.5500}
)

func (s *script) fly(height, speed []Knot) {
	s.Height = append(s.Height, height...)
	s.Speed = append(s.Speed, speed...)
}

func (s *script) do(at float64, c Control, value float64) {
	s.Actions = append(s.Actions, Action{at, c, value})
}

func (s *script) throttles(at, angle float64) {
	for _, c := range []Control{Throttle1, Throttle2, Throttle3, Throttle4} {
		s.do(at, c, angle)
	}
}

// done returns the scenario with its actions in order of time. The end falls on a
// sample of the column with eight samples a second.
func (s *script) done() Scenario {
	slices.SortStableFunc(s.Actions, func(a, b Action) int { return compareTimes(a.At, b.At) })
	s.End = math.Floor(s.End*8) / 8
	return s.Scenario
}

// stand puts the aircraft on the ground, at rest, gear down, ready to go.
func (s *script) stand(at float64) {
	s.fly([]Knot{{at, 0}}, []Knot{{at, 0}})
	s.do(at, GearLever, LeverDown)
	s.do(at, FlapHandle, 0)
	s.do(at, ParkingBrake, 1)
	s.do(at, Trim, 4)
	s.do(at+8, FlapHandle, 5)
	s.do(at+18, ParkingBrake, 0)
	s.throttles(at, 0)
	s.throttles(at+20, 5)
}

// departure is the crew's part in a take-off; times are seconds after lift-off.
type departure struct {
	at         float64 // lift-off
	gearUp     float64
	flapUp     float64 // 0: it stays at 5
	leverOff   float64 // back to OFF once the gear is up; 0: it stays
	cruise     float64 // height reached 150 s after lift-off, ft
	climbSpeed []Knot  // from 100 s on, in place of the usual one
}

func usualDeparture(at float64) departure {
	return departure{at: at, gearUp: 4.3, flapUp: 62, leverOff: 100, cruise: 4500}
}

// takeOff rolls from rest and climbs to the cruise in 150 seconds.
func (s *script) takeOff(d departure) {
	at := d.at
	s.fly([]Knot{{at, 0}, {at + 8, 120}, {at + 20, 550}, {at + 45, 1500}, {at + 90, 3000}, {at + 150, d.cruise}},
		[]Knot{{at - 62, 0}, {at - 55, 12}, {at - 40, 12}, {at - 34, 0}, {at - 30, 0}, {at, 140}, {at + 10, 150}, {at + 40, 165}, {at + 65, 192}})
	if d.climbSpeed == nil {
		d.climbSpeed = []Knot{{100, 225}, {150, 245}}
	}
	for _, k := range d.climbSpeed {
		s.Speed = append(s.Speed, Knot{at + k.At, k.Value})
	}
	s.throttles(at-32, 42)
	s.throttles(at+45, 36)
	s.throttles(at+150, 28)
	s.do(at+d.gearUp, GearLever, LeverUp)
	if d.flapUp > 0 {
		s.do(at+d.flapUp, FlapHandle, 0)
	}
	if d.leverOff > 0 {
		s.do(at+d.leverOff, GearLever, LeverOff)
	}
	s.Airborne = append(s.Airborne, Airborne{LiftOff: at, Touchdown: math.Inf(1)})
}

// arrival is the crew's part in an approach. Times are seconds before touchdown; the
// crew leaves out an act without a time.
type arrival struct {
	at       float64 // touchdown
	idle     float64 // throttles closed for the descent; 0: they are not touched
	flap1    float64
	flap5    float64
	gearDown float64
	flap15   float64
	flap30   float64
	armed    float64
	speed    []Knot // until 170 s before touchdown, relative to it, in place of the usual one
}

func usualArrival(at float64) arrival {
	return arrival{at: at, idle: 330, flap1: 270, flap5: 232, gearDown: 190, flap15: 170, flap30: 140, armed: 165}
}

// descend comes down from the height flown until 330 s before touchdown to 650 ft, 52
// s before it.
func (s *script) descend(a arrival, from float64) {
	s.Height = append(s.Height, Knot{a.at - 330, from}, Knot{a.at - 230, 3000})
	if a.speed == nil {
		a.speed = []Knot{{-330, 245}, {-290, 228}, {-250, 207}, {-215, 190}}
	}
	for _, k := range a.speed {
		s.Speed = append(s.Speed, Knot{a.at + k.At, k.Value})
	}
	if a.idle > 0 {
		s.throttles(a.at-a.idle, 4)
	}
	s.do(a.at-a.flap1, FlapHandle, 1)
	s.do(a.at-a.flap5, FlapHandle, 5)
	s.final(a)
}

// final is the last part of an approach, from 3000 ft on. A circuit uses it too.
func (s *script) final(a arrival) {
	s.fly([]Knot{{a.at - 160, 2000}, {a.at - 80, 1000}, {a.at - 52, 650}}, []Knot{{a.at - 170, 172}, {a.at - 140, 155}, {a.at - 110, 142}, {a.at - 52, 139}})
	s.throttles(a.at-200, 20)
	s.do(a.at-190, Trim, 2.5)
	for _, x := range []struct {
		before float64
		Control
		value float64
	}{{a.gearDown, GearLever, LeverDown}, {a.flap15, FlapHandle, 15}, {a.flap30, FlapHandle, 30}, {a.armed, SpeedbrakeArmed, 1}} {
		if x.before > 0 {
			s.do(a.at-x.before, x.Control, x.value)
		}
	}
}

// land goes on from final to the touchdown.
func (s *script) land(a arrival) {
	s.fly([]Knot{{a.at - 8, 62}, {a.at, 0}}, []Knot{{a.at - 10, 137}, {a.at, 132}})
	s.throttles(a.at-4, 0)
	s.Airborne[len(s.Airborne)-1].Touchdown = a.at
}

// rollOut brakes, retracts flap and speedbrake, and stops. It returns the time at
// rest.
func (s *script) rollOut(touchdown float64) (rest float64) {
	at := touchdown
	s.fly(nil, []Knot{{at + 3, 124}, {at + 30, 30}, {at + 36, 14}, {at + 55, 14}, {at + 62, 0}})
	s.do(at+1, Speedbrake, 50)
	s.do(at+1, SpeedbrakeArmed, 0)
	s.do(at+40, Speedbrake, 0)
	s.do(at+45, FlapHandle, 0)
	s.throttles(at+38, 5)
	s.throttles(at+60, 0)
	s.do(at+64, ParkingBrake, 1)
	return at + 72
}

// climbAway is the crew's part in a go-around; times are seconds after the lowest
// point.
type climbAway struct {
	flapBack, gearUp, flap5 float64
	flap                    float64 // deg, the setting to which the flap first retracts
}

func usualClimbAway() climbAway { return climbAway{flapBack: 3, gearUp: 8, flap5: 30, flap: 15} }

// goAround breaks off the approach of a final at 650 ft, 52 s before the planned
// touchdown, and climbs back to 3000 ft.
func (s *script) goAround(a arrival, c climbAway) {
	at := a.at - 52
	s.GoArounds = append(s.GoArounds, at)
	s.fly([]Knot{{at + 10, 760}, {at + 30, 1400}, {at + 60, 2500}, {at + 90, 3000}}, []Knot{{at + 10, 147}, {at + 30, 165}, {at + 60, 188}})
	s.throttles(at-2, 42)
	s.throttles(at+60, 26)
	s.do(at+c.flapBack, FlapHandle, c.flap)
	s.do(at+c.gearUp, GearLever, LeverUp)
	s.do(at+c.flap5, FlapHandle, 5)
	s.do(at+35, SpeedbrakeArmed, 0)
}

// touchAndGo lifts off again 12 s after a touchdown and returns to 3000 ft. It
// returns the time of the lift-off.
func (s *script) touchAndGo(touchdown float64) (liftOff float64) {
	at := touchdown + 12
	s.fly([]Knot{{at, 0}, {at + 8, 120}, {at + 20, 550}, {at + 45, 1500}, {at + 90, 3000}},
		[]Knot{{at - 6, 126}, {at, 138}, {at + 10, 150}, {at + 40, 168}, {at + 65, 188}})
	s.do(touchdown+0.6, SpeedbrakeArmed, 0)
	s.do(touchdown+2, FlapHandle, 15)
	s.throttles(touchdown+5, 42)
	s.throttles(at+60, 26)
	s.do(at+6, GearLever, LeverUp)
	s.do(at+28, FlapHandle, 5)
	s.Airborne = append(s.Airborne, Airborne{LiftOff: at, Touchdown: math.Inf(1)})
	return at
}

// circuit flies level at 3000 ft and joins the final of an arrival whose flap is
// at 5 already.
func (s *script) circuit(a arrival) {
	s.Height = append(s.Height, Knot{a.at - 230, 3000})
	s.Speed = append(s.Speed, Knot{a.at - 220, 188})
	s.final(a)
}
