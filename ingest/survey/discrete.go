package survey

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"downlock/schemas"
)

func parseNumber(text string) (float64, error) { return strconv.ParseFloat(text, 64) }

func short2(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }

// state checks whether a column can be the gear lever: every text must have a
// meaning.
func (j *judge) state(out *Suggestion, c *Column) bool {
	if c.Distinct > 6 {
		return false
	}
	out.States = map[string]string{}
	for _, text := range stateTexts(c) {
		if state := leverState(text); state != "" {
			out.States[text] = state
		}
	}
	out.evidence("%d states: %s", c.Distinct, strings.Join(stateTexts(c), " "))
	if len(out.States) == 0 {
		return j.leverByGround(out, c)
	}
	if len(out.States) < c.Distinct {
		out.decide("not every text has a meaning: give the states of the others")
	}
	out.movesAfterLiftOff(j, c)
	return true
}

// leverState returns the position a text names, or "" for none.
func leverState(text string) string {
	for state, spellings := range words().States {
		if slices.Contains(spellings, strings.ToLower(text)) {
			return state
		}
	}
	return ""
}

// leverByGround gives the two numbers of a lever their meaning: it is DOWN on the
// ground.
func (j *judge) leverByGround(out *Suggestion, c *Column) bool {
	if c.Distinct != 2 {
		return false
	}
	ground, _, share := j.held(c)
	if ground < 0 {
		out.States = map[string]string{c.States[0].Text: "DOWN", c.States[1].Text: "UP"}
		out.decide("the recording does not show which of %s and %s is UP: check it", c.States[0].Text, c.States[1].Text)
		out.score -= 0.3
		return true
	}
	out.States = map[string]string{c.States[ground].Text: "DOWN", c.States[1-ground].Text: "UP"}
	out.evidence("%s for %.0f %% of the time on the ground, so that is DOWN", c.States[ground].Text, 100*share)
	return true
}

// movesAfterLiftOff looks for the lever's move to UP within a minute of the aircraft
// being well in the air.
func (s *Suggestion) movesAfterLiftOff(j *judge, c *Column) {
	for _, air := range j.phases.air {
		for _, r := range c.runs {
			if s.States[c.States[r.state].Text] == "UP" && r.at > air.start-60 && r.at < air.start+60 {
				s.evidence("goes to %s at %s s, when the aircraft is in the air by %q", c.States[r.state].Text, short(r.at), j.phases.by)
				return
			}
		}
	}
}

// expected returns the usual value of a discrete on the ground where it reverses in
// the air: 1 true on the ground, -1 false, 0 unknown.
func expected(parameter string) int {
	switch {
	case strings.HasSuffix(parameter, "_strut_compressed"), parameter == "weight_on_wheels", strings.HasSuffix(parameter, "gear_down_locked"):
		return 1
	case strings.HasSuffix(parameter, "gear_up_locked"), parameter == "gear_lever_lock_released":
		return -1
	}
	return 0
}

// rare reports whether a discrete is false nearly all the time: warnings,
// failures and emergency controls.
func rare(parameter string) bool {
	for _, part := range []string{"horn", "gpws", "warning", "pressure_low", "alternate", "emergency", "override", "cutout"} {
		if strings.Contains(parameter, part) {
			return true
		}
	}
	return false
}

// discrete checks whether a column is true or false, and finds the value that means
// true.
func (j *judge) discrete(out *Suggestion, c *Column, p schemas.Parameter) bool {
	if c.Distinct > 2 {
		return j.position(out, c, p)
	}
	out.evidence("%d %s: %s", c.Distinct, plural(c.Distinct, "value"), strings.Join(stateTexts(c), " "))
	if c.Numeric && !slices.ContainsFunc(stateTexts(c), func(t string) bool { return t == "0" || t == "1" }) {
		out.score -= 0.2
	}
	switch {
	case out.byGround(j, c, expected(p.Name)):
	case out.byWords(c, p.Name):
	case rare(p.Name):
		out.byRarity(c)
	default:
		out.assume(c)
	}
	return true
}

// byGround takes the polarity from the values on the ground and in the air. It
// returns false where they do not tell.
func (s *Suggestion) byGround(j *judge, c *Column, onGround int) bool {
	if onGround == 0 || !c.Numeric && s.Parameter == "gear_lever_lock_released" {
		return false
	}
	if c.Distinct == 1 {
		return s.byOneValue(j, c, onGround)
	}
	ground, air, share := j.held(c)
	if ground < 0 {
		return false
	}
	if air < 0.5 && strings.Contains(s.Parameter, "strut") {
		return false // in the air a strut is not compressed
	}
	yes, no := c.States[ground].Text, c.States[1-ground].Text
	if onGround < 0 {
		yes, no = no, yes
	}
	s.TrueWhen, s.FalseWhen = []string{yes}, []string{no}
	s.evidence("%s for %.0f %% of the time on the ground and %s for %.0f %% of the time in the air (by %s), so %s means %s",
		c.States[ground].Text, 100*share, c.States[1-ground].Text, 100*air, j.phases.by, yes, meaningOf(s.Parameter))
	return true
}

