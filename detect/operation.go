package detect

import "downlock/detect/readings"

// TakeOffRoll is one from take-off thrust to the lift-off, or to thrust reduced
// again: then it was rejected.
type TakeOffRoll struct {
	Begins, Ends Time
	Ended        RollEnd
	// FromTouchdown says that the aircraft has not been slow since a touchdown: a
	// touch-and-go or a balked landing.
	FromTouchdown bool
	// PerhapsFromTouchdown says that the recording begins in the roll, with the aircraft fast: it
	// may be one from a touchdown before.
	PerhapsFromTouchdown bool
	// HighestSpeed is the largest airspeed of the roll in kt, ground speed where no
	// airspeed is recorded, as long as Known.
	HighestSpeed float64
	Known        bool
}

// RollEnd says how a take-off roll ended. One with which the samples end may have ended
// either way.
type RollEnd string

const (
	InLiftOff RollEnd = "lift-off"
	Rejected  RollEnd = "rejected"
	RollsOn   RollEnd = "recording ends"
)

// GoAround is an approach given up in the air: from the crew's first act until the
// flap is up, the next approach begins or the wheels touch.
type GoAround struct {
	Begins, Lowest, Ends Time
	Height               float64 // ft above the aerodrome at the lowest point
	Known                bool
}

// Landed says what became of a touchdown.
type Landed string

const (
	FullStop      Landed = "landing"
	TouchAndGo    Landed = "touch-and-go"
	BalkedLanding Landed = "balked landing"
	LandedOrNot   Landed = "recording ends" // while take-off thrust is set again
)

// Touchdown is a main-wheel contact that follows more than some seconds in the
// air; shorter hops are bounces of the same one.
type Touchdown struct {
	Time   Time
	Landed Landed
	// Perhaps says that the recording ends before the aircraft is slow: a full stop is
	// likely, not certain.
	Perhaps bool
}

// The figures operations are told apart by: common practice.
const (
	fastTaxi     = 30.0 // kt; a roll that does not pass it was an engine run
	rejectedFrom = 50.0 // kt; without a criterion for thrust, a roll that turns back below it was a taxi
	thrustWavers = 3.0  // s; thrust below its criterion for less is the same roll
	shortContact = 10.0 // s on the wheels; a landing balked, not a touch-and-go
	// leastAirspeed in kt is one that is measured; many instruments show no less than 30 to 45.
	leastAirspeed = 60.0
	firstActs     = 30.0 // s before the lowest point in which a go-around begins
)

// findRolls finds the take-off rolls, those that were rejected too.
func (f *Flight) findRolls(t *Tracks, air []stay) {
	onGround := readings.Not(f.airborne.Clip(t.windows()), t.windows())
	thrust := onGround
	judged := t.criteria["takeoff_thrust"] != nil
	if judged {
		missing, _ := t.needs(t.criteria["takeoff_thrust"].Names)
		judged = len(missing) == 0
	}
	if judged {
		thrust = readings.And(onGround, t.criteria["takeoff_thrust"].Condition(t))
	}
	for _, g := range f.groundStays(air) {
		known := len(f.Rolls)
		if judged {
			f.rollsByThrust(g, thrust)
		} else if speed := f.speedName(); speed != "" {
			f.rollsBySpeed(g, f.signals.Compare(speed, readings.AtLeast, slowSpeed, readings.Spans{g.span()}))
		}
		if n := len(f.Rolls); g.flies && (n == 0 || f.Rolls[n-1].Ended != InLiftOff || f.Rolls[n-1].Ends != g.ends) {
			// The lift-off shows that there was a roll, though not when it began.
			f.Rolls = append(f.Rolls, TakeOffRoll{Begins: Time{g.ends.Nominal, g.begins.Earliest, g.ends.Latest}, Ends: g.ends, Ended: InLiftOff})
		}
		for i := range f.Rolls[known:] {
			f.setOut(&f.Rolls[known+i], g)
		}
	}
	if n, last := len(f.Rolls), len(f.Touchdowns); n > 0 && last > 0 && f.Rolls[n-1].FromTouchdown && f.Rolls[n-1].Ended == RollsOn {
		f.Touchdowns[last-1].Landed, f.Touchdowns[last-1].Perhaps = LandedOrNot, false
	}
}

