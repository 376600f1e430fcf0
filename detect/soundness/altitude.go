package soundness

import (
	"fmt"
	"math"

	"downlock/detect/readings"
	"downlock/detect/samples"
	"downlock/schemas"
)

// Windows of this length (s) are long enough that a resolution of some feet does
// not matter, and short enough that a climb is one.
const climbWindow = 10.0

// leastWindows is how many windows tell a ratio.
const leastWindows = 8

// feetPerMetre is 1/0.3048, the definition of the international foot.
const feetPerMetre = 1 / 0.3048

// altitudeChecks hold vertical speed, pressure altitude and radio altitude
// against each other: of three, the one that disagrees with both is wrong.
func altitudeChecks(s *samples.Set) []Check {
	vertical, radio := verticalRatio(s), radioRatio(s)
	v := Check{ID: "vertical-speed", Title: "vertical speed against the change of pressure altitude", Outcome: NotPossible,
		Parameters: []string{"vertical_speed", "pressure_altitude"}}
	r := Check{ID: "radio-altitude", Title: "radio altitude against the change of pressure altitude", Outcome: NotPossible,
		Parameters: []string{"radio_altitude", "pressure_altitude"}}
	verticalFactor, verticalMeaning := verticalMixUp(vertical)
	if verticalFactor == 0 && vertical.windows >= leastWindows && vertical.middle > 5 && implausible(s) {
		verticalFactor, verticalMeaning = vertical.middle, "far too large; 60 and 196.85 times are the usual mix-ups"
	}
	radioFactor := lengthMixUp(radio, 0.25)
	describe(&v, vertical, "vertical speed")
	describe(&r, radio, "change of radio altitude")
	sameFactor := radioFactor != 0 && math.Abs(verticalFactor/radioFactor-1) < 0.1
	if verticalFactor != 0 {
		v.Outcome, v.Parameters, v.Hint = Failed, []string{"vertical_speed"}, "check unit and scale of vertical_speed: it is "+verticalMeaning
		switch length := lengthMixUp(vertical, 0.5) != 0; {
		case sameFactor:
			v.Parameters, v.Hint = []string{"pressure_altitude"}, "check the unit of pressure_altitude (ft or m): vertical speed and radio altitude agree with each other"
		case length && radio.windows < leastWindows:
			v.Parameters, v.Hint = []string{"vertical_speed", "pressure_altitude"}, "check the units of vertical_speed and of pressure_altitude (ft or m)"
		}
		if d := s.Series("vertical_speed").Dropped.Range; d > 0 {
			v.Evidence += fmt.Sprintf("; %d samples were out of the plausible range", d)
		}
	}
	if radioFactor != 0 {
		r.Outcome, r.Parameters, r.Hint = Failed, []string{"radio_altitude"}, "check the unit of radio_altitude (ft or m)"
		switch {
		case sameFactor:
			r.Parameters, r.Hint = []string{"pressure_altitude"}, v.Hint
		case vertical.windows < leastWindows || verticalFactor != 0:
			r.Parameters, r.Hint = []string{"radio_altitude", "pressure_altitude"}, "check the units of radio_altitude and of pressure_altitude (ft or m)"
		}
	}
	return []Check{v, r}
}

// describe words a ratio; with enough windows the check has passed until more is
// known.
func describe(c *Check, r ratio, what string) {
	if r.windows < leastWindows {
		c.Evidence = fmt.Sprintf("the recording has %d climbs or descents of %.0f s with both; at least %d are needed", r.windows, climbWindow, leastWindows)
		return
	}
	c.Outcome = Passed
	c.Evidence = fmt.Sprintf("the %s is %s times the change of pressure altitude (median of %d windows of %.0f s, half of them %.3g to %.3g)", what, r, r.windows, climbWindow, r.low, r.high)
}

// verticalRatio is the mean vertical speed over the change of pressure altitude
// per minute, where that changes by more than a level flight's waver.
func verticalRatio(s *samples.Set) ratio {
	vertical, pressure := s.Line("vertical_speed"), s.Line("pressure_altitude")
	if vertical == nil || pressure == nil {
		return ratio{}
	}
	if implausible(s) {
		return sparseRatio(vertical, pressure)
	}
	const leastChange = 15 // ft in a window: 90 ft/min
	var values []float64
	for _, w := range windowsOf(s.Window, climbWindow) {
		d, ok1 := pressure.Change(w.Start, w.End)
		m, ok2 := vertical.Mean(w.Start, w.End)
		if ok1 && ok2 && math.Abs(d) >= leastChange {
			values = append(values, m/(d/climbWindow*60))
		}
	}
	return newRatio(values)
}

// implausible says that a quarter and more of the vertical speeds were dropped as
// faster than any aircraft climbs.
func implausible(s *samples.Set) bool {
	series := s.Series("vertical_speed")
	return 4*series.Dropped.Range > series.Len()+series.Dropped.Total()
}

