package detect

import (
	"math"
	"slices"

	"downlock/detect/language"
	"downlock/detect/readings"
	"downlock/schemas"
)

func addFlapNames(names map[string]derived) {
	add := func(name, class, meaning string) {
		names[name] = derived{
			kind: language.Condition, meaning: meaning, needs: flapNeeds,
			condition: func(t *Tracks) readings.Condition {
				return t.flapCondition(func(d schemas.Detent) bool { return slices.Contains(d.Classes, class) })
			},
		}
	}
	add("flap_up", "up", "the flap setting is of the class up")
	add("takeoff_flap", "takeoff", "the flap setting is of the class takeoff")
	add("intermediate_flap", "intermediate", "the flap setting is of the class intermediate")
	add("landing_flap", "landing", "the flap setting is of the class landing")
	names["flap_placard_speed"] = derived{
		kind: language.Number, unit: "kt", needs: flapNeeds,
		meaning: "highest airspeed for the flap setting, by handle or surface, whichever is lower; no limit if the setting has none",
		number:  func(t *Tracks, within readings.Spans) readings.Number { return t.flapPlacard(within) },
	}
}

// flapSource is the first of the profile's flap parameters that was recorded.
func (t *Tracks) flapSource() (name string, note string) {
	for i, name := range t.flight.Profile.Flaps.Parameters {
		if t.flight.signals.Has(name) {
			if i > 0 {
				note = "flap setting from " + name + "; " + t.absent(t.flight.Profile.Flaps.Parameters[0])
			}
			return name, note
		}
	}
	return "", ""
}

func flapNeeds(t *Tracks) (missing, fallbacks []string) {
	flaps := t.flight.Profile.Flaps
	if len(flaps.Detents) == 0 {
		return []string{noDetents}, nil
	}
	name, note := t.flapSource()
	if name == "" {
		for _, p := range flaps.Parameters {
			missing = append(missing, t.absent(p))
		}
		return missing, nil
	}
	if note != "" {
		fallbacks = []string{note}
	}
	return nil, fallbacks
}

// detentFrom is the smallest value at which a detent counts as reached: its
// angle less the tolerance, but never nearer to the detent before it.
func (t *Tracks) detentFrom(i int) float64 {
	if i == 0 {
		return math.Inf(-1)
	}
	detents := t.flight.Profile.Flaps.Detents
	halfway := (detents[i].Angle + detents[i-1].Angle) / 2
	return max(detents[i].Angle-t.flight.Profile.Flaps.Tolerance, halfway)
}

// reached is the detent a value has reached: the last one not beyond it.
func (t *Tracks) reached(value float64) schemas.Detent {
	detents := t.flight.Profile.Flaps.Detents
	return detents[t.detentAt(value)]
}

// detentAt is the place of the detent a value has reached.
func (t *Tracks) detentAt(value float64) int {
	for i := len(t.flight.Profile.Flaps.Detents) - 1; i > 0; i-- {
		if value >= t.detentFrom(i) {
			return i
		}
	}
	return 0
}

// placard is the placard speed of a detent in kt, infinite where it has none.
func placard(d schemas.Detent) float64 {
	if d.Placard == 0 {
		return math.Inf(1)
	}
	return d.Placard
}

// flapCondition is where the flap setting is one of the wanted detents.
func (t *Tracks) flapCondition(wanted func(schemas.Detent) bool) readings.Condition {
	name, _ := t.flapSource()
	detents := t.flight.Profile.Flaps.Detents
	if name == "" || len(detents) == 0 {
		return readings.Unknown(t.windows())
	}
	if h := t.flight.signals.Step(name); h != nil {
		return h.Condition(func(v float64) bool { return wanted(t.reached(v)) }, t.windows())
	}
	line := t.flight.signals.Line(name)
	set := readings.Never(t.windows())
	for i := 0; i < len(detents); i++ {
		if !wanted(detents[i]) {
			continue
		}
		from := i
		for i+1 < len(detents) && wanted(detents[i+1]) {
			i++ // neighbouring detents of the class are one range
		}
		in := line.Compare(readings.AtLeast, t.detentFrom(from), t.windows())
		if i+1 < len(detents) {
			in = readings.And(in, line.Compare(readings.Below, t.detentFrom(i+1), t.windows()))
		}
		set = readings.Or(set, in)
	}
	return set
}

// flapPlacard is the placard speed of the flap setting in kt: the lowest of those for
// the handle and the surface, since either may be the one further out. Where samples
// of one are missing the other has the say.
func (t *Tracks) flapPlacard(within readings.Spans) readings.Number {
	var n readings.Number
	for _, name := range t.flight.Profile.Flaps.Parameters {
		if t.flight.signals.Has(name) {
			n = readings.Lowest(n, t.placardFor(name, within))
		}
	}
	return n
}

// flapPlacardEnvelope bounds the placard speed, where all flap parameters are known.
func (t *Tracks) flapPlacardEnvelope() (e readings.Envelope, known bool) {
	for _, name := range t.flight.Profile.Flaps.Parameters {
		if !t.flight.signals.Has(name) {
			continue
		}
		one, _ := t.Envelope(name)
		one = one.Ranged(func(low, high float64) (least, most float64) {
			from, to := t.detentAt(low), t.detentAt(high)
			least, most = math.Inf(1), math.Inf(-1)
			for _, d := range t.flight.Profile.Flaps.Detents[from : to+1] {
				least, most = min(least, placard(d)), max(most, placard(d))
			}
			return least, most
		})
		if known {
			one = e.Lowest(one)
		}
		e, known = one, true
	}
	return e, known
}

// placardFor is the placard speed by one flap parameter alone.
func (t *Tracks) placardFor(name string, within readings.Spans) readings.Number {
	detents := t.flight.Profile.Flaps.Detents
	if h := t.flight.signals.Step(name); h != nil {
		return h.Held.Number(func(v float64) float64 { return placard(t.reached(v)) }, within)
	}
	// A moving surface passes the detents one after the other: put the ranges of
	// time in which each is reached together. In a gap any of them is possible,
	// which is no reason to suspect the lowest.
	var n readings.Number
	line := t.flight.signals.Line(name)
	known := line.Gaps(t.flight.Span).Complement(within)
	for i, d := range detents {
		in := line.Compare(readings.AtLeast, t.detentFrom(i), known)
		if i+1 < len(detents) {
			in = readings.And(in, line.Compare(readings.Below, t.detentFrom(i+1), known))
		}
		n = n.Overlay(in, readings.Constant(placard(d), known))
	}
	return n
}
