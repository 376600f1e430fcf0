package survey

import (
	"fmt"
	"slices"
)

// Shares of the largest usual airspeed that tell flight from ground in any unit. An
// airliner lifts off at no less than half its usual top speed and taxies below a
// tenth. Common practice.
const (
	airShare    = 0.45
	groundShare = 0.15
	// Above topShare of the largest radio altitude an aircraft is well in the air.
	topShare = 0.1
)

// span is a stretch of time in s.
type span struct{ start, end float64 }

func (s span) seconds() float64 { return s.end - s.start }

// phases are the stretches surely in the air and surely on the ground, from the
// likely airspeed and radio altitude. The time between is left open.
type phases struct {
	air, ground []span
	by          string // the columns used, "" for none
}

// phases tells air from ground by the airspeed and checks it against a radio altitude
// if there is one. Without an airspeed it uses the radio altitude alone.
func (s *Survey) phases(speed, height *Column) phases {
	lead, by := speed, ""
	if lead == nil {
		lead = height
	}
	if lead == nil {
		return phases{}
	}
	by = lead.Name
	if speed != nil && height != nil {
		by += " and " + height.Name
	}
	top := lead.sketch.high()
	var p phases
	p.by = by
	for i, t := range lead.sketch.times {
		v := lead.sketch.values[i]
		air, ground := v > airShare*top, v < groundShare*top
		if lead == height {
			air, ground = v > topShare*top, v < topShare*top/10
		} else if height != nil {
			h, ok := height.sketch.at(t)
			air = air && (!ok || h > topShare*height.sketch.high())
			ground = ground && (!ok || h < topShare*height.sketch.high())
		}
		end := t
		if i+1 < len(lead.sketch.times) {
			end = lead.sketch.times[i+1]
		}
		if air {
			p.air = extend(p.air, span{t, end})
		} else if ground {
			p.ground = extend(p.ground, span{t, end})
		}
	}
	if lead == height {
		p.ground = within(p.ground, lowFlight)
	}
	return p
}

// lowFlight (s) is the time an aircraft is low in the air after lift-off and before
// landing. During it the height alone does not tell it from one on the ground.
const lowFlight = 10

// within shortens every span by so many seconds at both ends.
func within(spans []span, seconds float64) (out []span) {
	for _, s := range spans {
		if s.seconds() > 2*seconds {
			out = append(out, span{s.start + seconds, s.end - seconds})
		}
	}
	return out
}

func extend(spans []span, s span) []span {
	if n := len(spans); n > 0 && spans[n-1].end >= s.start {
		spans[n-1].end = s.end
		return spans
	}
	return append(spans, s)
}

// usable reports whether there is enough of both air and ground to tell them apart.
func (p phases) usable() bool { return total(p.air) > 60 && total(p.ground) > 20 }

func total(spans []span) (seconds float64) {
	for _, s := range spans {
		seconds += s.seconds()
	}
	return seconds
}

// leastFlight (s) is the shortest time in the air that makes a flight.
const leastFlight = 60

// countFlights counts the rises of the airspeed from taxi speed, and a fast beginning
// of the recording.
func (s *Survey) countFlights() Flights {
	speed, height := s.reference()
	p := s.phases(speed, height)
	if p.by == "" {
		return Flights{Why: "no column looks like an airspeed or a radio altitude"}
	}
	n, landed, air := 0, true, 0.0
	all := append(slices.Clone(p.air), p.ground...)
	slices.SortFunc(all, func(a, b span) int {
		if a.start < b.start {
			return -1
		}
		return 1
	})
	for _, x := range all {
		if slices.Contains(p.ground, x) {
			landed, air = true, 0
			continue
		}
		if air += x.seconds(); landed && air > leastFlight {
			n++
			landed = false
		}
	}
	why := fmt.Sprintf("%d %s by %s", n, plural(n, "take-off"), p.by)
	if apart := s.Time.Seconds() / sketchRoom * 2; apart > leastFlight {
		why += fmt.Sprintf("; checked every %.0f s, so short flights and turnarounds may be missed", apart)
	}
	return Flights{Likely: n, Column: p.by, Why: why}
}

// reference finds the columns most like airspeed and radio altitude, by name and
// behaviour; nil for none.
func (s *Survey) reference() (speed, height *Column) {
	return s.best("computed_airspeed", "ground_speed"), s.best("radio_altitude")
}

// best returns the best column for the first of the parameters that any column fits.
func (s *Survey) best(parameters ...string) *Column {
	for _, parameter := range parameters {
		var found *Column
		score := 0.5
		for i := range s.Columns {
			c := &s.Columns[i]
			if n := nameScore(wordsOf(bareName(c.Name)), parameter); n > score && c.Numeric && c.Distinct > 10 {
				found, score = c, n
			}
		}
		if found == nil && parameter == "radio_altitude" {
			found = s.saturating()
		}
		if found != nil {
			return found
		}
	}
	return nil
}

// saturating finds a column that behaves like a radio altitude: near zero for a
// while, never far below, and at its upper end for a while.
func (s *Survey) saturating() *Column {
	for i := range s.Columns {
		if c := &s.Columns[i]; c.looksLikeRadioAltitude() {
			return c
		}
	}
	return nil
}

func (c *Column) looksLikeRadioAltitude() bool {
	return c.Numeric && c.Distinct > 20 && c.Smallest >= -20 && c.Smallest <= 20 && c.Largest >= 300 && c.Largest <= 8200 &&
		c.AtTop > 0.05 && c.sketch.share(func(v float64) bool { return v < 0.01*c.Largest }) > 0.02
}