// byOneValue is byGround for a gear that stays down throughout: its only value is
// that of a gear down and locked.
func (s *Suggestion) byOneValue(j *judge, c *Column, onGround int) bool {
	only := c.States[0].Text
	other, known := map[string]string{"0": "1", "1": "0"}[only]
	if !known || !j.phases.usable() || !strings.HasSuffix(s.Parameter, "_locked") {
		return false
	}
	s.TrueWhen, s.FalseWhen = []string{only}, []string{other}
	if onGround < 0 {
		s.TrueWhen, s.FalseWhen = s.FalseWhen, s.TrueWhen
	}
	s.evidence("%s throughout, on the ground too (by %s), where the gear is down and locked, so %s means %s", only, j.phases.by, s.TrueWhen[0], meaningOf(s.Parameter))
	return true
}

func meaningOf(parameter string) string {
	p, _ := schemas.LookupParameter(parameter)
	return fmt.Sprintf("%q", p.Meaning)
}

// held finds the value of a two-valued column that holds on the ground. It returns
// that value's share of the time there, and the other value's share of the time in
// the air. ground is -1 when no value holds nearly all the time on the ground.
func (j *judge) held(c *Column) (ground int, airShare, groundShare float64) {
	if !j.phases.usable() || c.Distinct != 2 {
		return -1, 0, 0
	}
	on, in := c.shareIn(1, j.phases.ground), c.shareIn(1, j.phases.air)
	switch {
	case on > 0.9:
		return 1, 1 - in, on
	case on < 0.1:
		return 0, in, 1 - on
	}
	return -1, 0, 0
}

// shareIn returns the share of the time in the spans during which a state holds.
func (c *Column) shareIn(state int, spans []span) float64 {
	held, all := 0.0, 0.0
	for i, r := range c.runs {
		end := c.End
		if i+1 < len(c.runs) {
			end = c.runs[i+1].at
		}
		for _, s := range spans {
			if seconds := min(end, s.end) - max(r.at, s.start); seconds > 0 {
				all += seconds
				if r.state == state {
					held += seconds
				}
			}
		}
	}
	if all == 0 {
		return 0
	}
	return held / all
}

// byWords takes the polarity from texts that state it, such as CLOSED.
func (s *Suggestion) byWords(c *Column, parameter string) bool {
	if c.Numeric {
		return false
	}
	for _, text := range stateTexts(c) {
		switch lower := strings.ToLower(text); {
		case strings.HasSuffix(parameter, "_"+lower), slices.Contains(words().MeansTrue, lower):
			s.TrueWhen = append(s.TrueWhen, text)
		case slices.Contains(words().MeansFalse, lower):
			s.FalseWhen = append(s.FalseWhen, text)
		}
	}
	if len(s.TrueWhen) > 1 || len(s.FalseWhen) > 1 || len(s.TrueWhen)+len(s.FalseWhen) < c.Distinct {
		s.TrueWhen, s.FalseWhen = nil, nil
		return false
	}
	if len(s.TrueWhen) == 0 {
		s.TrueWhen = []string{"1"}
		if other, isTrue, known := opposite(s.FalseWhen[0]); known && !isTrue {
			s.TrueWhen = []string{other}
		}
		s.atMostLikely()
		s.decide("this recording has only %s: give the text that means %s", s.FalseWhen[0], meaningOf(parameter))
	}
	if len(s.FalseWhen) == 0 {
		s.FalseWhen = []string{"0"}
		if other, isTrue, known := opposite(s.TrueWhen[0]); known && isTrue {
			s.FalseWhen = []string{other}
		}
		s.atMostLikely()
		s.decide("this recording has only %s: give the text that means the opposite", s.TrueWhen[0])
	}
	return true
}

// opposite returns the text that says the opposite, in the same case, and whether
// the given one means true.
func opposite(text string) (other string, isTrue, known bool) {
	for _, pair := range words().Opposites {
		for i, one := range pair {
			if one != strings.ToLower(text) {
				continue
			}
			switch other = pair[1-i]; text {
			case strings.ToUpper(text):
				other = strings.ToUpper(other)
			case strings.ToUpper(text[:1]) + text[1:]:
				other = strings.ToUpper(other[:1]) + other[1:]
			}
			return other, i == 0, true
		}
	}
	return "", false, false
}

// byRarity takes the rare value for true.
func (s *Suggestion) byRarity(c *Column) {
	before := s.score
	s.assume(c)
	if only := c.States[0].Text; c.Distinct == 1 && only == "0" {
		s.evidence("%s throughout, as for a warning or emergency control that is never on", only)
	}
	if c.Distinct == 2 {
		seldom := 0
		if c.States[1].Samples < c.States[0].Samples {
			seldom = 1
		}
		share := float64(c.States[seldom].Samples) / float64(c.Samples)
		if share < 0.2 && c.States[seldom].Text != "0" { // a rare 0 may equally be one of a few pauses
			s.TrueWhen, s.FalseWhen, s.Decide = []string{c.States[seldom].Text}, []string{c.States[1-seldom].Text}, []string{}
			s.score = before
			s.evidence("%s is in %.1f %% of the samples, as for a warning", c.States[seldom].Text, 100*share)
		}
	}
}

// assume takes 1 for true and leaves the decision to the user.
func (s *Suggestion) assume(c *Column) {
	s.TrueWhen, s.FalseWhen = []string{"1"}, []string{"0"}
	if texts := stateTexts(c); !c.Numeric {
		s.TrueWhen, s.FalseWhen = texts[len(texts)-1:], []string{"0"}
		if len(texts) == 2 {
			s.FalseWhen = texts[:1]
		}
	}
	s.atMostLikely()
	s.decide("which value means %s is assumed: check it", meaningOf(s.Parameter))
}

func plural(n int, noun string) string {
	if n == 1 {
		return noun
	}
	return noun + "s"
}
