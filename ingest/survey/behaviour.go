package survey

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"downlock/schemas"
)

// guess makes a suggestion from behaviour alone, which is always doubtful.
func guess(parameter string, c *Column, why string) Suggestion {
	return Suggestion{Parameter: parameter, Column: c.Name, Confidence: Doubtful, Evidence: []string{why}, score: 0.2,
		Decide: []string{"the name says nothing; this is a guess by behaviour alone"}}
}

// byBehaviour guesses the columns whose names say nothing: a height that saturates
// and the columns that move with it, speeds that rise with it, a switch that changes
// with the flight, and a lever that moves after lift-off.
func (j *judge) byBehaviour() (out []Suggestion) {
	columns := j.survey.Columns
	for i := range columns {
		if c := &columns[i]; c.looksLikeRadioAltitude() {
			s := guess("radio_altitude", c, fmt.Sprintf("values %s to %s, at the largest for %.0f %% of the samples", short(c.Smallest), short(c.Largest), 100*c.AtTop))
			p, _ := schemas.LookupParameter("radio_altitude")
			s.guessUnit(c, p)
			out = append(out, s)
		}
	}
	out = append(out, j.movesWithHeight()...)
	out = append(out, j.risesWithFlight()...)
	out = append(out, j.turnsWithFlight()...)
	for i := range columns {
		c := &columns[i]
		lever := guess("gear_lever", c, "")
		lever.Evidence = nil
		if c.namesPositions() && j.state(&lever, c) && len(lever.Evidence) > 1 {
			out = append(out, lever)
		}
	}
	believed := out[:0]
	for _, s := range out {
		if s.believe(j.survey.Column(s.Column)) {
			believed = append(believed, s)
		}
	}
	return believed
}

// namesPositions reports whether a column's texts are all positions of a lever.
func (c *Column) namesPositions() bool {
	if c.Distinct < 2 || c.Distinct > 6 {
		return false
	}
	for _, text := range stateTexts(c) {
		if leverState(text) == "" {
			return false
		}
	}
	return true
}

// movesWithHeight finds the pressure altitude and the vertical speed. The pressure
// altitude changes by as much as the radio altitude near the ground; the vertical
// speed is its change per minute.
func (j *judge) movesWithHeight() (out []Suggestion) {
	if j.height == nil {
		return nil
	}
	var altitude *Column
	for i := range j.survey.Columns {
		c := &j.survey.Columns[i]
		if c == j.height || !c.measured() {
			continue
		}
		if r := heightRatio(&c.sketch, j.height); r.near(1) {
			s := guess("pressure_altitude", c, fmt.Sprintf("it changes by %s times as much as %q, over %d climbs and descents", short2(r.middle), j.height.Name, r.windows))
			s.Unit = "ft"
			s.decide("the unit is taken to be that of %q", j.height.Name)
			out, altitude = append(out, s), c
		}
	}
	if altitude == nil {
		return out
	}
	for i := range j.survey.Columns {
		c := &j.survey.Columns[i]
		if c == altitude || c == j.height || !c.measured() {
			continue
		}
		r := climbRatio(&c.sketch, &altitude.sketch)
		for _, known := range []struct {
			ratio float64
			unit  string
			scale float64
		}{{1, "ft/min", 0}, {60, "ft/min", 1. / 60}, {1. / 60, "ft/min", 60}, {0.3048 / 60, "m/s", 0}} {
			if r.near(known.ratio) {
				s := guess("vertical_speed", c, fmt.Sprintf("it is %s times the change of %q a minute, over %d climbs and descents", short2(r.middle), altitude.Name, r.windows))
				s.Unit, s.Scale = known.unit, known.scale
				out = append(out, s)
			}
		}
	}
	return out
}

// measured reports whether a column holds a number that varies.
func (c *Column) measured() bool { return c.Numeric && c.Distinct > statesKept }

// heightRatio returns the change of a column over that of the radio altitude, where
// the radio altitude reads a height and changes.
func heightRatio(column *sketch, height *Column) ratio {
	const length = 4 // samples of the sketch
	h := &height.sketch
	inside := func(v float64) bool { return 0.01*height.Largest < v && v < 0.95*height.Largest }
	var ratios []float64
	for i := 0; i+length < len(h.times); i += length {
		a, ok1 := column.at(h.times[i])
		b, ok2 := column.at(h.times[i+length])
		change := h.values[i+length] - h.values[i]
		if ok1 && ok2 && inside(h.values[i]) && inside(h.values[i+length]) && math.Abs(change) > 0.01*height.Largest {
			ratios = append(ratios, (b-a)/change)
		}
	}
	return newRatio(ratios)
}

