package soundness

import (
	"sort"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// evidence is where an aircraft is and where its gear is, by as much of the
// recording as agrees.
type evidence struct {
	reference
	wheels   readings.Spans // on the ground by speed and height, or by most of the struts as well
	before   readings.Spans // on the wheels, before the first time it is surely in the air
	after    readings.Spans // on the wheels, fast, after the last time it is surely in the air
	last     readings.Spans // surely in the air, before that end
	high     readings.Spans // far above any voice's radio altitude
	rolling  readings.Spans // on the ground, faster than any taxi and slower than any flight
	up, down readings.Spans // the legs are up, or down, and have been for longer than they travel
	// allLocked is where every recorded down-lock says that the gear is down, for as long.
	allLocked readings.Spans
	whole     readings.Spans // the whole recording
}

const (
	surelyRolling = 80.0   // kt; none of the aircraft the profiles are meant for flies at it
	rollingHeight = 20.0   // ft of radio altitude; with the two speeds it is a roll
	legsTravel    = 15.0   // s; a usual time of travel: common practice
	leastSteady   = 5.0    // s beyond it
	farHigh       = 1500.0 // ft of radio altitude; a voice of the gear or the flap speaks below a thousand
	lastOfAir     = 30.0   // s in the air before the last touchdown
	clearLead     = 3      // votes; legs under way are not told by so many
)

func newEvidence(s *samples.Set) evidence {
	e := evidence{reference: newReference(s)}
	e.wheels = onWheels(s, e.reference)
	e.before = e.wheels
	if len(e.air) > 0 {
		e.before = e.wheels.Within(readings.Span{Start: s.Window[0].Start, End: e.air[0].Start})
	}
	if n := len(e.air); n > 0 {
		e.after = e.wheels.Within(readings.Span{Start: e.air[n-1].End, End: s.Window[len(s.Window)-1].End})
		e.last = e.air.Within(readings.Span{Start: e.air[n-1].End - lastOfAir, End: e.air[n-1].End})
		e.after = readings.Intersect(e.after, s.Compare(e.speed, readings.Above, surelySlow, s.Window).True)
	}
	if s.Has("radio_altitude") {
		e.high = s.Compare("radio_altitude", readings.Above, farHigh, s.Window).True
	}
	e.rolling = rolling(s)
	e.up, e.down = gearByVotes(s, e.reference, e.wheels)
	e.allLocked = later(s, everyDownLock(s), leastSteady)
	e.whole = s.Window
	return e
}

// onWheels is the sure ground, and where most struts are compressed near the ground.
// A strut that is compressed in the air has no say.
func onWheels(s *samples.Set, r reference) readings.Spans {
	if r.by == "" || !s.Has("radio_altitude") {
		return r.ground
	}
	var votes []vote
	for _, parameter := range schemas.Parameters() {
		if name := parameter.Name; s.Has(name) && isStrut(name) {
			c := s.Discrete(name, s.Window)
			if wrong, _ := shareOf(c, r.air); wrong <= reversed {
				votes = append(votes, vote{c.False, c.True})
			}
		}
	}
	_, compressed := counted(votes, 1)
	low := s.Compare("radio_altitude", readings.AtMost, surelyLow, s.Window).True
	return readings.Union(r.ground, readings.Intersect(compressed, low).AtLeast(leastSteady))
}

// everyDownLock is where every recorded down-lock is true.
func everyDownLock(s *samples.Set) readings.Spans {
	var locked []readings.Condition
	for _, parameter := range schemas.Parameters() {
		if name := parameter.Name; s.Has(name) && isDownLock(name) {
			locked = append(locked, s.Discrete(name, s.Window))
		}
	}
	if len(locked) == 0 {
		return nil
	}
	return readings.Every(locked, s.Window).True
}

// rolling is where every recorded speed is that of a take-off or landing roll, and
// the radio altitude, where recorded, that of the ground.
func rolling(s *samples.Set) readings.Spans {
	spans, known := s.Window, false
	for _, name := range []string{"computed_airspeed", "ground_speed"} {
		if s.Has(name) {
			known = true
			spans = readings.Intersect(spans, s.Compare(name, readings.Above, surelySlow, s.Window).True)
			spans = readings.Intersect(spans, s.Compare(name, readings.Below, surelyRolling, s.Window).True)
		}
	}
	if !known || !s.Has("radio_altitude") {
		return nil
	}
	return readings.Intersect(spans, s.Compare("radio_altitude", readings.Below, rollingHeight, s.Window).True)
}

// vote is where one parameter says that the legs are up, and where that they are down.
type vote struct{ up, down readings.Spans }

// gearByVotes is where most of the locks and the lever say that the legs are up, and
// where that they are down: one that is misread is outvoted. One that the ground
// contradicts has no vote, and on the ground the legs are down.
func gearByVotes(s *samples.Set, r reference, wheels readings.Spans) (up, down readings.Spans) {
	var votes []vote
	for _, parameter := range schemas.Parameters() {
		var v vote
		switch name := parameter.Name; {
		case !s.Has(name):
			continue
		case name == "gear_lever":
			v = vote{s.State(name, "UP", s.Window).True, s.State(name, "DOWN", s.Window).True}
		case isUpLock(name):
			c := s.Discrete(name, s.Window)
			v = vote{c.True, c.False}
		case isDownLock(name):
			c := s.Discrete(name, s.Window)
			v = vote{c.False, c.True}
		default:
			continue
		}
		wrong := readings.Intersect(v.up, r.ground).Seconds()
		if right := readings.Intersect(v.down, r.ground).Seconds(); wrong >= leastSteady && wrong > right {
			continue
		}
		votes = append(votes, v)
	}
	up, down = counted(votes, 1)
	surelyUp, surelyDown := counted(votes, clearLead)
	up = readings.Union(later(s, up, legsTravel), later(s, surelyUp, 1))
	down = readings.Union(later(s, down, legsTravel), later(s, surelyDown, 1))
	return readings.Intersect(up, wheels.Complement(s.Window)), readings.Union(down, wheels)
}

// counted is where so many more votes say up than down, and the reverse.
func counted(votes []vote, lead int) (up, down readings.Spans) {
	type step struct {
		at float64
		by int
	}
	var steps []step
	add := func(spans readings.Spans, by int) {
		for _, x := range spans {
			steps = append(steps, step{x.Start, by}, step{x.End, -by})
		}
	}
	for _, v := range votes {
		add(v.up, 1)
		add(v.down, -1)
	}
	sort.SliceStable(steps, func(i, j int) bool { return steps[i].at < steps[j].at })
	sum := 0
	for i := 0; i+1 < len(steps); i++ {
		sum += steps[i].by
		x := readings.Span{Start: steps[i].at, End: steps[i+1].at}
		switch {
		case sum >= lead:
			up = continued(up, x)
		case -sum >= lead:
			down = continued(down, x)
		}
	}
	return up, down
}

// continued is the spans and a later one, joined where they touch.
func continued(spans readings.Spans, x readings.Span) readings.Spans {
	if n := len(spans); n > 0 && spans[n-1].End == x.Start {
		spans[n-1].End = x.End
		return spans
	}
	if x.Seconds() == 0 {
		return spans
	}
	return append(spans, x)
}

// later is the spans less so many seconds at the beginning of each, but for one that
// begins with the recording; and without those that are short then.
func later(s *samples.Set, spans readings.Spans, seconds float64) (out readings.Spans) {
	for _, x := range spans {
		if x.Start > s.Window[0].Start+leastSteady {
			x.Start += seconds
		}
		if x.Seconds() >= leastSteady {
			out = append(out, x)
		}
	}
	return out
}
