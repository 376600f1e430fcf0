package detect

import (
	"math"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// airborneCondition returns where the aircraft is in the air, from the best
// parameters there are, and names in plain words those used when they were not
// the main struts. ok is false when nothing tells air from ground.
func airborneCondition(s *samples.Set, p *schemas.Profile) (c readings.Condition, note string, ok bool) {
	struts, missing := s.MainStruts(p)
	if len(struts) > 0 {
		if len(missing) > 0 {
			note = "air and ground from " + joinWords(struts) + " alone: " + joinWords(missing) + " not recorded"
		}
		return inFlight(s, extended(s, struts)), note, true
	}
	if s.Has("weight_on_wheels") {
		return inFlight(s, readings.Not(s.Discrete("weight_on_wheels", s.Window), s.Window)), "air and ground from weight_on_wheels: no main strut recorded", true
	}
	switch s.AirGroundStandIn(p) {
	case "radio_altitude":
		return airborneByRadioAltitude(s), "air and ground from radio altitude above 10 ft, accurate to within 15 s: no strut or air/ground parameter recorded", true
	case "computed_airspeed":
		return airborneByAirspeed(s), "air and ground from airspeed above 80 kt, accurate to within 30 s: no better parameter recorded", true
	}
	return readings.Unknown(s.Window), "no recorded parameter tells air from ground", false
}

// extended is where none of the struts is compressed.
func extended(s *samples.Set, struts []string) readings.Condition {
	onGround := readings.Never(s.Window)
	for _, name := range struts {
		onGround = readings.Or(onGround, s.Discrete(name, s.Window))
	}
	return readings.Not(onGround, s.Window)
}

// onJacks is where the main struts are extended although the aircraft does not move.
func onJacks(s *samples.Set, p *schemas.Profile) (out readings.Spans) {
	struts, _ := s.MainStruts(p)
	if len(struts) == 0 {
		return nil
	}
	for _, x := range extended(s, struts).True {
		if lifted(s, x) {
			out = append(out, x)
		}
	}
	return out
}

// Shorter stays in the air are hops of a landing. Shorter ones on the ground are no
// landing, unless the aircraft is as low as that or soon on the ground again:
// common practice.
const (
	shortestFlight = 3.0  // s
	shortestGround = 1.0  // s
	wheelsAtMost   = 15.0 // ft of radio altitude
	longBounce     = 10.0 // s; what follows a short contact for less shows that it was one
)

// jackSpeed (kt) is a speed an aircraft in the air is never below: its struts are
// extended because something lifts it.
const jackSpeed = 30.0

// inFlight is airborne without the hops of a bounced landing, which belong to the
// touchdown, and without the time on jacks.
func inFlight(s *samples.Set, airborne readings.Condition) readings.Condition {
	window := s.Window
	short := func(x Span) bool {
		return x.Seconds() <= shortestFlight && x.Start > window[0].Start && x.End < window[len(window)-1].End
	}
	var out readings.Spans // surely no flight
	for _, x := range airborne.Possible {
		if short(x) || lifted(s, x) {
			out = append(out, x)
		}
	}
	var usually readings.Spans // no flight in the nominal reading
	for _, x := range airborne.True {
		if short(x) || lifted(s, x) {
			usually = append(usually, x)
		}
	}
	free := out.Complement(window)
	surely := readings.Spans{}
	for _, x := range readings.Intersect(airborne.Certain, free) {
		if !short(x) && !lifted(s, x) {
			surely = append(surely, x)
		}
	}
	return readings.Condition{
		Certain:  surely,
		True:     readings.Intersect(airborne.True, readings.Union(usually, out).Complement(window)),
		False:    readings.Union(airborne.False, readings.Union(usually, out)),
		Possible: readings.Intersect(airborne.Possible, free),
	}
}

// lifted says that every speed that was recorded stays below any of a flight.
func lifted(s *samples.Set, x Span) bool {
	known := false
	for _, name := range []string{"ground_speed", "computed_airspeed"} {
		l := s.Line(name)
		if l == nil {
			continue
		}
		from, to := l.Within(x)
		for _, v := range l.Values[from:to] {
			if v > jackSpeed {
				return false
			}
		}
		known = known || from < to
	}
	return known && x.Seconds() > shortestFlight
}

// airSpans lists the stays in the air. An unknown time continues the state before
// it: a strut switch that drops out in cruise does not land the aircraft, and
// one that drops out on the ramp does not lift it off.
func airSpans(s *samples.Set, airborne readings.Condition) readings.Spans {
	var air readings.Spans
	for _, x := range airborne.False.Complement(s.Window) {
		trues := airborne.True.Within(x)
		if len(trues) == 0 {
			continue
		}
		if x.Start > s.Window[0].Start {
			x.Start = trues[0].Start
		}
		if n := len(air); n > 0 && x.Start-air[n-1].End < shortestGround && x.Seconds() > longBounce && !wheelsDown(s, stretch(air[n-1].End, x.Start)) {
			air[n-1].End = x.End // a switch that chatters in flight
			continue
		}
		air = append(air, x)
	}
	return air
}

// wheelsDown says that the aircraft is as low as on its wheels at some time.
func wheelsDown(s *samples.Set, contact Span) bool {
	radio := s.Line("radio_altitude")
	if radio == nil {
		return false
	}
	low := radio.Compare(readings.Below, wheelsAtMost, readings.Spans{contact})
	return len(low.True) > 0
}

// timeOf finds the moment with that nominal time and returns its bounds.
func timeOf(moments []readings.Moment, nominal float64) Time {
	for _, m := range moments {
		if math.Abs(m.Nominal-nominal) < 1e-9 {
			return Time{m.Nominal, floor(m.Earliest), m.Latest}
		}
	}
	return Time{nominal, nominal, nominal}
}

func joinWords(words []string) string {
	out := ""
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			out += " and "
		default:
			out += ", "
		}
		out += w
	}
	return out
}
