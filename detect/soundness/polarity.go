package soundness

import (
	"fmt"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// A condition that is the reverse on the ground for nearly all the time, and in
// the air for most of it, is mapped the wrong way round. A switch that sticks, a
// leg that jams or a gear pinned down is not: it is right on one of the sides.
const (
	reversedOnGround = 0.1 // at most this share of the ground as it must be
	reversedInAir    = 0.5 // at least this share of the air as it should be on the ground
	// stuckInAir is the share of the air in which a compressed strut cannot be: no
	// air and ground can be told with it, whatever is wrong.
	stuckInAir = 0.9
)

// polarity is a family of discretes with one thing in common on the ground.
type polarity struct {
	id, title string
	suffixes  []string // of the parameters' names
	onGround  bool     // true when the parameter is true on the ground
	ground    string   // what must be so on the ground, in plain words
	hint      string
}

var polarities = []polarity{
	{"strut-polarity", "struts and air/ground against speed and height", []string{"_strut_compressed", "weight_on_wheels"}, true, "compressed",
		"turn true_when round: some exports write the state of the circuit, 1 in the air"},
	{"down-lock-polarity", "down-locks against speed and height", []string{"gear_down_locked"}, true, "locked down",
		"turn true_when round: some exports write the state of the circuit, 0 when locked"},
	{"up-lock-polarity", "up-locks against speed and height", []string{"gear_up_locked"}, false, "not locked up",
		"turn true_when round: some exports write the state of the circuit, 0 when locked"},
}

// polarityChecks finds discretes and the gear lever mapped the wrong way round.
func polarityChecks(s *samples.Set, r reference) (checks []Check) {
	for _, p := range polarities {
		var names []string
		for _, parameter := range schemas.Parameters() {
			if s.Has(parameter.Name) && p.covers(parameter.Name) {
				names = append(names, parameter.Name)
			}
		}
		checks = append(checks, p.check(s, r, names, func(name string) readings.Condition {
			c := s.Discrete(name, s.Window)
			if !p.onGround {
				c = readings.Not(c, s.Window)
			}
			return c
		}))
	}
	lever := polarity{id: "lever-polarity", title: "gear lever against speed and height", ground: "not at UP",
		hint: "exchange UP and DOWN in the states of gear_lever"}
	var names []string
	if s.Has("gear_lever") {
		names = []string{"gear_lever"}
	}
	return append(checks, lever.check(s, r, names, func(string) readings.Condition { return readings.Not(leverAt(s, "UP"), s.Window) }))
}

func (p polarity) covers(name string) bool {
	for _, suffix := range p.suffixes {
		if strings.HasSuffix(name, suffix) {
			return true
		}
	}
	return false
}

// noneOnGround says that of several legs not one is on the ground as it must be,
// which no failure of one leg or switch explains, whatever they are in the air.
func noneOnGround(all []shares) bool {
	for _, x := range all {
		if !x.hasGround() || x.ground > reversedOnGround {
			return false
		}
	}
	return len(all) > 1
}

// leverAt is where the gear lever is at a position.
func leverAt(s *samples.Set, state string) readings.Condition {
	lever := s.Code("gear_lever")
	if lever == nil {
		return readings.Unknown(s.Window)
	}
	states := s.Series("gear_lever").Parameter.States
	return lever.Condition(func(v uint8) bool { return int(v) < len(states) && states[v] == state }, s.Window)
}

// check holds each of the parameters against the reference; asOnGround is where
// it is as it must be on the ground.
func (p polarity) check(s *samples.Set, r reference, names []string, asOnGround func(string) readings.Condition) Check {
	c := Check{ID: p.id, Title: p.title, Outcome: NotPossible, Parameters: names}
	if len(names) == 0 {
		c.Parameters, c.Evidence = []string{}, "none of the parameters is recorded"
		return c
	}
	var wrong, evidence []string
	tested := false
	all := make([]shares, len(names))
	for i, name := range names {
		all[i] = r.shares(s, asOnGround(name))
	}
	none := noneOnGround(all)
	for i, name := range names {
		x := all[i]
		switch stuck := p.id == "strut-polarity" && x.hasAir() && x.air >= stuckInAir; {
		case none, x.hasAir() && x.hasGround() && x.ground <= reversedOnGround && x.air >= reversedInAir:
			wrong = append(wrong, name)
			evidence = append(evidence, fmt.Sprintf("%s is %s for %s of %.0f s on the ground and for %s of %.0f s in the air",
				name, p.ground, percent(x.ground), x.groundSeconds, percent(x.air), x.airSeconds))
		case stuck:
			wrong = append(wrong, name)
			evidence = append(evidence, fmt.Sprintf("%s is %s for %s of %.0f s in the air", name, p.ground, percent(x.air), x.airSeconds))
		}
		tested = tested || x.hasAir() && x.hasGround()
	}
	switch {
	case len(wrong) > 0:
		c.Outcome, c.Parameters, c.Hint = Failed, wrong, p.hint
		c.Evidence = strings.Join(evidence, "; ") + " (by " + r.by + ")"
	case tested:
		c.Outcome = Passed
		c.Evidence = fmt.Sprintf("as they must be in %.0f s on the ground or %.0f s in the air (by %s)", r.ground.Seconds(), r.air.Seconds(), r.by)
	default:
		c.Evidence = fmt.Sprintf("the recording holds %.0f s surely on the ground and %.0f s surely in the air; at least %.0f and %.0f are needed",
			r.ground.Seconds(), r.air.Seconds(), leastGround, leastAir)
	}
	return c
}

// leverAgainstPosition finds a lever that is DOWN while the legs are locked up,
// in recordings without ground time to tell which of the two is reversed.
func leverAgainstPosition(s *samples.Set, r reference, before []Check) Check {
	c := Check{ID: "lever-against-position", Title: "gear lever against up-locks", Outcome: NotPossible, Parameters: []string{"gear_lever"}}
	var locked []readings.Condition
	for _, parameter := range schemas.Parameters() {
		if name := parameter.Name; s.Has(name) && strings.HasSuffix(name, "gear_up_locked") {
			locked = append(locked, s.Discrete(name, s.Window))
			c.Parameters = append(c.Parameters, name)
		}
	}
	if !s.Has("gear_lever") || len(locked) == 0 {
		c.Parameters, c.Evidence = []string{}, "lever and up-locks are not both recorded"
		return c
	}
	for _, b := range before {
		if b.ID == "lever-polarity" && b.Outcome != NotPossible {
			c.Evidence = "each was held against the ground by itself"
			return c
		}
	}
	up := readings.Intersect(readings.Every(locked, s.Window).True, r.air)
	down, seconds := shareOf(leverAt(s, "DOWN"), up)
	c.Evidence = fmt.Sprintf("the lever is DOWN for %s of the %.0f s in the air with the legs locked up", percent(down), seconds)
	switch {
	case seconds < leastAir:
		c.Evidence += fmt.Sprintf("; at least %.0f s are needed", leastAir)
	case down >= stuckInAir:
		c.Outcome, c.Hint = Failed, "either UP and DOWN in the states of gear_lever or true_when of the up-locks is the wrong way round"
	default:
		c.Outcome = Passed
	}
	return c
}