// risesWithFlight finds airspeed and ground speed. Both are low in a taxi and never
// fall below a good part of their largest value in the air. The ground speed is the
// one that comes nearer to zero, or else the faster one.
func (j *judge) risesWithFlight() (out []Suggestion) {
	if j.speed != nil || !j.phases.usable() {
		return nil
	}
	const leastTop, mostTop = 120, 700 // kt
	const slow, fast = 0.3, 0.35       // of the largest value
	var found []*Column
	for i := range j.survey.Columns {
		c := &j.survey.Columns[i]
		if !c.measured() || c.Smallest < -5 || c.Largest < leastTop || c.Largest > mostTop || c.AtTop > 0.05 {
			continue
		}
		below := func(share float64, spans []span) float64 {
			return c.sketch.shareWithin(spans, func(v float64) bool { return v < share*c.Largest })
		}
		if below(slow, j.phases.ground) > 0.5 && below(fast, j.phases.air) < 0.02 && below(slow/10, j.phases.air) == 0 {
			found = append(found, c)
		}
	}
	// If both come as near to zero, the faster one is the ground speed: the true
	// speed is above the computed one.
	slices.SortStableFunc(found, func(a, b *Column) int {
		if math.Abs(a.Smallest-b.Smallest) > 5 {
			return cmp.Compare(a.Smallest, b.Smallest)
		}
		return cmp.Compare(b.sketch.high(), a.sketch.high())
	})
	for i, c := range found {
		parameter := "computed_airspeed"
		if i == 0 && len(found) > 1 {
			parameter = "ground_speed"
		}
		s := guess(parameter, c, fmt.Sprintf("values %s to %s, below %s for most of the time on the ground and above %s in the air (by %s)",
			short(c.Smallest), short(c.Largest), short2(slow*c.Largest), short2(fast*c.Largest), j.phases.by))
		s.Unit = "kt"
		if len(found) > 1 {
			s.decide("%s behave alike: the one that comes nearer to zero, or otherwise the faster one, is taken as the ground speed", quotedNames(found))
		}
		out = append(out, s)
	}
	return out
}

// turnsWithFlight finds switches with one value on the ground and the other in the
// air: those of struts or of the air/ground system.
func (j *judge) turnsWithFlight() (out []Suggestion) {
	var found []*Column
	for i := range j.survey.Columns {
		if c := &j.survey.Columns[i]; j.turns(c) {
			found = append(found, c)
		}
	}
	// Struts leave the ground first and come to it last. Where the gear is used late,
	// locks keep the value they have on the ground for longer.
	asOnGround := func(c *Column) float64 {
		ground, _, _ := j.held(c)
		return c.shareIn(ground, []span{{c.Start, c.End}})
	}
	slices.SortStableFunc(found, func(a, b *Column) int { return cmp.Compare(asOnGround(a), asOnGround(b)) })
	for i, c := range found {
		ground, air, share := j.held(c)
		yes, no := c.States[ground].Text, c.States[1-ground].Text
		s := guess("weight_on_wheels", c, fmt.Sprintf("%s for %.0f %% of the time on the ground, %s for %.0f %% of the time in the air (by %s)", yes, 100*share, no, 100*air, j.phases.by))
		s.TrueWhen, s.FalseWhen = []string{yes}, []string{no}
		s.score -= float64(i) * 1e-3 // the best match comes first
		if len(found) > 1 {
			s.decide("%s behave alike: they may be the struts, one by one", quotedNames(found))
		}
		out = append(out, s)
	}
	return out
}

// turns reports whether a switch nearly always has one value on the ground and the
// other in the air.
func (j *judge) turns(c *Column) bool {
	ground, air, share := j.held(c)
	return ground >= 0 && air >= 0.95 && share >= 0.95
}

func quotedNames(columns []*Column) string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = fmt.Sprintf("%q", c.Name)
	}
	return strings.Join(names, ", ")
}

// shownChanges is the number of changes of a column in its description.
const shownChanges = 4

// described returns a line about the behaviour of an unmapped column.
func (c *Column) described() string {
	switch {
	case c.Samples == 0:
		return "no value"
	case c.measured():
		return fmt.Sprintf("values %s to %s", short(c.Smallest), short(c.Largest))
	case c.Distinct > statesKept:
		return "many texts"
	case c.Numeric && c.Distinct > 6:
		return fmt.Sprintf("%d values: %s", c.Distinct, strings.Join(stateTexts(c), " "))
	}
	var told []string
	for i, r := range c.runs[:min(len(c.runs), shownChanges+1)] {
		text := c.States[r.state].Text
		if i > 0 {
			text += " from " + short(r.at) + " s"
		}
		told = append(told, text)
	}
	if c.Distinct == 1 {
		told = append(told, "throughout")
		return strings.Join(told, " ")
	}
	if more := c.Changes - shownChanges; more > 0 {
		told = append(told, fmt.Sprintf("%d more changes", more))
	}
	return strings.Join(told, ", ")
}