// groundStay is a stay on the ground: whether a stay in the air follows, and whether it
// begins at a touchdown.
type groundStay struct {
	stay
	flies, landed bool
}

func (f *Flight) groundStays(air []stay) (out []groundStay) {
	from := exactly(f.Span.Start)
	for i, a := range air {
		if from.Nominal < a.begins.Nominal {
			out = append(out, groundStay{stay{from, a.begins}, true, i > 0})
		}
		from = a.ends
	}
	if from.Nominal < f.Span.End {
		out = append(out, groundStay{stay{from, exactly(f.Span.End)}, false, len(air) > 0})
	}
	return out
}

func (f *Flight) rollsByThrust(g groundStay, thrust readings.Condition) {
	for _, s := range thrust.True.Within(g.span()).Join(thrustWavers) {
		roll := TakeOffRoll{Begins: startOf(thrust, s), Ends: endOf(thrust, s)}
		if g.flies && s.End >= g.ends.Nominal {
			roll.Ends, roll.Ended = g.ends, InLiftOff
		} else {
			highest, known := f.highestSpeed(s)
			if !known || highest < fastTaxi {
				continue
			}
			roll.Ended = g.rejected(s, thrust)
		}
		f.Rolls = append(f.Rolls, roll)
	}
}

// rollsBySpeed takes a roll for one that begins as the speed rises through that of
// a taxi, and for rejected where it turns back above the speed of a fast taxi.
func (f *Flight) rollsBySpeed(g groundStay, fast readings.Condition) {
	for _, s := range fast.True {
		lifts, fromFirst := g.flies && s.End >= g.ends.Nominal, s.Start <= g.begins.Nominal
		roll := TakeOffRoll{Begins: startOf(fast, s), Ends: endOf(fast, s)}
		switch highest, known := f.highestSpeed(s); {
		case lifts:
			roll.Ends, roll.Ended = g.ends, InLiftOff
		case fromFirst || !known || highest < rejectedFrom:
			continue
		default:
			roll.Ended = g.rejected(s, fast)
		}
		f.Rolls = append(f.Rolls, roll)
	}
}

// setOut says how fast a roll of a stay is, and whether it began at a touchdown, since which the
// aircraft has not been slow: between stays in the air of a flight it never is, after the last one
// its speed tells. A roll from a stand is slow at first.
func (f *Flight) setOut(r *TakeOffRoll, g groundStay) {
	r.FromTouchdown = g.landed && (g.flies || f.staysFast(stretch(g.begins.Nominal, r.Begins.Nominal)))
	r.HighestSpeed, r.Known = f.highestSpeed(stretch(r.Begins.Nominal, r.Ends.Nominal))
	r.PerhapsFromTouchdown = !g.landed && f.staysFast(stretch(g.begins.Nominal, r.Ends.Nominal))
}

// perhapsTouchedDown reports whether the recording may begin between a touchdown and a lift-off.
func (f *Flight) perhapsTouchedDown() bool {
	return len(f.Rolls) > 0 && f.Rolls[0].PerhapsFromTouchdown
}

// staysFast reports whether a speed is recorded that is never slow in a span.
func (f *Flight) staysFast(in Span) bool {
	name, slow := f.slowness()
	return name != "" && len(f.signals.Compare(name, readings.Below, slow, readings.Spans{in}).True) == 0
}

// rejected says how a roll without a lift-off ended of which a condition held: it was rejected
// where the condition is seen to hold no more.
func (g groundStay) rejected(roll Span, held readings.Condition) RollEnd {
	if len(held.False.Within(stretch(roll.End, g.ends.Nominal))) > 0 {
		return Rejected
	}
	return RollsOn
}

// highestSpeed is the largest airspeed in a span, ground speed where no airspeed is
// recorded, in kt.
func (f *Flight) highestSpeed(s Span) (highest float64, known bool) {
	for _, name := range []string{"computed_airspeed", "ground_speed"} {
		if f.signals.Has(name) {
			_, highest, known = f.signals.Number(name, readings.Spans{s}).Nominal.Extremes()
			return highest, known
		}
	}
	return highest, known
}

