package soundness

import (
	"fmt"
	"strings"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// A model says where some parameters must be true and false, by all else that is
// recorded.
type model struct {
	id, title string
	covers    func(name string) bool
	means     string // true, in words
	// on and off are where a parameter is to be true and where false. One that is the
	// reverse on both sides is read the wrong way round. A switch that sticks or a leg
	// that jams is right on one of them.
	on, off func(evidence) readings.Spans
	// family is where at least one of several parameters is true: no failure of one leg
	// or switch makes all of them false.
	family func(evidence) readings.Spans
	claims []claim
	// believed says that a parameter shows by itself that it is read rightly, whatever the
	// claims; nil: none does.
	believed func(readings.Condition, evidence) bool
	// shown says that the recording shows which way round a parameter is read; nil: it
	// does where there is enough to hold it against.
	shown func(readings.Condition, evidence) bool
	// begins is where a parameter does not always become true.
	begins      func(evidence) readings.Spans
	beginsWords string
	hint        string
}

// A claim is one value that a parameter does not have in one place for so long. Where it
// has, it is read wrongly or its switch is dead: in both cases it says nothing.
type claim struct {
	value   bool // the parameter is this
	where   func(evidence) readings.Spans
	share   float64 // for at least this part of it
	seconds float64 // and for as long as this
	words   string  // where it is, in words
}

// A parameter is read the wrong way round when one side of its model is the reverse for
// nearly all the time, and the other for a good part of it. Of a family none is true
// for nearly all the time. Common practice.
const (
	reversed       = 0.1 // at most this share as it must be
	reversedToo    = 0.7 // at most this share as it must be on the other side
	leastSide      = 5.0 // s of either side
	neverInFamily  = 0.1 // at most this share true
	leastForFamily = 5.0 // s of it
)

// surelyOut (deg) is more than any detent for stowed or armed: common practice.
const surelyOut = 10.0

// condition is where a parameter is true: a lever not at UP, a speedbrake out.
func condition(s *samples.Set, name string) readings.Condition {
	switch name {
	case "gear_lever":
		return readings.Not(s.State(name, "UP", s.Window), s.Window)
	case "speedbrake_handle":
		return s.Compare(name, readings.Above, surelyOut, s.Window)
	}
	return s.Discrete(name, s.Window)
}

// check holds the parameters a model covers against it.
func (m model) check(s *samples.Set, e evidence) Check {
	c := Check{ID: m.id, Title: m.title, Outcome: NotPossible, Parameters: []string{}}
	for _, p := range schemas.Parameters() {
		if s.Has(p.Name) && m.covers(p.Name) {
			c.Parameters = append(c.Parameters, p.Name)
		}
	}
	if len(c.Parameters) == 0 {
		c.Evidence = "none of the parameters is recorded"
		return c
	}
	var wrong, evidence []string
	tested, none := false, len(c.Parameters) > 1
	var held float64
	for _, name := range c.Parameters {
		is := condition(s, name)
		found, told := m.contradiction(is, e)
		if found != "" {
			wrong = append(wrong, name)
			evidence = append(evidence, name+" is "+found)
		}
		if tested = tested || told; !told {
			c.Unconfirmed = append(c.Unconfirmed, name)
		}
		if m.family == nil {
			none = false
			continue
		}
		share, seconds := shareOf(is, m.family(e))
		held = seconds
		none = none && seconds >= leastForFamily && share <= neverInFamily
	}
	if none && len(wrong) < len(c.Parameters) {
		wrong = c.Parameters
		evidence = []string{fmt.Sprintf("none of them is %s in %.0f s in which all must be", m.means, held)}
	}
	switch {
	case len(wrong) > 0:
		c.Outcome, c.Parameters, c.Hint = Failed, wrong, m.hint
		c.Evidence = strings.Join(evidence, "; ") + " (by " + e.by + ")"
	case tested:
		c.Outcome = Passed
		c.Evidence = fmt.Sprintf("as they must be during %.0f s on the ground and %.0f s in the air (by %s)", e.ground.Seconds(), e.air.Seconds(), e.by)
	default:
		c.Evidence = fmt.Sprintf("the recording has %.0f s certainly on the ground and %.0f s certainly in the air: too little to tell", e.ground.Seconds(), e.air.Seconds())
	}
	return c
}

// contradiction says how a parameter contradicts the model, "" where it does not;
// told says that there was enough to hold it against.
func (m model) contradiction(is readings.Condition, e evidence) (how string, told bool) {
	if m.on != nil && m.off != nil {
		on, onSeconds := shareOf(is, m.on(e))
		off, offSeconds := shareOf(is, m.off(e))
		told = onSeconds >= leastSide && offSeconds >= leastSide
		if told && (on <= reversed && off >= 1-reversedToo || on <= reversedToo && off >= 1-reversed) {
			return fmt.Sprintf("%s for %s of %.0f s in which it must be, and for %s of %.0f s in which it must not",
				m.means, percent(on), onSeconds, percent(off), offSeconds), true
		}
	}
	if m.believed != nil && m.believed(is, e) {
		return "", true
	}
	for _, x := range m.claims {
		share, seconds := shareOf(is, x.where(e))
		word := ""
		if !x.value {
			share, word = 1-share, "not "
		}
		told = told || seconds >= x.seconds
		if seconds > 0 && share >= x.share && share*seconds >= x.seconds {
			return fmt.Sprintf("%s%s for %s of %.0f s %s", word, m.means, percent(share), seconds, x.words), true
		}
	}
	if m.begins != nil {
		if n := begunWithin(is, m.begins(e)); n > 0 {
			return fmt.Sprintf("%s %d times, each time %s", m.means, n, m.beginsWords), true
		}
	}
	return "", told && (m.shown == nil || m.shown(is, e))
}

// leastSelected (s) is longer than a switch is touched.
const leastSelected = 30.0

// begunWithin is how often a condition begins to hold, where it always does so within
// the spans and for long; else 0.
func begunWithin(is readings.Condition, spans readings.Spans) (n int) {
	for _, x := range is.True {
		if !spans.Contains(x.Start) || x.Seconds() < leastSelected {
			return 0
		}
		n++
	}
	return n
}
