package survey

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"downlock/schemas"
)

// number judges a column of numbers: its unit and its range.
func (j *judge) number(out *Suggestion, c *Column, p schemas.Parameter) bool {
	if !c.Numeric {
		return out.detents(c)
	}
	if p.Name == "flap_handle" && c.Unit == "" && mayCountDetents(c) {
		out.atMostLikely()
		out.decide("0 to %s may be numbers of detents, not degrees: if so, write unit: detent, and the angles under flaps", short(c.Largest))
	}
	if p.Kind == schemas.Continuous && c.Distinct <= 2 && c.Changes > 0 && isBinary(c) {
		return false // a switch whose name is like that of a measured value
	}
	if j.ofTravel(out, c, p) {
		return true
	}
	unit, stated := statedUnit(c)
	switch {
	case unit != "":
		if _, err := schemas.UnitFactor(unit, p.Unit); err != nil {
			return false
		}
		out.Unit = unit
		out.evidence("the export states the unit %s", unit)
	case stated == "":
		out.guessUnit(c, p)
	default:
		out.Unit = p.Unit
		out.score = min(out.score, leastScore)
		out.decide("the export states the unit %q, which is not known: give the scale and offset that convert its numbers to %s", stated, out.Unit)
	}
	factor, err := schemas.UnitFactor(out.Unit, p.Unit)
	if err != nil {
		return false
	}
	low, high := c.Smallest*factor, c.Largest*factor
	out.evidence("values %s to %s %s", short(c.Smallest), short(c.Largest), out.Unit)
	inside := c.sketch.share(func(v float64) bool { return p.Range[0] <= v*factor && v*factor <= p.Range[1] })
	switch {
	case inside < 0.5:
		out.decide("%.0f %% of the values are outside the plausible %s to %s %s: check unit and scale", 100*(1-inside), short(p.Range[0]), short(p.Range[1]), p.Unit)
		out.score = min(out.score, leastScore)
	case low < p.Range[0] || high > p.Range[1]:
		out.decide("some values are outside the plausible %s to %s %s: check unit and scale", short(p.Range[0]), short(p.Range[1]), p.Unit)
		if inside < 0.99 {
			out.atMostLikely()
		}
	}
	if p.Name == "radio_altitude" && c.AtTop > 0.05 {
		out.evidence("stays at its largest value for %.0f %% of the samples, like a radio altimeter at the end of its range", 100*c.AtTop)
	}
	if c.Distinct <= statesKept && p.Kind == schemas.Step {
		out.evidence("%d different values: %s", c.Distinct, strings.Join(stateTexts(c), " "))
	}
	return true
}

func isBinary(c *Column) bool {
	texts := stateTexts(c)
	return slices.Contains(texts, "0") && slices.Contains(texts, "1")
}

// stateTexts returns the values of a column with few, numbers in order.
func stateTexts(c *Column) []string {
	texts := make([]string, len(c.States))
	for i, s := range c.States {
		texts[i] = s.Text
	}
	slices.SortFunc(texts, func(a, b string) int {
		x, errX := parseNumber(a)
		y, errY := parseNumber(b)
		if errX == nil && errY == nil && x != y {
			if x < y {
				return -1
			}
			return 1
		}
		return strings.Compare(a, b)
	})
	return texts
}

// guessUnit takes the first usual unit whose values fit, or else the canonical
// one.
func (s *Suggestion) guessUnit(c *Column, p schemas.Parameter) {
	s.Unit = p.Unit
	var fit []string
	for _, u := range words().units[p.Name] {
		if extent := math.Max(math.Abs(c.Largest), -c.Smallest); u.low <= extent && extent <= u.high {
			fit = append(fit, u.unit)
		}
	}
	switch {
	case p.Name == "radio_altitude" && c.AtTop > 0.05 && len(fit) > 1:
		// A range that ends at 762 m ends at 2500 ft.
		if s.Unit = "ft"; c.Largest > 750 && c.Largest < 775 {
			s.Unit = "m"
		}
		s.evidence("the unit is not stated; a range that ends at %s suggests %s", short(c.Largest), s.Unit)
	case len(fit) == 0:
		s.decide("the unit is not stated and the values fit none of the usual ones: check it")
		s.atMostLikely()
	case len(fit) == 1:
		s.Unit = fit[0]
		s.evidence("the unit is not stated; the values fit %s", s.Unit)
	default:
		s.Unit = fit[0]
		s.decide("the unit is not stated and the values fit %s: choose", strings.Join(fit, " or "))
	}
}

