package soundness

import (
	"fmt"
	"math"

	"downlock/detect/readings"
	"downlock/detect/samples"
)

const (
	speedWindow  = 10.0 // s
	positionSpan = 60.0 // s; a position is recorded once in four seconds at worst, to some hundred metres
	// leastSpeedWindows is more than three minutes in the air: wind cannot make half
	// or twice the airspeed of all of them.
	leastSpeedWindows = 20
	lowAltitude       = 20000.0 // ft; below it the speeds' relation follows from density alone to some per cent
	knotsPerMetre     = 3600.0 / 1852
)

// speedChecks hold ground speed against airspeed, low and high.
func speedChecks(s *samples.Set, r reference) []Check {
	moves := movements(s) // first, so that positions and speeds are not unpacked together
	air, ground, pressure := s.Line("computed_airspeed"), s.Line("ground_speed"), s.Line("pressure_altitude")
	checks := []Check{
		{ID: "ground-speed", Title: "ground speed against airspeed"},
		{ID: "swapped-speeds", Title: "airspeed and ground speed at altitude"},
	}
	for i := range checks {
		checks[i].Outcome, checks[i].Parameters = NotPossible, []string{"ground_speed", "computed_airspeed"}
		if air == nil || ground == nil || pressure == nil {
			checks[i].Parameters, checks[i].Evidence = []string{}, "airspeed, ground speed and pressure altitude are not all recorded"
		}
	}
	if checks[0].Evidence == "" {
		speedUnits(&checks[0], moves, r, air, ground, pressure)
		swappedSpeeds(&checks[1], r, checks[0].Outcome != Failed, air, ground, pressure)
	}
	if air != nil && ground != nil && checks[1].Outcome != Failed {
		speedsByPosition(&checks[1], moves, air, ground)
	}
	return checks
}

// speedUnits finds one of the speeds in the unit of the other, and by positions
// which of the two is wrong.
func speedUnits(c *Check, moves []movement, r reference, air, ground, pressure *readings.Line) {
	found := speedRatio(r.air, air, ground, pressure)
	if found.windows < leastSpeedWindows {
		c.Evidence = fmt.Sprintf("the recording has %d windows of %.0f s in the air below %.0f ft with all three; at least %d are needed", found.windows, speedWindow, lowAltitude, leastSpeedWindows)
		return
	}
	c.Outcome = Passed
	c.Evidence = fmt.Sprintf("the ground speed is %s times the true airspeed (median of %d windows of %.0f s, half of them %.3g to %.3g)", found, found.windows, speedWindow, found.low, found.high)
	for _, factor := range []float64{1 / knotsPerMetre, knotsPerMetre, 1.852} {
		if !found.near(factor, 0.2) {
			continue
		}
		c.Outcome, c.Hint = Failed, "check the units of ground_speed and computed_airspeed (kt, m/s or km/h)"
		if travelled := positionRatio(moves, ground); travelled.windows >= leastWindows {
			c.Evidence += fmt.Sprintf("; by the positions it is %s times the distance travelled", travelled)
			switch {
			case travelled.near(1, 0.2):
				c.Parameters, c.Hint = []string{"computed_airspeed"}, "check the unit of computed_airspeed (kt, m/s or km/h)"
			case travelled.near(factor, 0.2):
				c.Parameters, c.Hint = []string{"ground_speed"}, "check the unit of ground_speed (kt, m/s or km/h)"
			}
		}
		return
	}
}

// speedRatio is the ground speed over the true airspeed in the air.
func speedRatio(inAir readings.Spans, air, ground, pressure *readings.Line) ratio {
	var values []float64
	low := pressure.Compare(readings.Below, lowAltitude, inAir).True
	for _, w := range windowsOf(low, speedWindow) {
		a, ok1 := air.Mean(w.Start, w.End)
		g, ok2 := ground.Mean(w.Start, w.End)
		h, ok3 := pressure.At(w.Start)
		if ok1 && ok2 && ok3 && h < lowAltitude && a > 0 {
			values = append(values, g/(a/math.Sqrt(densityRatio(h))))
		}
	}
	return newRatio(values)
}

// densityRatio is the density of the standard atmosphere at a pressure altitude
// in ft over that at sea level, in the troposphere (ISO 2533: 288.15 K, lapse
// 6.5 K/km, exponent 4.2559).
func densityRatio(feet float64) float64 {
	return math.Pow(1-0.0065*0.3048*feet/288.15, 4.2559)
}

// movement is a window and the speed in kt at which positions move in it.
type movement struct {
	window readings.Span
	speed  float64
}

// movements lists the windows of the recording in which positions move.
func movements(s *samples.Set) (moves []movement) {
	latitude, longitude := s.Line("latitude"), s.Line("longitude")
	if latitude == nil || longitude == nil {
		return nil
	}
	const leastMiles = 1.0
	for _, w := range windowsOf(s.Window, positionSpan) {
		if miles, known := travelled(latitude, longitude, w); known && miles >= leastMiles {
			moves = append(moves, movement{w, miles / positionSpan * 3600})
		}
	}
	return moves
}