// findTouchdowns says of every touchdown what became of it.
func (f *Flight) findTouchdowns(t *Tracks, air []stay) {
	for i, a := range air {
		last := i == len(air)-1
		if last && f.EndsInAir {
			continue
		}
		down := Touchdown{a.ends, FullStop, last && f.endsFast()}
		if !last {
			down.Landed = TouchAndGo
			away := air[i+1].begins
			stillSet := t.Condition("landing_flap").True.Contains(away.Nominal) && !t.Condition("takeoff_flap").True.Contains(away.Nominal)
			if away.Nominal-a.ends.Nominal < shortContact || stillSet {
				down.Landed = BalkedLanding
			}
		}
		f.Touchdowns = append(f.Touchdowns, down)
	}
}

// slowness is the parameter that tells speed on the ground, "" for none, and the speed in kt below
// which the aircraft is slow by it.
func (f *Flight) slowness() (name string, speed float64) {
	if name = f.speedName(); name == "computed_airspeed" {
		return name, leastAirspeed
	}
	return name, slowSpeed
}

// endsFast reports whether the aircraft is known to be faster than a taxi as the recording ends.
func (f *Flight) endsFast() bool {
	name, slow := f.slowness()
	if name == "" {
		return false
	}
	fast := f.signals.Compare(name, readings.AtLeast, slow, readings.Spans{f.Span}).True
	return len(fast) > 0 && fast[len(fast)-1].End >= f.Span.End
}

// acts are the moments at which a crew may begin a go-around: go-around thrust,
// gear or flap coming in.
func (f *Flight) acts(t *Tracks) (out []readings.Moment) {
	if x := t.criteria["takeoff_thrust"]; x != nil {
		if missing, _ := t.needs(x.Names); len(missing) == 0 {
			out = append(out, readings.Begins(x.Condition(t))...)
		}
	}
	if t.flight.signals.Has("gear_lever") {
		out = append(out, readings.Begins(t.State("gear_lever", "UP"))...)
	}
	if t.flight.signals.Has("flap_handle") {
		in, _ := t.Steps("flap_handle", readings.Decreases)
		out = append(out, in...)
	}
	return readings.Either(out, nil)
}

// TouchedDown lists the touchdowns that ended so, in order.
func (f *Flight) TouchedDown(as Landed) []Time {
	return timesOf(f.Touchdowns, func(d Touchdown) (Time, bool) { return d.Time, d.Landed == as })
}

// LiftOffs lists those in the recording, in order.
func (f *Flight) LiftOffs() []Time {
	return timesOf(f.liftOffs, func(m readings.Moment) (Time, bool) { return Time{m.Nominal, m.Earliest, m.Latest}, true })
}

// LowestPoints lists those of the go-arounds, in order.
func (f *Flight) LowestPoints() []Time {
	return timesOf(f.GoArounds, func(g GoAround) (Time, bool) { return g.Lowest, true })
}

// A climb ends in a descent of more than this, or in level flight for as long: a
// flap is retracted in level flight after a take-off with an engine out, too.
const (
	climbEnds  = 150.0 // ft
	levelClimb = 90.0  // s
)

// climbs are from each lift-off and go-around to the end of the climb that follows.
func (f *Flight) climbs() (out []stay) {
	for i, a := range f.air {
		if i > 0 || !f.BeginsInAir {
			out = append(out, f.climb(a, a.begins))
		}
		for _, g := range f.GoArounds {
			if a.begins.Nominal <= g.Lowest.Nominal && g.Lowest.Nominal <= a.ends.Nominal {
				c := f.climb(a, g.Lowest)
				out = append(out, stay{g.Begins, c.ends})
			}
		}
	}
	return out
}

// climb is the one that begins at a time in a stay in the air.
func (f *Flight) climb(a stay, begins Time) stay {
	shape := f.shape(a)
	ends := a.ends
	for _, level := range shape.Rests(shape.values, stretch(begins.Nominal, a.ends.Nominal), levelClimb, levelWithin) {
		ends = Time{level.Span.Start, level.Span.Start, level.Span.Start + levelClimb}
		break
	}
	from, to := shape.Within(stretch(begins.Nominal, ends.Nominal))
	top := from
	for i := from; i < to; i++ {
		if shape.values[i] > shape.values[top] {
			top = i
		}
		if shape.values[top]-shape.values[i] > climbEnds {
			return stay{begins, extremeTime(shape.Times, top, a.span(), 0, func(i int) float64 { return -shape.values[i] })}
		}
	}
	return stay{begins, ends}
}