// relate compares vertical speed with the change of pressure altitude and sets the
// scale that makes them agree.
func (j *judge) relate(suggestions []Suggestion) {
	find := func(name string) *Suggestion {
		for i := range suggestions {
			if suggestions[i].Parameter == name && (suggestions[i].Confidence != Doubtful || suggestions[i].named >= likelyScore) {
				return &suggestions[i]
			}
		}
		return nil
	}
	vertical, altitude := find("vertical_speed"), find("pressure_altitude")
	if vertical == nil || altitude == nil {
		return
	}
	toRate, err1 := schemas.UnitFactor(vertical.Unit, "ft/min")
	toFeet, err2 := schemas.UnitFactor(altitude.Unit, "ft")
	if err1 != nil || err2 != nil {
		return
	}
	found := climbRatio(&j.survey.Column(vertical.Column).sketch, &j.survey.Column(altitude.Column).sketch)
	ratio, windows := found.middle*toRate/toFeet, found.windows
	if windows < leastWindows {
		return
	}
	vertical.evidence("it is %s times the change of %q, over %d climbs and descents", short2(ratio), altitude.Column, windows)
	for _, known := range []struct {
		ratio   float64
		unit    string
		scale   float64
		meaning string
	}{
		{60, vertical.Unit, 1. / 60, "60 times too large"},
		{1. / 60, vertical.Unit, 60, "60 times too small"},
		{0.3048 / 60, "m/s", 0, "in metres per second"},
		{0.3048, vertical.Unit, 1 / 0.3048, "in metres per minute"},
		{-1, vertical.Unit, -1, "positive in a descent"},
	} {
		if math.Abs(ratio/known.ratio-1) < 0.15 && vertical.Scale == 0 {
			if unit, _ := statedUnit(j.survey.Column(vertical.Column)); unit != "" {
				vertical.atMostLikely()
				vertical.settle()
				vertical.decide("the export states %s; against the pressure altitude it is recorded %s: check which is right", unit, known.meaning)
				return
			}
			vertical.Unit, vertical.Scale = known.unit, known.scale
			vertical.score = vertical.named // its values fit after all
			vertical.settle()
			vertical.Decide = []string{fmt.Sprintf("against the pressure altitude it is recorded %s: check the unit and scale given here", known.meaning)}
		}
	}
}

// leastWindows is the least number of climbs and descents that tells a ratio.
const leastWindows = 6

// ratio is the factor between two columns: the median of several windows, and the
// scatter of half of them around it, as a share of it.
type ratio struct {
	middle, scatter float64
	windows         int
}

func newRatio(values []float64) ratio {
	n := len(values)
	if n == 0 {
		return ratio{}
	}
	slices.Sort(values)
	middle := values[n/2]
	return ratio{middle, (values[n*3/4] - values[n/4]) / math.Abs(middle), n}
}

// near reports whether enough windows agree on a factor.
func (r ratio) near(factor float64) bool {
	return r.windows >= leastWindows && math.Abs(r.middle/factor-1) < 0.15 && r.scatter < 0.4
}

// climbRatio returns the mean vertical speed over the change of altitude per minute,
// over groups of samples in which the altitude changes.
func climbRatio(vertical, altitude *sketch) ratio {
	const length = 8 // samples of the sketch
	var ratios []float64
	for i := 0; i+length < len(vertical.times); i += length {
		from, to := vertical.times[i], vertical.times[i+length]
		a, ok1 := altitude.at(from)
		b, ok2 := altitude.at(to)
		if change := b - a; ok1 && ok2 && to > from && to-from < 120 && math.Abs(change) > 60 {
			mean := 0.0
			for _, v := range vertical.values[i : i+length] {
				mean += v / length
			}
			ratios = append(ratios, mean/(change/(to-from)*60))
		}
	}
	return newRatio(ratios)
}