// positionRatio is a speed over the speed at which positions move.
func positionRatio(moves []movement, speed *readings.Line) ratio {
	var values []float64
	for _, m := range moves {
		if v, ok := speed.Mean(m.window.Start, m.window.End); ok {
			values = append(values, v/m.speed)
		}
	}
	return newRatio(values)
}

// travelled is how far positions move in a window, in nautical miles: in pieces, since
// it may hold a turn.
func travelled(latitude, longitude *readings.Line, w readings.Span) (miles float64, ok bool) {
	const pieces, nauticalMilesPerDegree = 4, 60.0
	for i := range pieces {
		from, to := w.Start+w.Seconds()*float64(i)/pieces, w.Start+w.Seconds()*float64(i+1)/pieces
		n, ok1 := latitude.Change(from, to)
		e, ok2 := longitude.Change(from, to)
		where, ok3 := latitude.At(from)
		if !ok1 || !ok2 || !ok3 {
			return 0, false
		}
		miles += nauticalMilesPerDegree * math.Hypot(n, e*math.Cos(where*math.Pi/180))
	}
	return miles, true
}

// The ground speed is always the same multiple of the speed at which positions move:
// once, or a little off where they are rounded. Wind and density make the airspeed
// another at every height.
const (
	leastScatter = 0.02 // of half of the windows; positions alone may make as much
	lessScatter  = 0.5  // so much less is another speed

	leastByPosition = 4 // windows; wind and density change the airspeed by more than leastScatter in as many
)

// speedsByPosition finds airspeed and ground speed in each other's place by the distance
// travelled.
func speedsByPosition(c *Check, moves []movement, air, ground *readings.Line) {
	byAir, byGround := positionRatio(moves, air), positionRatio(moves, ground)
	if byGround.windows < leastByPosition {
		return
	}
	said := fmt.Sprintf("the ground speed scatters by %.1f %% around the distance travelled, the airspeed by %.1f %% (half of %d windows of %.0f s)",
		100*byGround.scatter(), 100*byAir.scatter(), byGround.windows, positionSpan)
	if c.Outcome == NotPossible {
		c.Outcome, c.Parameters, c.Evidence = Passed, []string{"ground_speed", "computed_airspeed"}, said
	} else {
		c.Evidence += "; " + said
	}
	if byGround.scatter() > leastScatter && byAir.scatter() < lessScatter*byGround.scatter() {
		c.Outcome, c.Hint = Failed, "exchange the columns of ground_speed and computed_airspeed"
	}
}

// swappedSpeeds finds airspeed and ground speed in each other's place: high up
// the true airspeed is half as much again as the computed one and more, so a
// ground speed that is far below it all the time has the wrong column.
func swappedSpeeds(c *Check, r reference, inTheirUnits bool, air, ground, pressure *readings.Line) {
	const high = 25000.0 // ft; the true airspeed is 1.5 times the computed one there
	var values []float64
	aloft := pressure.Compare(readings.Above, high, r.air).True
	for _, w := range windowsOf(aloft, speedWindow) {
		a, ok1 := air.Mean(w.Start, w.End)
		g, ok2 := ground.Mean(w.Start, w.End)
		h, ok3 := pressure.At(w.Start)
		if ok1 && ok2 && ok3 && h > high && a > 0 {
			values = append(values, g/a)
		}
	}
	found := newRatio(values)
	if wind := headwind(r, air, ground, pressure, high); wind.windows >= leastWindWindows && wind.low > mostHeadwind && inTheirUnits {
		c.Outcome, c.Hint = Failed, "exchange the columns of ground_speed and computed_airspeed"
		c.Evidence = fmt.Sprintf("below %.0f ft the two give a headwind of %.0f kt (median of %d windows)", high, wind.middle, wind.windows)
		return
	}
	if found.windows < leastSpeedWindows {
		c.Evidence = fmt.Sprintf("the recording has %d windows of %.0f s above %.0f ft; at least %d are needed", found.windows, speedWindow, high, leastSpeedWindows)
		return
	}
	c.Outcome = Passed
	c.Evidence = fmt.Sprintf("above %.0f ft the ground speed is %s times the computed airspeed (median of %d windows)", high, found, found.windows)
	// 0.75 of the computed airspeed is half of the true one: a headwind of 200 kt
	// and more in every window.
	if found.high < 0.75 {
		c.Outcome, c.Hint = Failed, "exchange the columns of ground_speed and computed_airspeed"
	}
}

// A headwind of so many kt below the jet streams, in three quarters of the windows, is
// none: common practice.
const (
	mostHeadwind     = 150.0
	leastWindWindows = 5
)

// headwind is the true airspeed less the ground speed in kt, in windows in the air below
// a pressure altitude in ft.
func headwind(r reference, air, ground, pressure *readings.Line, below float64) ratio {
	var values []float64
	for _, w := range windowsOf(pressure.Compare(readings.Below, below, r.air).True, speedWindow) {
		a, ok1 := air.Mean(w.Start, w.End)
		g, ok2 := ground.Mean(w.Start, w.End)
		h, ok3 := pressure.At(w.Start)
		if ok1 && ok2 && ok3 && h < below {
			values = append(values, a/math.Sqrt(densityRatio(h))-g)
		}
	}
	return newRatio(values)
}
