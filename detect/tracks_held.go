package detect

import (
	"fmt"
	"slices"

	"downlock/detect/readings"
	"downlock/schemas"
)

// Held is a track that is one of a few things at a time: a lever, a lock, the
// flap setting, the phase of flight.
type Held struct {
	Values []Value
	From   []string // the recorded parameters it rests on
}

// Value is one of the things a held track may be, and where it is that. Of two
// that hold at once the later one says more.
type Value struct {
	Name string
	Is   readings.Condition
}

// Undecided is where samples leave open which of the values it is, other than by
// being missing: between two that differ, and within the accuracy of a number.
func (h Held) Undecided() readings.Spans {
	var open readings.Spans
	for _, v := range h.Values {
		known := readings.Union(v.Is.True, v.Is.False)
		open = readings.Union(open, readings.Intersect(v.Is.Certain.Complement(v.Is.Possible), known))
	}
	return open
}

// The words for a discrete and for a throttle.
const (
	ValueOn       = "on"
	ValueOff      = "off"
	ValueRetarded = "retarded"
)

// Parameter is the track of a recorded discrete or state; ok is false where it was
// not recorded, or is a number.
func (t *Tracks) Parameter(name string) (h Held, ok bool) {
	if t.flight.signals.Code(name) == nil {
		return Held{}, false
	}
	states := t.flight.signals.Series(name).Parameter.States
	if len(states) == 0 {
		return Held{t.onOff(t.Condition(name), ValueOn, ValueOff), []string{name}}, true
	}
	h.From = []string{name}
	for _, state := range states {
		h.Values = append(h.Values, Value{state, t.State(name, state)})
	}
	return h, true
}

func (t *Tracks) onOff(is readings.Condition, on, off string) []Value {
	return []Value{{off, readings.Not(is, t.windows())}, {on, is}}
}

// Flap is the flap setting: the detent the rules take it for.
func (t *Tracks) Flap() (h Held, ok bool) {
	name, _ := t.flapSource()
	if name == "" {
		return Held{}, false
	}
	h.From = []string{name}
	for i, d := range t.flight.Profile.Flaps.Detents {
		h.Values = append(h.Values, Value{d.Name, t.keep(fmt.Sprintf("detent %d", i), func() readings.Condition {
			return t.flapCondition(func(o schemas.Detent) bool { return o.Name == d.Name })
		})})
	}
	return h, true
}

// The positions a leg can be seen in. The last two are those of a leg with one
// lock recorded.
const (
	LegUp      = "up"
	LegDown    = "down"
	LegTransit = "transit"
	LegBoth    = "both?" // which no leg can be
	LegNotUp   = "not up"
	LegNotDown = "not down"
)

// Leg is the position of a leg, told by its locks; "" is all legs together.
func (t *Tracks) Leg(leg string) (h Held, ok bool) {
	prefix := ""
	if leg != "" {
		prefix = leg + "_"
	}
	down, up := prefix+"gear_down_locked", prefix+"gear_up_locked"
	hasDown, hasUp := t.flight.signals.Has(down), t.flight.signals.Has(up)
	isDown, isUp := t.flight.signals.Discrete(down, t.windows()), t.flight.signals.Discrete(up, t.windows())
	switch {
	case hasDown && hasUp:
		moving := readings.And(readings.Not(isDown, t.windows()), readings.Not(isUp, t.windows()))
		return Held{[]Value{{LegTransit, moving}, {LegUp, isUp}, {LegDown, isDown}, {LegBoth, readings.And(isDown, isUp)}}, []string{down, up}}, true
	case hasDown:
		return Held{t.onOff(isDown, LegDown, LegNotDown), []string{down}}, true
	case hasUp:
		return Held{t.onOff(isUp, LegUp, LegNotUp), []string{up}}, true
	}
	return Held{}, false
}

// Throttle says where the throttle of an engine (from 1) is retarded.
func (t *Tracks) Throttle(engine int) (h Held, ok bool) {
	name := t.throttleParameter(engine)
	if name == "" || !t.flight.signals.Has(name) {
		return Held{}, false
	}
	return Held{t.onOff(t.retarded(engine), ValueRetarded, ValueOff), []string{name}}, true
}

// Phase is the phase of flight.
func (t *Tracks) Phase() Held {
	var h Held
	for _, p := range t.flight.Phases {
		if !slices.ContainsFunc(h.Values, func(v Value) bool { return v.Name == string(p.Phase) }) {
			h.Values = append(h.Values, Value{string(p.Phase), t.flight.inPhase(p.Phase)})
		}
	}
	return h
}
