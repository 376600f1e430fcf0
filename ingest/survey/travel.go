package survey

import (
	"slices"
	"strings"

	"downlock/schemas"
)

// travels are the parameters that exports also write as counts of a transmitter or as a
// share of the travel: angles of surfaces and levers.
var travels = []string{"flap_", "left_flap_", "right_flap_", "slat_", "left_slat_", "right_slat_", "speedbrake_", "throttle_angle"}

// mostDegrees is more than any angle of a surface or lever.
const mostDegrees = 180

// ofTravel offers points for an angle in counts, in per cent, or from 0 to 1. The user has
// to say the angles: nothing in the export does.
func (j *judge) ofTravel(out *Suggestion, c *Column, p schemas.Parameter) bool {
	if p.Unit != "deg" || c.Distinct < 3 || !slices.ContainsFunc(travels, func(name string) bool { return strings.HasPrefix(p.Name, name) }) {
		return false
	}
	unit, stated := statedUnit(c)
	rests := j.rests(c)
	// A flap of one degree goes from 0 to 1, too, and rests nowhere between.
	upToOne := c.Smallest > -0.05 && c.Largest <= 1.05 && len(rests) > 2 && p.Name != "speedbrake_handle" // which may stay in
	switch {
	case unit == "%" || unit == "1" || unit == "" && stated == "" && upToOne:
		out.decide("%s to %s is a share of the travel: give the angles that belong to the points", short(c.Smallest), short(c.Largest))
	case unit == "" && stated != "":
		out.decide("the export states the unit %q, which is not known: give the angles that belong to the points, or scale and offset in their place", stated)
	case unit == "" && c.Smallest > mostDegrees:
		out.decide("%s to %s are not degrees: if they count the travel, give the angles that belong to the points", short(c.Smallest), short(c.Largest))
	default:
		return false
	}
	out.Unit = p.Unit
	out.score = min(out.score, leastScore)
	out.evidence("values %s to %s", short(c.Smallest), short(c.Largest))
	out.rests = rests
	return true
}

// mostRests bounds the settings offered as points.
const mostRests = 10

// rests finds the values at which a column stays, in rising order, the ends of its travel
// among them.
func (j *judge) rests(c *Column) []float64 {
	const stay = 8 // samples of the sketch
	near := (c.Largest - c.Smallest) / 50
	found := []float64{c.Smallest}
	values := c.sketch.values
	for i := 0; i+stay <= len(values) && len(found) < mostRests; i++ {
		low, high := slices.Min(values[i:i+stay]), slices.Max(values[i:i+stay])
		if high-low > near/4 || slices.ContainsFunc(append(found, c.Largest), func(v float64) bool { return v-near < low && low < v+near }) {
			continue
		}
		found = append(found, low)
	}
	found = append(found, c.Largest)
	slices.Sort(found)
	return found
}