// sparseRatio is verticalRatio sample by sample, for a vertical speed of which
// only the small values were plausible, so that no climb has all its samples.
func sparseRatio(vertical, pressure *readings.Line) ratio {
	const leastRate = 60 // ft/min
	var values []float64
	for i, t := range vertical.Times {
		d, ok := pressure.Change(t-climbWindow/2, t+climbWindow/2)
		if rate := d / climbWindow * 60; ok && math.Abs(rate) >= leastRate {
			values = append(values, vertical.Values[i]/rate)
		}
	}
	return newRatio(values)
}

// radioRatio is the change of radio altitude over that of pressure altitude on
// take-off and final approach, where terrain is flat more often than not.
func radioRatio(s *samples.Set) ratio {
	radio, pressure := s.Line("radio_altitude"), s.Line("pressure_altitude")
	if radio == nil || pressure == nil {
		return ratio{}
	}
	// 6000 ft is a little below 2000 m taken for feet; the end of the range is no
	// height.
	const lowest, highest, leastChange = 30, 6000, 60 // ft
	top := readings.Largest(radio.Values)
	inside := func(t float64) bool {
		v, ok := radio.At(t)
		return ok && lowest < v && v < min(highest, top)
	}
	low := readings.And(radio.Compare(readings.Above, lowest, s.Window), radio.Compare(readings.Below, min(highest, top), s.Window))
	var values []float64
	for _, w := range windowsOf(low.True, climbWindow) {
		d, ok1 := pressure.Change(w.Start, w.End)
		h, ok2 := radio.Change(w.Start, w.End)
		if ok1 && ok2 && inside(w.Start) && inside(w.End) && math.Abs(d) >= leastChange {
			values = append(values, h/d)
		}
	}
	return newRatio(values)
}

// lengthMixUp is the factor of feet taken for metres or the reverse, 0 for
// neither.
func lengthMixUp(r ratio, spread float64) float64 {
	for _, factor := range []float64{feetPerMetre, 1 / feetPerMetre} {
		if r.windows >= leastWindows && r.near(factor, spread) {
			return factor
		}
	}
	return 0
}

// verticalMixUp is the factor of a known mix-up of vertical speeds and its meaning, 0
// for none.
func verticalMixUp(r ratio) (factor float64, meaning string) {
	if r.windows < leastWindows {
		return 0, ""
	}
	for _, known := range []struct {
		factor  float64
		meaning string
	}{
		{60, "60 times too large (converted from feet per second, but already in feet per minute)"},
		{1. / 60, "60 times too small (feet per second taken for feet per minute)"},
		{60 * feetPerMetre, "196.85 times too large (feet per minute taken for metres per second)"},
		{1 / (60 * feetPerMetre), "196.85 times too small (metres per second taken for feet per minute)"},
		{feetPerMetre, "3.28 times too large (feet taken for metres)"},
		{1 / feetPerMetre, "0.3048 times what it must be (metres taken for feet)"},
		{-1, "the wrong way round (positive in a descent)"},
	} {
		if r.near(known.factor, 0.5) {
			return known.factor, known.meaning
		}
	}
	return 0, ""
}

// radioCeiling finds a radio altitude that stops at a value the profile still
// takes for a height.
func radioCeiling(s *samples.Set, profile *schemas.Profile) Check {
	c := Check{ID: "radio-altitude-ceiling", Title: "end of the radio altitude's range against the profile's ceiling", Outcome: NotPossible,
		Parameters: []string{"radio_altitude"}}
	radio, pressure := s.Line("radio_altitude"), s.Line("pressure_altitude")
	if radio == nil || pressure == nil {
		c.Parameters, c.Evidence = []string{}, "radio and pressure altitude are not both recorded"
		return c
	}
	ceiling := samples.RadioCeiling(profile)
	top := readings.Largest(radio.Values)
	atTop := radio.Compare(readings.AtLeast, top, s.Window).True
	seconds := atTop.Seconds()
	low, high := pressure.Extremes(atTop)
	// A height is not the same to the foot while the altitude changes by thousands.
	const leastClimb, leastSeconds = 2000.0, 60.0
	c.Evidence = fmt.Sprintf("the largest radio altitude is %.0f ft, for %.0f s; the ceiling is %.0f ft", top, seconds, ceiling)
	if seconds < leastSeconds || high-low < leastClimb {
		return c
	}
	c.Outcome = Passed
	if top < ceiling {
		c.Outcome = Failed
		c.Evidence += fmt.Sprintf("; meanwhile the pressure altitude goes from %.0f to %.0f ft", low, high)
		c.Hint = fmt.Sprintf("set radio_altitude_ceiling to %.0f or a little less under values, or check the unit of radio_altitude", top)
	}
	return c
}
