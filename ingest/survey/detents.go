package survey

import (
	"slices"
	"strings"

	"downlock/schemas"
)

// detents reads a flap lever by the words of its detents.
func (s *Suggestion) detents(c *Column) bool {
	if s.Parameter != "flap_handle" && s.Parameter != "flap_angle" || c.Distinct < 2 || c.Distinct > 12 {
		return false
	}
	s.Unit = schemas.DetentUnit
	s.evidence("%d words for detents: %s", c.Distinct, strings.Join(detentTexts(c), " "))
	s.decide("give the angles of the detents under flaps, then remove the comment mark here and there")
	return true
}

// mayCountDetents reports whether numbers may be those of detents: 0, 1, 2 and on, of which
// a flight uses some. No type lands with less than 10 deg of flap (common practice).
func mayCountDetents(c *Column) bool {
	return c.Distinct >= 3 && c.Distinct <= statesKept && c.Smallest == 0 && c.Largest < 10 &&
		!slices.ContainsFunc(c.States, func(s State) bool { return strings.Contains(s.Text, ".") })
}

// detentTexts returns the words of a flap lever, those for up first, then numbers in
// order, then other words, full last.
func detentTexts(c *Column) []string {
	rank := func(text string) int {
		_, err := parseNumber(text)
		switch lower := strings.ToLower(text); {
		case slices.Contains([]string{"up", "retracted", "zero", "clean", "in"}, lower):
			return 0
		case err == nil:
			return 1
		case lower == "full":
			return 3
		}
		return 2
	}
	texts := stateTexts(c)
	slices.SortStableFunc(texts, func(a, b string) int { return rank(a) - rank(b) })
	return texts
}

// detentAngle returns the angle of a detent's text where that says it.
func detentAngle(text string) string {
	if _, err := parseNumber(text); err == nil {
		return text
	}
	if strings.EqualFold(text, "up") {
		return "0"
	}
	return "NUMBER"
}

// edgeOfFlight (s) is the least time of recording on the ground beside a lift-off or a
// landing.
const edgeOfFlight = 20

// detentClasses proposes classes for the detents of a handle: up without flap, takeoff
// and landing where it was as flights began and ended.
func (s *Survey) detentClasses(c *Column) map[string][]string {
	classes := map[string][]string{}
	add := func(text, class string) {
		if text != "" && !slices.Contains(classes[text], class) {
			classes[text] = append(classes[text], class)
		}
	}
	for _, state := range c.States {
		if detentAngle(state.Text) == "0" {
			add(state.Text, "up")
		}
	}
	speed, height := s.reference()
	for _, air := range s.phases(speed, height).air {
		if air.start > c.Start+edgeOfFlight {
			add(c.heldAt(air.start), "takeoff")
		}
		if air.end < c.End-edgeOfFlight {
			add(c.heldAt(air.end), "landing")
		}
	}
	return classes
}

// heldAt returns the state that held at a time, "" before the first.
func (c *Column) heldAt(at float64) (text string) {
	for _, r := range c.runs {
		if r.at <= at {
			text = c.States[r.state].Text
		}
	}
	return text
}
